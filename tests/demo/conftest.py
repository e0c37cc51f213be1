"""A short day with every kind of card, built once for the tests beside this file; and they may import from here."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from rollsound.demo import Block, Card, Damage, Day, Site, Take, Truth, build_day

sys.path.insert(0, str(Path(__file__).parent))

SHORT_DAY = Day(
    project="Northbound Ferry",
    sound_roll="NF-T",
    date="2031-02-17",
    starts_at="09:10:00:00",
    blocks=(
        Block(Site.DECK, 0.0, 20.0, ("Bram", "Runa", "Tomasz", "Okello"), ("Boom 1",)),
        Block(Site.CHAPEL, 20.0, 38.0, ("Runa", "Haru", "Tomasz"), ("Boom 1", "Boom 2")),
    ),
    takes=(
        Take("T1", Site.DECK, "31", "214", "1", 3.007, 13.0, circled=True, note="First"),
        Take("T2", Site.CHAPEL, "36", "215", "1", 23.4, 10.0, lost_power=True, note="Second"),
    ),
    cards=(
        Card("C1", "Bram", ((1.1, 9.5), (9.5, 18.3)), 3.7, jam_error_s=0.004, sheet_track="Bram"),
        Card("C2", "Runa", ((0.6, 37.4),), -7.5, warm_up_ppm=200.0, warm_up_tau_s=20.0, sheet_track="Runa"),
        Card("C3", "Tomasz", ((0.9, 37.1),), 39.6, floating=True, has_timecode=False, sheet_track="Tomasz"),
        Card("C4", "Haru", ((0.7, 37.6),), 17.3, rejam_s=20.5, rejam_lost=11_760, sheet_track="Haru"),
        Card("C5", "Okello", ((0.8, 19.1),), -33.1, finalised=False, sheet_track=""),
        Card("C6", "Bram", ((0.0, 8.0),), 0.0, other_day=True),
    ),
    damages=(
        Damage("T1", "Bram", "mute", 5.5, 0.2),
        Damage("T1", "Runa", "polarity"),
        Damage("T1", "Tomasz", "dropout", 8.0, 0.3, -30.0),
        Damage("T1", "Tomasz", "radio-hit", 10.2, 0.05, -12.0),
        Damage("T1", "Tomasz", "click", 11.5, 0.0, -10.0),
        Damage("T1", "Boom 1", "clip", 6.5, 1.2),
        Damage("T2", "Boom 2", "hum", 0.0, 0.0, -45.0),
        Damage("T2", "Tomasz", "dead"),
    ),
    delays_ms=(("Bram", 2.93), ("Runa", 3.11), ("Tomasz", 2.975), ("Okello", 3.0), ("Haru", 3.27)),
)


@dataclass(frozen=True)
class Built:
    """A built day and where it lies."""

    out: Path
    truth: Truth


@pytest.fixture(scope="session")
def short_day(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The short day, built once."""
    out = tmp_path_factory.mktemp("short") / "day"
    return Built(out, build_day(out, seed=4, day=SHORT_DAY))

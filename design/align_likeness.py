"""Where the bounds of `conform.coherence` come from: the same mic through bad radios, other mics, and booms.

Prints coherence explained, likeness of single windows, scatter and trend of the level difference. The bound on likeness
lies between the worst same mic and the best boom; where two people hardly ever talk at once, the levels decide.
Run: ``python design/align_likeness.py``
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from rollsound.conform.align import align

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "conform"))
import signals as s
from test_align import boom, two_mics


def show(name: str, card: s.Audio, radio: s.Audio) -> None:
    """One line of the table."""
    mic = align(card, radio, s.RATE).mic
    print(
        f"{name:34s} {mic.verdict:22s} explained {mic.explained:5.2f}  likeness {mic.likeness:6.3f}  "
        f"scatter {mic.gain_scatter_db:5.2f} dB  trend {mic.gain_trend_db:+5.2f} dB"
    )


def main() -> None:
    """Print the table."""
    radios = {
        "20 dB": s.RadioPath(),
        "0 dB": s.RadioPath(snr_db=0.0),
        "bursts 5 %": s.RadioPath(muted=0.0, bursts=0.05),
        "mutes 20 %": s.RadioPath(muted=0.2),
        "steep filter, late": s.RadioPath(minimum_phase=True, low_hz=150.0),
    }
    for name, path in radios.items():
        for seed in (21, 22, 23):
            pair = s.make_pair(60.0, seed, path=path)
            show(f"same mic, {name}, {seed}", pair.card, pair.radio)
    truth = s.clock_line(1234.37, 7.4, 55 * s.RATE)
    for room in (False, True):
        for talk in (1.0, 0.4):
            first, second = two_mics(60.0, room, talk)
            for snr in (20.0, 0.0):
                radio = s.through_radio(s.sample_at(second, truth), s.RadioPath(snr_db=snr), 9)
                show(f"other mic, room {room}, talk {talk}, {snr:.0f} dB", first, radio)
    voice = s.speech(60.0, 30)
    share = np.linspace(0.0, 1.0, voice.size)
    for name, distance in (
        ("1 m", 1 + 0 * share),
        ("2 m", 2 + 0 * share),
        ("2-3 m", 2 + share),
        ("1-4 m", 1 + 3 * share),
    ):
        heard = s.sample_at(boom(voice, distance), truth)
        show(f"boom {name}", voice, s.through_radio(heard, s.RadioPath(snr_db=30.0, muted=0.0), 7))


if __name__ == "__main__":
    main()

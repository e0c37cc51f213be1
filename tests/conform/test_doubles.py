"""A card's folder with a copy beside the original: one is used, always the same one, and it is said which."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import signals as s
import soxr

from rollsound.conform.doubles import findings_of_doubles
from rollsound.conform.match import align_day
from rollsound.conform.model import Outcome
from rollsound.conform.readers import ArrayReader
from rollsound.conform.sources import CardFile, CardSource, TakeSource
from rollsound.finding import Weight

SECONDS, FIRST, LENGTH = 40.0, 10.0, 20.0
NOON = 12 * 3600
DATE = "2031-02-18"


@lru_cache(maxsize=4)
def sound(seed: int = 0) -> s.Audio:
    return s.speech(SECONDS, 300 + seed) + s.self_noise(round(SECONDS * s.RATE), -80.0, seed)


def take() -> TakeSource:
    part = sound()[round(FIRST * s.RATE) : round((FIRST + LENGTH) * s.RATE)]
    radio = s.through_radio(part, s.RadioPath(), 5)[:, None]
    start = round((NOON + FIRST) * s.RATE)
    return TakeSource("T1", radio.shape[0], s.RATE, ("Bram",), (), start, DATE, None, ArrayReader(radio))


def file(path: str, audio: s.Audio, rate: int = s.RATE, bits: int = 24, stamp: float | None = NOON) -> CardFile:
    start = None if stamp is None else round(stamp * rate)
    return CardFile(path, audio.size, rate, 1, start, DATE, ArrayReader(audio, rate), bits)


def converted(x: s.Audio, rate: int, bits: int = 24) -> s.Audio:
    out = np.asarray(soxr.resample(x, s.RATE, rate, quality="HQ"), np.float32)
    return (np.round(out * 2.0 ** (bits - 1)) / 2.0 ** (bits - 1)).astype(np.float32)


@pytest.mark.parametrize("stamp", [NOON, None, NOON * s.RATE / 44_100], ids=["stamped", "no stamp", "stamp as it was"])
@pytest.mark.parametrize("name", ["a copy.wav", "z copy.wav"])
def test_the_one_at_the_recorders_rate_is_used_and_both_are_named(stamp: float | None, name: str) -> None:
    copy = file(name, converted(sound(), 44_100, 16), 44_100, 16, stamp)
    card = CardSource("C01", (copy, file("c01.wav", sound())))
    day = align_day([take()], [card])
    (track,) = day.tracks
    assert track.outcome is Outcome.PLACED
    assert track.card_path == "c01.wav"
    told = (
        "The folder of C01 holds the same sound twice: c01.wav (48000 Hz, 24 bits), which was used, and "
        f"{name} (44100 Hz, 16 bits), left out because the recorder runs at 48000 Hz."
    )
    assert told in day.cards[0].note
    (finding,) = findings_of_doubles(day)
    assert finding.what == told
    assert finding.weight is Weight.WATCH
    assert [ref.path for ref in finding.refs] == [name]


def test_a_copy_with_fewer_bits_is_left_out() -> None:
    card = CardSource("C01", (file("16.wav", converted(sound(), s.RATE, 16), bits=16), file("24.wav", sound())))
    day = align_day([take()], [card])
    assert day.tracks[0].card_path == "24.wav"
    assert "16.wav (48000 Hz, 16 bits), left out because it has fewer bits." in day.cards[0].note


def test_a_copy_of_a_part_is_left_out() -> None:
    late = 8.0
    part = converted(sound()[round(late * s.RATE) : round(35 * s.RATE)], 96_000)
    day = align_day(
        [take()], [CardSource("C01", (file("part.wav", part, 96_000, stamp=NOON + late), file("c.wav", sound())))]
    )
    assert day.tracks[0].card_path == "c.wav"
    assert [f.path for double in day.cards[0].doubles for f in double.left_out] == ["part.wav"]


def test_files_that_follow_each_other_are_no_copies() -> None:
    half = sound().size // 2
    second = NOON + half / s.RATE
    files = (file("1.wav", sound()[:half]), file("2.wav", sound()[half:], stamp=second))
    day = align_day([take()], [CardSource("C01", files)])
    assert day.cards[0].doubles == ()
    assert findings_of_doubles(day) == []
    assert {piece.card_path for piece in day.tracks[0].pieces} == {"1.wav", "2.wav"}


def test_other_sound_at_another_rate_is_kept_and_told() -> None:
    """A mic a foot from the first one, which hears somebody else as well: as like as two mics can be."""
    late = np.concatenate([np.zeros(48, np.float32), sound()[:-48]])
    beside = (np.float32(0.3) * late + np.float32(0.1) * sound(1)).astype(np.float32)
    other = file("a.wav", converted(beside, 44_100), 44_100)
    day = align_day([take()], [CardSource("C01", (other, file("c01.wav", sound())))])
    assert day.cards[0].doubles == ()
    (finding,) = findings_of_doubles(day)
    assert finding.kind == "card at several rates"
    assert "files at 48000 Hz and 44100 Hz; they are not copies of one another" in finding.what
    assert finding.what in day.cards[0].note


def test_two_silent_files_are_nobodys_copies() -> None:
    quiet = np.zeros(sound().size, np.float32)
    files = (file("a.wav", converted(quiet, 44_100), 44_100), file("c.wav", quiet))
    assert align_day([take()], [CardSource("C01", files)]).cards[0].doubles == ()


def test_each_card_is_looked_at_alone() -> None:
    """The same sound on two cards is for matching to judge, whatever the rates."""
    cards = [
        CardSource("C01", (file("c01.wav", sound()),)),
        CardSource("C02", (file("c02.wav", converted(sound(), 44_100), 44_100),)),
    ]
    day = align_day([take()], cards)
    assert all(card.doubles == () for card in day.cards)


def test_the_usual_rate_of_the_takes_decides() -> None:
    at_96 = replace(take(), tracks=None)
    wide = np.asarray(soxr.resample(at_96.reader.audio[:, 0], s.RATE, 96_000), np.float32)[:, None]  # type: ignore[union-attr]
    at_96 = TakeSource(
        "T1",
        wide.shape[0],
        96_000,
        ("Bram",),
        (),
        round((NOON + FIRST) * 96_000),
        DATE,
        None,
        ArrayReader(wide, 96_000),
    )
    files = (file("48.wav", sound()), file("96.wav", converted(sound(), 96_000), 96_000))
    assert align_day([at_96], [CardSource("C01", files)]).tracks[0].card_path == "96.wav"

"""Frame for frame against an independent reader: at every rate, in noise, off speed, backwards and cut."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pytest

from rollsound.timecode import RATES, LtcDecoder, LtcEntry, Rate, Timecode, encode_ltc

LIBRARY = pytest.mark.source("libltc 1.3.2 (LGPL-3), through its C interface", kind="library")
WORDS = 150
CONDITIONS = {
    "clean": ("",),
    "10 dB": ("noise",),
    "2 % fast": ("fast",),
    "2 % slow": ("slow",),
    "reverse": ("reverse",),
    "cut": ("cut",),
    "all at once": ("noise", "fast", "reverse", "cut"),
}


@dataclass(frozen=True)
class Sound:
    """Code as it was made: the sound, and what every word in it says, by its place in the row of words."""

    sound: np.ndarray
    truth: tuple[Timecode, ...]
    word_samples: float
    begins: dict[int, float]
    """Where each word of ``truth`` that lies in it whole begins in the order of playing."""

    def word_at(self, begin: float) -> int | None:
        """The word that begins at a place, give or take a quarter of a word."""
        near = min(self.begins, key=lambda i: abs(self.begins[i] - begin))
        return near if abs(self.begins[near] - begin) < 0.25 * self.word_samples else None


def made(rate: Rate, marks: tuple[str, ...]) -> Sound:
    """Code over a minute that drop-frame skips at, in one condition."""
    per_word = rate.nominal // rate.pair.nominal
    start = Timecode.parse("00:08:58:00", rate)
    speed = Fraction(102, 100) if "fast" in marks else Fraction(98, 100) if "slow" in marks else Fraction(1)
    reverse = "reverse" in marks
    sound = encode_ltc(start, WORDS * per_word, 48_000 / speed, -12, reverse=reverse)
    truth = tuple(start.plus((-per_word if reverse else per_word) * i) for i in range(WORDS))
    word = float(rate.pair.samples_per_frame(48_000) / speed)
    begins = {i: i * word for i in range(WORDS)}
    if "cut" in marks:
        first, last = round(40.37 * word), round(70.81 * word)
        sound = np.concatenate([sound[:first], sound[last:]])
        begins = {i: i * word - (last - first if i > 40 else 0) for i in (*range(40), *range(71, WORDS))}
    if "noise" in marks:
        rms = float(np.sqrt((sound.astype(np.float64) ** 2).mean()))
        sound = sound + np.random.default_rng(6).normal(0, rms * 10**-0.5, sound.size)
    return Sound(np.ascontiguousarray(sound, np.float32), truth, word, begins)


def read(given: Sound, rate: Rate) -> list[LtcEntry]:
    decoder = LtcDecoder(48_000, rate if rate.nominal > 30 else None)
    return decoder.feed(given.sound) + decoder.finish()


def clock(label: Timecode) -> str:
    """As the word says it: frames in pairs above 30 a second, no drop mark."""
    pairs = label.frames * label.rate.pair.nominal // label.rate.nominal
    return f"{label.hours:02d}:{label.minutes:02d}:{label.seconds:02d}:{pairs:02d}"


def placed(given: Sound, entries: list[LtcEntry]) -> dict[int, str]:
    """Our labels by the word they stand in; none may stand anywhere else, nor say anything else."""
    found = {}
    for entry in entries:
        word = given.word_at(min(entry.sample, entry.end_sample))
        assert word is not None
        assert clock(entry.timecode) == clock(given.truth[word])
        found[word] = clock(entry.timecode)
    assert len(found) == len(entries)
    return found


def placed_by_library(libltc, given: Sound) -> dict[int, str]:  # type: ignore[no-untyped-def]
    """The library's labels by the word they stand in. It loses its last word without one more crossing."""
    more = np.repeat(-given.sound[-1:], 200)
    frames = libltc.decode(np.concatenate([given.sound, more]), round(given.word_samples))
    places = ((given.word_at(frame.start), frame.label) for frame in frames)
    return {word: label for word, label in places if word is not None}


@LIBRARY
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("rate", RATES, ids=str)
def test_frame_for_frame(libltc, rate: Rate, condition: str) -> None:  # type: ignore[no-untyped-def]
    marks = CONDITIONS[condition]
    given = made(rate, marks)
    truth = {i: clock(given.truth[i]) for i in given.begins}
    ours = placed(given, read(given, rate))
    if "noise" in marks:  # which may take the words at the very ends and beside a cut: they have one neighbour only
        assert len(ours) >= len(truth) - 2
    else:
        assert ours == truth
    theirs = placed_by_library(libltc, given)
    right = {i: label for i, label in theirs.items() if label == truth[i]}
    assert len(right) >= 0.75 * len(truth)
    if "noise" not in marks:
        assert right == theirs  # in noise the library makes up times: only its true ones can be held against ours
    assert {i: ours.get(i) for i in right} == right


@LIBRARY
def test_one_frame_read_wrong_goes_red(libltc) -> None:  # type: ignore[no-untyped-def]
    """The comparison above sees a single label that differs."""
    given = made(Rate.parse("29.97DF"), ())
    theirs, ours = placed_by_library(libltc, given), placed(given, read(given, Rate.parse("29.97DF")))
    assert {i: ours.get(i) for i in theirs} == theirs
    ours[80] = clock(given.truth[81])
    assert {i: ours.get(i) for i in theirs} != theirs

"""Claps and balloons found in a recording: where each begins, how far it reaches, and whether it was clipped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rollsound.errors import InputError
from rollsound.measure.place.noise import refuse_not_numbers
from rollsound.measure.place.tables import limit
from rollsound.quantities import show_time

F64 = NDArray[np.float64]

PIECE_S = 0.005
LONGEST_S = 3600.0
_BEFORE_S = 0.05
_MOST_DECAY_S = 15.0
_LEAST_DECAY_S = 0.25
_APART_S = 0.5
_RISE_S = 0.1
_WEAKER_DB = 20.0
_ONSET_DB = 20.0


@dataclass(frozen=True)
class Segment:
    """Samples from shortly before a burst to the next one, or to where nothing more is to be heard."""

    start_sample: int
    stop_sample: int


class BurstFinder:
    """Takes one track block by block and keeps an energy for every 5 ms, up to an hour of them."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._piece = max(1, round(PIECE_S * sample_rate_hz))
        self._energies: list[F64] = []
        self._kept = np.zeros(0)
        self._frames = 0

    def feed(self, block: ArrayLike) -> None:
        """Take the next samples, shape (frames,).

        Raises
        ------
        InputError
            at a sample that is no number, and when the recording is far too long
        """
        samples = np.asarray(block, np.float64)
        refuse_not_numbers(samples, self._frames, self._rate)
        self._frames += samples.size
        if self._frames > LONGEST_S * self._rate:
            raise InputError("is longer than an hour; cut out the part with the claps")
        joined = np.concatenate((self._kept, samples))
        count = joined.size // self._piece
        self._energies.append((joined[: count * self._piece].reshape(count, self._piece) ** 2).mean(axis=1))
        self._kept = joined[count * self._piece :].copy()

    def stands_out_db(self) -> float:
        """How far the loudest 5 ms stand over the quieter fifth of the recording."""
        energies = np.concatenate(self._energies) if self._energies else np.zeros(0)
        if not energies.size:
            return 0.0
        levels = 10.0 * np.log10(energies + 1e-20)
        return float(levels.max() - np.quantile(levels, 0.2))

    def segments(self) -> tuple[Segment, ...]:
        """The bursts in order.

        Raises
        ------
        InputError
            when nothing stands out, or nothing is left to decay
        """
        energies = np.concatenate(self._energies) if self._energies else np.zeros(0)
        if not energies.size or energies.max() < 1e-12:
            raise InputError("holds nothing but silence; check the input and its gain")
        levels = 10.0 * np.log10(energies + 1e-20)
        starts = _bursts(levels)
        if not starts:
            raise InputError(
                f"holds no clap: nothing rises {limit('clap-rise'):g} dB over the rest at once; clap louder and leave "
                "the place to ring out, or say what it is with --kind"
            )
        before = round(_BEFORE_S * self._rate)
        edges = [max(0, at * self._piece - before) for at in starts]
        stops = [*edges[1:], self._frames]
        longest = round(_MOST_DECAY_S * self._rate)
        found = [Segment(start, min(stop, start + longest)) for start, stop in zip(edges, stops, strict=True)]
        least = round((_BEFORE_S + _LEAST_DECAY_S) * self._rate)
        kept = tuple(each for each in found if each.stop_sample - each.start_sample >= least)
        if not kept:
            length = show_time((found[-1].stop_sample - found[-1].start_sample) / self._rate)
            raise InputError(f"ends too soon after the clap ({length}); let it run until nothing is heard any more")
        return kept


def _bursts(levels_db: F64) -> list[int]:
    """Pieces where a burst begins: loud, risen within a tenth of a second, and none of the weak ones."""
    background = float(np.quantile(levels_db, 0.2))
    top = float(levels_db.max())
    apart, rise = round(_APART_S / PIECE_S), round(_RISE_S / PIECE_S)
    found: list[int] = []
    for at in np.argsort(-levels_db, kind="stable"):
        level = float(levels_db[at])
        if level < max(background + limit("clap-rise"), top - _WEAKER_DB):
            break
        quiet = float(np.median(levels_db[max(0, at - rise) : max(1, at - 2)])) if at > 2 else background
        if level - quiet >= limit("clap-rise") - 5.0 and all(abs(int(at) - other) >= apart for other in found):
            found.append(int(at))
    return sorted(found)


def is_clipped(samples: ArrayLike) -> bool:
    """Whether the loudest peak is cut flat: three samples or more at the very top, one after the other."""
    size = np.abs(np.asarray(samples, np.float64))
    peak = float(size.max(initial=0.0))
    if peak < 0.25:
        return False
    top = size >= peak - 1e-6
    return bool(np.any(top[2:] & top[1:-1] & top[:-2])) or (peak >= 1.0 and int(np.count_nonzero(top)) >= 3)


def onset(samples: ArrayLike) -> int:
    """Where an impulse response begins: the first sample that comes within 20 dB of the highest.

    Source: ISO 3382-1:2009, A.3.4 (a rise over the noise, still 20 dB under the maximum), from memory.
    """
    size = np.abs(np.asarray(samples, np.float64))
    return int(np.argmax(size >= float(size.max()) * 10.0 ** (-_ONSET_DB / 20.0)))


def from_onsets(segments: Sequence[ArrayLike]) -> tuple[F64, ...]:
    """Each segment with its beginning cut off up to the direct sound."""
    return tuple(np.asarray(each, np.float64)[onset(each) :] for each in segments)

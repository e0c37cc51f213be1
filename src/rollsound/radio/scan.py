"""Scans of a place's spectrum: text of frequency and level read, several takes merged, what is occupied told.

Files come from many kinds of analyser: with or without a header, columns apart by commas, semicolons, tabs or blanks,
decimal points or commas, in MHz, kHz or Hz. What had to be assumed is told in ``notes``; what cannot be told apart for
sure is refused with its line.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError, Mistake, MistakesError
from rollsound.quantities import count, true_minus
from rollsound.radio.carriers.task import Occupied
from rollsound.radio.scan_columns import Columns, fields_of, find_columns, number_of

DBM_OVER_DBUV = -106.98970004336019
"""A level in dBm is that in dBµV at 50 ohm plus this: 10·log(1 µV² / 50 Ω / 1 mW)."""
LOWEST_DBM, HIGHEST_DBM = -200.0, 40.0
"""No analyser tells levels beyond: far below the thermal noise of one hertz, or more than ten watts."""
MOST_POINTS = 2_000_000
MOST_LETTERS = 200_000_000
_MOST_TOLD = 8
_HZ = {"Hz": 1, "kHz": 1_000, "MHz": 1_000_000, "GHz": 1_000_000_000}
_LOWEST_HZ, _HIGHEST_HZ = 20_000_000, 8_000_000_000
"""Where radio for sound is; a thousandfold lies between the figures of one unit and the next."""
_QUIET_DBM = -20.0
"""The middle of a scan in dBm lies below: most of any spectrum is noise."""
_COARSE_HZ = 200_000


@dataclass(frozen=True)
class ScanLevels:
    """Levels over frequency, each holding from one edge to the next; gaps that nobody measured may lie between."""

    name: str
    low_hz: NDArray[np.int64]
    high_hz: NDArray[np.int64]
    level_dbm: NDArray[np.float64]
    notes: tuple[str, ...] = ()
    """What was assumed, one sentence each."""

    @property
    def freq_hz(self) -> NDArray[np.int64]:
        """The middle of each."""
        return (self.low_hz + self.high_hz) // 2

    @property
    def step_hz(self) -> int:
        """How wide one usually is."""
        return int(np.median(self.high_hz - self.low_hz))

    def thinned(self, most: int = 2000) -> ScanLevels:
        """The highest level of every so many neighbours: for drawing, no peak lost."""
        size = self.level_dbm.size
        if size <= most:
            return self
        first = np.unique(np.linspace(0, size, most, endpoint=False).astype(np.int64))
        last = np.append(first[1:], size) - 1
        level = np.maximum.reduceat(self.level_dbm, first)
        return ScanLevels(self.name, self.low_hz[first], self.high_hz[last], level, self.notes)


def read(text: str, name: str) -> ScanLevels:
    """Read one scan; several sweeps in it are merged by their highest levels.

    Raises
    ------
    InputError
        when there is nothing in it, or its units cannot be told
    MistakesError
        with every line that holds no frequency and level, up to eight
    """
    if len(text) > MOST_LETTERS:
        raise InputError(f"{name} is longer than any scan; export a part of the spectrum, or wider steps")
    lines = text.removeprefix("\ufeff").splitlines()
    columns = find_columns(lines, name)
    numbers, freqs, levels = _rows(lines, columns, name)
    freq, level = np.frombuffer(freqs, np.float64), np.frombuffer(levels, np.float64)
    line = np.frombuffer(numbers, np.int64)
    freq_hz, said_freq = _in_hertz(freq, line, columns.freq_unit, name)
    level_dbm, said_level = _in_dbm(level, line, columns.level_unit, name)
    return _binned(freq_hz, level_dbm, name, (*said_freq, *said_level))


def merge(takes: Sequence[ScanLevels], name: str = "") -> ScanLevels:
    """Several takes as one: everywhere the highest level that any of them found.

    Raises
    ------
    InputError
        when there is none
    """
    if not takes:
        raise InputError("there is no scan to merge; import one first")
    if len(takes) == 1:
        return takes[0]
    edges = np.unique(np.concatenate([each for take in takes for each in (take.low_hz, take.high_hz)]))
    if edges.size > 2 * MOST_POINTS:
        raise InputError("these scans have more points together than can be kept; merge fewer, or export wider steps")
    level = np.full(edges.size - 1, -np.inf)
    for take in takes:
        at = np.searchsorted(take.low_hz, edges[:-1], "right") - 1
        within = (at >= 0) & (edges[:-1] < take.high_hz[at])
        level[within] = np.maximum(level[within], take.level_dbm[at[within]])
    seen = level > -np.inf
    notes = tuple(dict.fromkeys(note for take in takes for note in take.notes))
    whole = name or " and ".join(dict.fromkeys(take.name for take in takes))
    return ScanLevels(whole, edges[:-1][seen], edges[1:][seen], level[seen], notes)


def occupied(levels: ScanLevels, threshold_dbm: float, guard_hz: int = 0, why: str = "") -> tuple[Occupied, ...]:
    """What lies above a threshold, edge to edge, low to high; points that touch are one range."""
    over = levels.level_dbm > threshold_dbm
    if not over.any():
        return ()
    low, high, level = levels.low_hz[over], levels.high_hz[over], levels.level_dbm[over]
    first = np.flatnonzero(np.append(True, low[1:] > high[:-1]))
    loudest = np.maximum.reduceat(level, first)
    last = np.append(first[1:], low.size) - 1
    told = why or f"the scan {levels.name}"
    return tuple(
        Occupied(int(begin), int(end), guard_hz, f"{told}, {true_minus(f'{peak:.0f}')} dBm")
        for begin, end, peak in zip(low[first], high[last], loudest, strict=True)
    )


def _rows(lines: Sequence[str], columns: Columns, name: str) -> tuple[array[int], array[float], array[float]]:
    numbers, freqs, levels = array("q"), array("d"), array("d")
    wrong: list[Mistake] = []
    for at in range(columns.first_line, len(lines)):
        line = lines[at].strip()
        if not line or line.startswith(("#", "//", "!", "*")):
            continue
        problem = ""
        fields = fields_of(line, columns.separator)
        freq = number_of(fields[columns.freq]) if len(fields) > columns.freq else None
        level = number_of(fields[columns.level]) if len(fields) > columns.level else None
        if freq is None or level is None:
            problem = f"holds '{line[:40]}', which is no frequency and level; correct it, or take the line out"
        elif not math.isfinite(level):
            problem = "has a level that is no number; measure again, or take the line out"
        elif not math.isfinite(freq) or freq <= 0:
            problem = "has a frequency that is no number above 0; measure again, or take the line out"
        else:
            numbers.append(at + 1)
            freqs.append(freq)
            levels.append(level)
        if problem:
            wrong.append(Mistake(name, at + 1, problem))
            if len(wrong) > _MOST_TOLD:
                break
        if len(freqs) > MOST_POINTS:
            raise InputError(
                f"{name} has more than {MOST_POINTS:,} points; export a part of the spectrum, or wider steps"
            )
    if wrong:
        _refuse(name, wrong)
    if not freqs:
        raise InputError(f"{name} holds no line with a frequency and a level; export the scan again, as CSV")
    return numbers, freqs, levels


def _refuse(name: str, wrong: Sequence[Mistake]) -> None:
    told = list(wrong[:_MOST_TOLD])
    if len(wrong) > _MOST_TOLD:
        told.append(Mistake(name, wrong[_MOST_TOLD].line, "and perhaps more lines below are wrong too"))
    raise MistakesError(name, told)


def _in_hertz(
    freq: NDArray[np.float64], line: NDArray[np.int64], unit: str, name: str
) -> tuple[NDArray[np.int64], tuple[str, ...]]:
    said: tuple[str, ...] = ()
    if not unit:
        fits = [u for u, hz in _HZ.items() if _LOWEST_HZ <= float(np.median(freq)) * hz <= _HIGHEST_HZ]
        if not fits:
            raise InputError(
                f"{name} has frequencies about {np.median(freq):g}, which is in no unit where radio for sound is; "
                "write MHz, kHz or Hz over the column"
            )
        unit = fits[0]
        said = (f"{name}: frequencies were taken as {unit}, for they lie from {freq.min():g} to {freq.max():g}.",)
    hertz = freq * _HZ[unit]
    strange = (hertz < _LOWEST_HZ) | (hertz > _HIGHEST_HZ)
    if strange.any():
        _refuse(
            name,
            [
                Mistake(
                    name,
                    int(line[at]),
                    f"has the frequency {freq[at]:.12g} {unit}, where no radio for sound is; correct it or its unit",
                )
                for at in np.flatnonzero(strange)[: _MOST_TOLD + 1]
            ],
        )
    return np.rint(hertz).astype(np.int64), said


def _in_dbm(
    level: NDArray[np.float64], line: NDArray[np.int64], unit: str, name: str
) -> tuple[NDArray[np.float64], tuple[str, ...]]:
    said: tuple[str, ...] = ()
    middle = float(np.median(level))
    if not unit:
        if middle > _QUIET_DBM:
            raise InputError(
                f"{name} does not say the unit of its levels, and they lie about {middle:g}, too high for a scan in "
                "dBm; write dBm or dBuV over the column"
            )
        said = (f"{name}: levels were taken as dBm, for nothing in it says otherwise.",)
    level_dbm = level + DBM_OVER_DBUV if unit == "dBuV" else level
    if unit == "dBuV":
        said = (f"{name}: levels in dBµV were turned into dBm for 50 ohm.",)
    strange = (level_dbm < LOWEST_DBM) | (level_dbm > HIGHEST_DBM)
    if strange.any():
        _refuse(
            name,
            [
                Mistake(
                    name,
                    int(line[at]),
                    f"has the level {level[at]:.6g} {unit or 'dBm'}, which no receiver meets; correct it or its unit",
                )
                for at in np.flatnonzero(strange)[: _MOST_TOLD + 1]
            ],
        )
    return level_dbm, said


def _binned(freq_hz: NDArray[np.int64], level_dbm: NDArray[np.float64], name: str, notes: Iterable[str]) -> ScanLevels:
    """Every level holds half-way to its neighbours, but not over a gap that nobody measured."""
    order = np.argsort(freq_hz, kind="stable")
    freq, first, sweeps = np.unique(freq_hz[order], return_index=True, return_counts=True)
    level = np.maximum.reduceat(level_dbm[order], first)
    said = list(notes)
    if sweeps.max() > 1:
        said.append(f"{name}: {count(int(sweeps.max()), 'sweep')} were merged by their highest levels.")
    if freq.size == 1:
        return ScanLevels(name, freq - 1, freq + 1, level, (*said, f"{name} has one frequency alone."))
    gap = np.diff(freq)
    usual = int(np.median(gap))
    if usual > _COARSE_HZ:
        said.append(f"{name}: its points lie {usual / 1e3:g} kHz apart; what lies between them may have gone unseen.")
    before, after = np.append(gap[:1], gap), np.append(gap, gap[-1:])
    near = np.minimum(before, after)
    reach_down = np.where(before > 4 * near, near, before)
    reach_up = np.where(after > 4 * near, near, after)
    return ScanLevels(name, freq - (reach_down + 1) // 2, freq + reach_up // 2, level, tuple(said))

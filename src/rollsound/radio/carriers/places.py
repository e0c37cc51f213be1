"""Where one transmitter may lie before any other is thought of: its range, its step, and what others occupy."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rollsound.radio.carriers.relations import Ints
from rollsound.radio.carriers.task import Occupied, Task, Wanted

MOST_PLACES = 2_000_000


def places(wanted: Wanted, occupied: Sequence[Occupied]) -> Ints:
    """Every carrier in hertz, from low to high, that is in range, on its step and clear of what is occupied."""
    half = -(-wanted.width_hz // 2)
    low, high = wanted.low_hz + half, wanted.high_hz - half
    first = -(-(low - wanted.origin_hz) // wanted.step_hz)
    last = (high - wanted.origin_hz) // wanted.step_hz
    if last < first:
        return np.empty(0, dtype=np.int64)
    found = wanted.origin_hz + wanted.step_hz * np.arange(first, min(last, first + MOST_PLACES) + 1, dtype=np.int64)
    clear = np.ones(found.size, dtype=np.bool_)
    for taken in (*occupied, *wanted.occupied):
        reach = half + taken.guard_hz
        begin = np.searchsorted(found, taken.low_hz - reach, side="right")
        end = np.searchsorted(found, taken.high_hz + reach, side="left")
        clear[begin:end] = False
    return found[clear]


def window(task: Task, wanted: Wanted, heard_hz: Sequence[tuple[Wanted, int]]) -> tuple[int, int] | None:
    """The lowest and highest carrier that its receiver's window leaves, beside those it hears already; none: any."""
    width = task.windows_hz.get(wanted.within) if wanted.within else None
    others = [(each, freq) for each, freq in heard_hz if each.within == wanted.within and each.id != wanted.id]
    if width is None or not others:
        return None
    top = max(2 * freq + each.width_hz for each, freq in others)
    bottom = min(2 * freq - each.width_hz for each, freq in others)
    low = -((2 * width - top - wanted.width_hz) // 2)
    high = (bottom + 2 * width - wanted.width_hz) // 2
    return low, high

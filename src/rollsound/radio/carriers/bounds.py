"""How many transmitters can have a carrier at all: proofs, found before any search."""

from __future__ import annotations

from rollsound.radio.carriers.answer import Bound
from rollsound.radio.carriers.task import Task


def bound(task: Task) -> Bound | None:
    """A proof that no more than ``most`` of the task's transmitters can be placed; none when all may be.

    Spacing alone: carriers lie at least the smallest spacing apart, in the spectrum that is free to any of them.
    """
    stretches = free_stretches(task)
    spacing = min((task.guards[each.guard].spacing_hz for each in task.wanted), default=0)
    if spacing == 0 or any(each.fixed for each in task.wanted):
        return None
    most = sum((high - low) // spacing + 1 for low, high in stretches)
    if most >= len(task.wanted):
        return None
    return Bound(
        most, f"{len(task.wanted)} cannot be: at most {most} fit beside each other, {spacing / 1e3:g} kHz apart"
    )


def free_stretches(task: Task) -> list[tuple[int, int]]:
    """Where the carrier of at least one transmitter may lie, first and last hertz, from low to high."""
    found: list[tuple[int, int]] = []
    for each in {(w.low_hz, w.high_hz, w.width_hz) for w in task.wanted}:
        low, high, width = each
        half = -(-width // 2)
        at = low + half
        for taken in sorted(task.occupied, key=lambda o: o.low_hz - o.guard_hz):
            begin, end = taken.low_hz - taken.guard_hz - half, taken.high_hz + taken.guard_hz + half
            if end < at or begin > high - half:
                continue
            if begin >= at:
                found.append((at, begin))
            at = max(at, end)
        if at <= high - half:
            found.append((at, high - half))
    merged: list[tuple[int, int]] = []
    for low, high in sorted(found):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged

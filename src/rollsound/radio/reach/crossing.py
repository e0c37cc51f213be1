"""Which walls a straight path crosses, seen from above.

A wall is a line through two places or more; each of its stretches that lies across the path counts once. A place on a
line counts as left of it, for path and walls alike, so that a path through the corner between two stretches of one
wall counts one of them when it comes through, and none or both when it only touches.

Places come in blocks, such as pieces of a grid's rows; a stretch that touches neither a block, nor what lies between it
and the antenna, is left out for all of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.radio.model import Wall
from rollsound.radio.reach.answer import Array

Whole = NDArray[np.int64]
_BLOCK = 64


@dataclass(frozen=True)
class Stretches:
    """The straight stretches of all walls: ends of shape (stretches, 4) as x1, y1, x2, y2, and whose each is."""

    ends_m: Array
    wall: Whole


def stretches(walls: Sequence[Wall]) -> Stretches:
    """Cut walls into straight stretches."""
    ends = [
        (*start, *end)
        for wall in walls
        for start, end in zip(wall.line_m.points_m[:-1], wall.line_m.points_m[1:], strict=True)
    ]
    owner = [number for number, wall in enumerate(walls) for _ in wall.line_m.points_m[1:]]
    return Stretches(np.array(ends, float).reshape(-1, 4), np.array(owner, np.int64))


def crossed(lines: Stretches, antenna_m: tuple[float, float], at_m: Array, channel: Whole, weight: Array) -> Array:
    """Sum of the weights of all stretches crossed, by channel.

    Parameters
    ----------
    at_m
        shape (places, 2)
    channel, weight
        of each stretch

    Returns
    -------
    shape (channels, places)
    """
    sums = np.zeros((_channels(channel), len(at_m)))
    _cross(*antenna_m, np.ascontiguousarray(at_m, float), lines.ends_m, channel, weight, sums)
    return sums


def crossings(lines: Stretches, antenna_m: tuple[float, float], at_m: tuple[float, float]) -> list[int]:
    """The numbers of the walls that one path crosses, once for each stretch."""
    numbers = np.arange(len(lines.wall))
    sums = crossed(lines, antenna_m, np.array([at_m]), numbers, np.ones(len(numbers)))
    return [int(lines.wall[number]) for number in numbers if sums[number, 0] > 0]


def _channels(channel: Whole) -> int:
    return int(channel.max()) + 1 if channel.size else 1


@kernel(inline="always")
def _left(px: float, py: float, qx: float, qy: float, rx: float, ry: float) -> bool:
    """Whether r is left of, or on, the line from p to q."""
    return (qx - px) * (ry - py) - (qy - py) * (rx - px) >= 0.0


@kernel(inline="always")
def _crosses(ax: float, ay: float, px: float, py: float, x1: float, y1: float, x2: float, y2: float) -> bool:
    """Whether the path from a to p crosses the stretch from 1 to 2."""
    if _left(ax, ay, px, py, x1, y1) == _left(ax, ay, px, py, x2, y2):
        return False
    return _left(x1, y1, x2, y2, ax, ay) != _left(x1, y1, x2, y2, px, py)


@kernel()
def _cross(
    ax: float, ay: float, at: Array, ends: Array, channel: Whole, weight: Array, sums: Array
) -> None:  # pragma: no cover - compiled
    for first in range(0, at.shape[0], _BLOCK):
        last = min(first + _BLOCK, at.shape[0])
        block = at[first:last]
        left, right, low, high = ax, ax, ay, ay
        for i in range(block.shape[0]):
            left, right = min(left, block[i, 0]), max(right, block[i, 0])
            low, high = min(low, block[i, 1]), max(high, block[i, 1])
        for s in range(ends.shape[0]):
            x1, y1, x2, y2 = ends[s, 0], ends[s, 1], ends[s, 2], ends[s, 3]
            if max(x1, x2) < left or min(x1, x2) > right or max(y1, y2) < low or min(y1, y2) > high:
                continue
            row = sums[channel[s], first:last]
            w = weight[s]
            for i in range(block.shape[0]):
                if _crosses(ax, ay, block[i, 0], block[i, 1], x1, y1, x2, y2):
                    row[i] += w

"""How tables of reference values are compared, and how a table shows that it can fail."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

PRINTED_2 = 0.0051
"""Values printed with two decimals: half the last digit, and a little for its own rounding."""
PRINTED_1 = 0.051
"""Values printed with one decimal."""

Rows = Mapping[tuple[Any, ...], float]
Within = float | Callable[[float], float]


def missed(rows: Rows, formula: Callable[..., float], within: Within) -> list[Any]:
    """The rows whose value the formula does not reach: by more than ``within``, which may depend on the value."""
    return _missed(rows, {args: formula(*args) for args in rows}, within)


def goes_red(rows: Rows, formula: Callable[..., float], within: Within) -> bool:
    """Whether each row alone, moved by three tolerances, is missed, and no other."""
    found = {args: formula(*args) for args in rows}
    moved = [
        (args, {**rows, args: expected + sign * 3 * _within(within, expected)})
        for args, expected in rows.items()
        for sign in (-1, 1)
    ]
    return bool(rows) and all(_missed(wrong, found, within) == [args] for args, wrong in moved)


def digits(number: int) -> Callable[[float], float]:
    """Tolerance of a value printed with so many significant digits."""
    return lambda value: 0.51 * 10.0 ** (math.floor(math.log10(abs(value))) - number + 1)


def _missed(rows: Rows, found: Rows, within: Within) -> list[Any]:
    return [args for args, expected in rows.items() if not abs(found[args] - expected) <= _within(within, expected)]


def _within(within: Within, value: float) -> float:
    return within(value) if callable(within) else within

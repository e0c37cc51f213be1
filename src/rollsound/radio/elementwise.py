"""Formulas that take numbers or arrays alike: numbers in, a number out; any array in, an array out."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, Protocol, TypeAlias, cast, overload

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError

Array: TypeAlias = NDArray[np.float64]
Values: TypeAlias = float | Array


class Elementwise(Protocol):
    """A formula as numpy's own are: its arguments are broadcast against each other."""

    # An array is no float to anybody but the type of ``Values``: the two never meet.
    @overload
    def __call__(self, *args: float | str | None, **named: float | str | None) -> float: ...  # type: ignore[overload-overlap]
    @overload
    def __call__(self, *args: Values | str | None, **named: Values | str | None) -> Array: ...


def elementwise(formula: Callable[..., Values]) -> Elementwise:
    """Let a formula written for arrays take numbers as well; text and None go through as they are."""

    @functools.wraps(formula)
    def called(*args: Any, **named: Any) -> Any:
        result = np.asarray(
            formula(*(_array(each) for each in args), **{name: _array(each) for name, each in named.items()}), float
        )
        return float(result) if result.ndim == 0 else result

    return cast(Elementwise, called)


def _array(value: Any) -> Any:
    return value if value is None or isinstance(value, str) else np.asarray(value, float)


def above_zero(values: Values, what: str) -> Array:
    """Refuse what is not a number above 0.

    Raises
    ------
    InputError
        naming ``what`` it is
    """
    given = np.asarray(values, float)
    good = np.isfinite(given) & (given > 0)
    if not np.all(good):
        raise InputError(f"{what} is {np.atleast_1d(given)[~np.atleast_1d(good)][0]:g}; it must be more than 0")
    return given


def not_negative(values: Values, what: str) -> Array:
    """Refuse what is not a number, or is below 0.

    Raises
    ------
    InputError
        naming ``what`` it is
    """
    given = np.asarray(values, float)
    good = np.isfinite(given) & (given >= 0)
    if not np.all(good):
        raise InputError(f"{what} is {np.atleast_1d(given)[~np.atleast_1d(good)][0]:g}; it must be 0 or more")
    return given

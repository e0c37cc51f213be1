"""How hot loops are compiled: one typed door to numba, so that settings are the same everywhere."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

import numba

P = ParamSpec("P")
R = TypeVar("R")


def kernel(*, fast: bool = False, **options: Any) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Compile a loop over NumPy arrays to machine code, without the interpreter lock and cached on disk.

    ``fast`` allows reordered sums (never where exact zeros, infinities or bit-exactness matter).
    """

    def wrap(function: Callable[P, R]) -> Callable[P, R]:
        compiled: Callable[P, R] = numba.njit(cache=True, nogil=True, fastmath=fast, **options)(function)
        return compiled

    return wrap

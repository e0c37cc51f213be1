"""How hot loops are compiled: one typed door to numba, so that settings are the same everywhere.

Numba is loaded and a loop compiled when it is first called: a command or a server that measures nothing starts without.
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable
from types import CellType, FunctionType
from typing import Any, Generic, ParamSpec, TypeVar, cast

P = ParamSpec("P")
R = TypeVar("R")
_compiling = threading.RLock()


def kernel(*, fast: bool = False, **options: Any) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Compile a loop over NumPy arrays to machine code, without the interpreter lock and cached on disk.

    ``fast`` allows reordered sums (never where exact zeros, infinities or bit-exactness matter).
    """

    def wrap(function: Callable[P, R]) -> Callable[P, R]:
        return _Kernel(function, {"fastmath": fast, **options})

    return wrap


class _Kernel(Generic[P, R]):
    """A loop that compiles itself, and the kernels it calls, when it is first called."""

    def __init__(self, function: Callable[P, R], options: dict[str, Any]) -> None:
        functools.update_wrapper(self, function)
        self.py_func = function
        self._options = options
        self._compiled: Callable[P, R] | None = None

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        return (self._compiled or self.compiled())(*args, **kwargs)

    def compiled(self) -> Callable[P, R]:
        """What numba makes of it. The kernels that it calls by name are put in place first: numba looks them up."""
        with _compiling:
            if self._compiled is None:
                import numba

                function = cast(FunctionType, self.py_func)
                for name in function.__code__.co_names:
                    called = function.__globals__.get(name)
                    if isinstance(called, _Kernel):
                        function.__globals__[name] = called.compiled()
                cells: tuple[CellType, ...] = function.__closure__ or ()
                for cell in cells:
                    if isinstance(cell.cell_contents, _Kernel):
                        cell.cell_contents = cell.cell_contents.compiled()
                self._compiled = numba.njit(cache=True, nogil=True, **self._options)(function)
            return self._compiled

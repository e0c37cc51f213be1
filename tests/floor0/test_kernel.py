"""Kernels compile themselves when they are first called, and not when they are imported."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from rollsound.kernel import kernel

QUICK = ("rollsound.cli.app", "rollsound.web.serve", "rollsound.actions.show", "rollsound.wave", "rollsound.timecode")


@kernel()
def _twice(values: np.ndarray) -> float:  # type: ignore[type-arg]
    total = 0.0
    for value in values:
        total += 2.0 * value
    return total


@kernel(fast=True)
def _six_times(values: np.ndarray) -> float:  # type: ignore[type-arg]
    return 3.0 * _twice(values)


def test_a_kernel_calls_another_that_was_not_compiled_yet() -> None:
    values = np.arange(5.0)
    assert _six_times(values) == 60.0
    assert _twice(values) == 20.0


@pytest.mark.parametrize("module", QUICK)
def test_numba_is_not_loaded_before_anything_is_measured(module: str) -> None:
    code = f"import sys, {module}; sys.exit('numba' in sys.modules or 'pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=120).returncode == 0

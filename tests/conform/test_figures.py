"""Offset and rate as they are stated, against the knots that steer."""

from __future__ import annotations

import numpy as np
import pytest

from rollsound.conform.figures import contradicted, figures_of
from rollsound.conform.model import ClockMap


@pytest.mark.parametrize("ratio", [1.0, 44_100 / 48_000, 2.0])
def test_a_line_gives_its_own_figures(ratio: float) -> None:
    clock = ClockMap.straight(-1234.5, 37.25, 4_000_000, ratio)
    assert figures_of(clock, ratio) == (pytest.approx(-1234.5, abs=1e-6), pytest.approx(37.25, abs=1e-6))


@pytest.mark.source("NumPy polyfit, least squares of the first degree", kind="library")
def test_a_curve_gives_its_best_line() -> None:
    n = np.arange(0, 4_800_001, 4800, dtype=np.int64)
    clock = ClockMap(n, 500.0 + n * (1 + 12e-6) + 9.0 * np.exp(-n / 1e6))
    slope, offset = np.polyfit(n.astype(np.float64), clock.card_positions - n, 1)
    # a double holds positions of millions of samples to 1e-9; both fits lose a few digits of that
    assert figures_of(clock, 1.0) == (pytest.approx(offset, abs=1e-4), pytest.approx(slope * 1e6, abs=1e-5))


def test_a_jump_is_no_rate() -> None:
    """A card that lost 700 samples half way: the rate is the clock's, the offset where the take begins."""
    knots = np.array([0, 1_000_000, 1_000_001, 3_000_000], np.int64)
    clock = ClockMap(knots, 100.0 + knots * (1 + 20e-6) - 700.0 * (knots > 1_000_000))
    assert figures_of(clock, 1.0) == (pytest.approx(100.0, abs=1e-6), pytest.approx(20.0, abs=1e-5))


def test_figures_as_lists_round_them_hold_and_others_do_not() -> None:
    clock = ClockMap.straight(480_000.123456, 12.3456789, 700_000)
    assert not list(contradicted("x", clock, 1.0, None, None))
    assert not list(contradicted("x", clock, 1.0, 480_000.12, 12.346))
    (offset,) = contradicted("track 3 (Ane) of 31T1", clock, 1.0, 480_000.14, 12.346)
    for words in ("track 3 (Ane) of 31T1", "offset_samples 480000.140", "480000.123", "edit those"):
        assert words in offset
    (rate,) = contradicted("x", clock, 1.0, 480_000.12, 12.348)
    assert "rate_ppm 12.348" in rate
    assert "12.346" in rate
    assert len(list(contradicted("x", clock, 1.0, 0.0, 0.0))) == 2

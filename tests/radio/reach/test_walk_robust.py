"""Robust straight lines beside textbook least squares, and beside an independent robust fit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from rollsound.radio.reach.walk_robust import LEAST_SCATTER_DB, robust, uncertainty

WIDE = np.full(2, -1e3), np.full(2, 1e3)


def line(seed: int, count: int, scatter: float) -> tuple[np.ndarray, np.ndarray]:
    """A straight line with scatter: slopes (1, x) and levels."""
    chance = np.random.default_rng(seed)
    x = chance.uniform(0, 20, count)
    return np.stack([np.ones(count), x], axis=1), -40 - 2.5 * x + scatter * chance.standard_normal(count)


@pytest.mark.source("scipy.stats.linregress: slope, intercept and their standard errors", kind="library")
def test_uncertainty_is_the_textbooks() -> None:
    slopes, levels = line(4, 30, 3.0)
    theirs = stats.linregress(slopes[:, 1], levels)
    off = levels - theirs.intercept - theirs.slope * slopes[:, 1]
    scatter = float(np.sqrt(np.sum(off**2) / 28))
    sigmas, alike = uncertainty(slopes, scatter)
    student = stats.t.ppf(0.841345, 28)
    assert sigmas == pytest.approx([theirs.intercept_stderr * student, theirs.stderr * student], rel=1e-9)
    assert alike[0, 1] == pytest.approx(-slopes[:, 1].mean() / np.sqrt(np.mean(slopes[:, 1] ** 2)), rel=1e-9)
    assert np.diag(alike) == pytest.approx([1, 1])


@pytest.mark.source("scipy.optimize.minimize of Σ |residual|, an estimator of another kind", kind="library")
def test_outliers_are_left_out_and_the_line_is_found() -> None:
    slopes, levels = line(5, 60, 2.0)
    levels[:18] += 30
    found = robust(slopes, levels, np.ones(60), *WIDE, np.zeros(2))
    assert np.flatnonzero(found.outlier).tolist() == list(range(18))
    least_sum = optimize.minimize(
        lambda v: np.abs(slopes @ v - levels).sum(), found.values, method="Nelder-Mead", options={"maxiter": 4000}
    )
    # both bend a little to thirty in a hundred wrong ones; least squares alone would lie 9 dB off
    assert found.values == pytest.approx(least_sum.x, abs=4 * found.sigmas[0])
    assert np.abs(found.values - (-40, -2.5)).max() < 3 * found.sigmas[0]
    assert 1.4 < found.scatter_db < 2.8


def test_without_scatter_it_is_exact_and_claims_no_more_than_a_meter_can() -> None:
    slopes, levels = line(6, 20, 0.0)
    found = robust(slopes, levels, np.ones(20), *WIDE, np.zeros(2))
    assert found.values == pytest.approx([-40, -2.5], abs=1e-4)
    assert found.scatter_db == LEAST_SCATTER_DB
    assert (found.sigmas > 0).all()


@pytest.mark.parametrize(("low", "high", "end"), [(-1.0, 0.0, -1.0), (-9.0, -4.0, -4.0), (-2.0, 5.0, -2.0)])
@pytest.mark.parametrize("start", [-9.0, -4.0, -1.0, 0.0, 5.0])
def test_a_line_steeper_than_may_be_ends_at_the_bound_wherever_it_begins(
    low: float, high: float, end: float, start: float
) -> None:
    slopes, levels = line(7, 20, 1.0)
    bounds = np.array([-1e3, low]), np.array([1e3, high])
    found = robust(slopes, levels, np.ones(20), *bounds, np.array([0.0, start]))
    assert found.values[1] == pytest.approx(end, abs=1e-3)


def test_a_light_reading_bends_less() -> None:
    """One reading of half the weight pulls the mean of equals half as far, squared."""
    levels = np.array([0.0, 0.0, 0.0, 2.0])
    pulls = []
    for weight in (1.0, 0.5):
        weights = np.array([1.0, 1.0, 1.0, weight])
        found = robust(np.ones((4, 1)), levels, weights, np.array([-9.0]), np.array([9.0]), np.zeros(1))
        soft = optimize.minimize_scalar(
            lambda mean, w=weights: np.sum(2 * (np.sqrt(1 + (w * (levels - mean)) ** 2) - 1)), bounds=(-1, 2)
        )
        assert found.values[0] == pytest.approx(soft.x, abs=1e-4), "soft_l1 at a scatter of 1 dB"
        pulls.append(float(found.values[0]))
    assert 0 < pulls[1] < pulls[0] < 0.5


def test_what_no_row_tells_is_open() -> None:
    """Two columns that always come together: neither is known, whatever the scatter."""
    ones = np.ones((10, 2))
    sigmas, alike = uncertainty(ones, 1.0)
    assert (sigmas > 1e3).all()
    assert abs(alike[0, 1]) == pytest.approx(1)


def test_nothing_to_fit_is_nothing_told() -> None:
    levels = np.array([1.0, -1.0, 2.0, 30.0])
    found = robust(np.zeros((4, 0)), levels, np.ones(4), np.zeros(0), np.zeros(0), np.zeros(0))
    assert found.values.shape == (0,)
    assert found.outlier.tolist() == [False, False, False, True]

"""Straight-line least squares that a few wrong readings do not bend: soft residuals, then the wrong ones named."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from rollsound.radio.reach.answer import Array

LEAST_SCATTER_DB = 1.0
"""A level is read no better than this: the receiver's meter, and fading where one stands."""
OUTLIER_SCATTERS = 3.5
OUTLIER_DB = 6.0
"""A reading is an outlier when it lies further off than 3.5 times the scatter of the rest, and 6 dB or more."""
_FIRST_SCATTER_DB = 6.0
_TURNS = 12


@dataclass(frozen=True)
class Robust:
    """What was fitted, with its standard uncertainty, and which rows do not fit."""

    values: Array
    sigmas: Array
    """Half the width of what holds the true value in 68 % of cases, few readings counted for (Student's t)."""
    correlations: Array
    outlier: NDArray[np.bool_]
    scatter_db: float


def robust(slopes: Array, levels: Array, weights: Array, low: Array, high: Array, start: Array) -> Robust:
    """Fit ``levels = slopes @ values`` within bounds.

    Parameters
    ----------
    slopes
        shape (readings, values); there must be more readings than values
    weights
        of the residuals, 1 for a full reading

    Notes
    -----
    Residuals count as soft_l1 (their square when small, themselves when large) at a width that follows the scatter of
    the middle half of them, so that a third of wrong readings does little harm; then those that are far off are left
    out, and the rest is fitted again until the same ones are.
    """
    outlier = np.zeros(len(levels), bool)
    values, scatter = _soft(slopes, levels, weights, low, high, start, outlier)
    for _ in range(_TURNS):
        far = np.abs(levels - slopes @ values) * weights > max(OUTLIER_SCATTERS * scatter, OUTLIER_DB)
        if len(levels) - far.sum() <= slopes.shape[1] + 1 or np.array_equal(far, outlier):
            break
        outlier = far
        values, scatter = _soft(slopes, levels, weights, low, high, values, outlier)
    return _told(slopes, levels, weights, values, outlier)


def _soft(
    slopes: Array, levels: Array, weights: Array, low: Array, high: Array, start: Array, outlier: NDArray[np.bool_]
) -> tuple[Array, float]:
    a, y = slopes[~outlier] * weights[~outlier, None], levels[~outlier] * weights[~outlier]
    freedom = max(1, len(y) - a.shape[1])
    scatter, values = _FIRST_SCATTER_DB, start

    def off(tried: Array) -> Array:
        away: Array = a @ tried - y
        return away

    def steepness(tried: Array) -> Array:
        return a

    # a search that begins on a bound may not leave it
    inward = np.minimum((high - low) / 4, 1.0)
    for _ in range(_TURNS):
        if a.shape[1]:
            begin = np.clip(values, low + inward, high - inward)
            values = optimize.least_squares(off, begin, steepness, (low, high), loss="soft_l1", f_scale=scatter).x
        spread = 1.4826 * float(np.median(np.abs(off(values)))) * float(np.sqrt(len(y) / freedom))
        before, scatter = scatter, max(LEAST_SCATTER_DB, spread)
        if abs(scatter - before) < 0.01:
            break
    return values, scatter


def _told(slopes: Array, levels: Array, weights: Array, values: Array, outlier: NDArray[np.bool_]) -> Robust:
    a = slopes[~outlier] * weights[~outlier, None]
    off = (levels - slopes @ values)[~outlier] * weights[~outlier]
    freedom = max(1, len(off) - a.shape[1])
    scatter = max(LEAST_SCATTER_DB, float(np.sqrt(np.sum(off**2) / freedom)))
    return Robust(values, *uncertainty(a, scatter), outlier, scatter)


def uncertainty(slopes: Array, scatter_db: float) -> tuple[Array, Array]:
    """Standard uncertainties and correlations of values fitted to rows that scatter by so much."""
    rows, columns = slopes.shape
    if not columns:
        return np.zeros(0), np.zeros((0, 0))
    # columns are brought to one size first, so that a direction that nothing tells shows as such whatever its unit
    size = np.maximum(np.linalg.norm(slopes, axis=0), 1e-9)
    _, strength, turned = np.linalg.svd(slopes / size, full_matrices=False)
    inverse = turned.T @ np.diag(1 / np.maximum(strength, 1e-9) ** 2) @ turned
    root = np.sqrt(np.diag(inverse))
    sigmas = scatter_db * root / size * float(special.stdtrit(max(1, rows - columns), 0.841345))
    return sigmas, inverse / np.outer(root, root)

"""From scattered lags to a clock: a robust line, a smooth curve where the clock bends, and steps where it jumped.

Source: Theil 1950 and Sen 1968 (median of slopes); Beaton & Tukey 1974 (biweight); Eilers & Marx, "Flexible smoothing
with B-splines and penalties", Statistical Science 11(2), 1996; Schwarz 1978 (the information criterion that decides
between line and curve).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

Floats = NDArray[np.float64]
_TUKEY = 4.685
_ROUNDS = 8
_KNOT_SECONDS = 30.0
_MOST_STEPS = 12
_HOLD_SECONDS = 5.0
_PLAIN_JUMP = 8.0
"""Samples: a smaller jump nearer to an end of the take than it must hold may be spoiled windows, and is none."""
_SMOOTHNESS = 10.0 ** np.arange(-3.0, 7.0)


@dataclass(frozen=True, eq=False)
class Fit:
    """Drift (card position minus take position) as a function of take position: ``basis @ coefficients`` plus steps.

    ``steps`` are (take position, samples) pairs, in order. ``sigma`` is the robust scatter of the points; ``good`` says
    which points were believed.
    """

    frames: int
    knots: Floats | None
    coefficients: Floats
    covariance: Floats
    steps: tuple[tuple[float, float], ...]
    sigma: float
    good: NDArray[np.bool_]
    freedom: float = 2.0

    def drift(self, n: Floats) -> Floats:
        """Drift at take positions, with steps."""
        out: Floats = _basis(n, self.frames, self.knots, self.steps) @ self.coefficients
        return out

    def smooth(self, n: Floats) -> Floats:
        """Drift at take positions as if no step had come."""
        rows = _basis(n, self.frames, self.knots, ())
        out: Floats = rows @ self.coefficients[: rows.shape[1]]
        return out

    def error(self, n: Floats) -> Floats:
        """One standard deviation of the drift at take positions."""
        rows = _basis(n, self.frames, self.knots, self.steps)
        variance: Floats = np.einsum("ij,jk,ik->i", rows, self.covariance, rows)
        return np.sqrt(np.maximum(variance, 0.0))

    @property
    def curved(self) -> bool:
        """Whether a line was not enough."""
        return self.knots is not None


def _basis(n: Floats, frames: int, knots: Floats | None, steps: tuple[tuple[float, float], ...]) -> Floats:
    n = np.asarray(n, np.float64)
    if knots is None:
        smooth = np.stack([np.ones_like(n), n / frames - 0.5], axis=1)
    else:
        inside = np.clip(n, 0.0, float(frames))
        smooth = BSpline.design_matrix(inside, knots, 3).toarray()
    return np.concatenate([smooth, *((n >= at)[:, None].astype(np.float64) for at, _ in steps)], axis=1)


def fit_clock(
    n: Floats,
    drift: Floats,
    frames: int,
    sample_rate_hz: int,
    *,
    weights: Floats | None = None,
    least_step: float,
    known_steps: tuple[tuple[float, float], ...] = (),
) -> Fit | None:
    """Fit points (take position ``n``, ``drift``, both (K,) in samples, n rising).

    ``least_step`` is the smallest jump worth calling a step; ``known_steps`` were found
    before and their places are kept. None when fewer than three points agree.
    """
    if n.size < 3:
        return None
    weights = np.ones_like(n) if weights is None else weights
    slope = near_slope(n, drift)
    flat = drift - slope * n - _stairs(n, known_steps)
    good = _not_glitches(flat, least_step)
    if int(good.sum()) < 3:
        return None
    steps = tuple(sorted(known_steps + _find_steps(n[good], flat[good], least_step, _HOLD_SECONDS * sample_rate_hz)))
    line = _robust(n, drift, frames, None, steps, weights, good)
    whole = float(np.ptp(n[line.good])) if line.good.any() else 0.0
    spans = int(frames / (_KNOT_SECONDS * sample_rate_hz))
    if spans < 2 or whole < 2 * _KNOT_SECONDS * sample_rate_hz or int(line.good.sum()) < 12:
        return line
    inner = np.linspace(0.0, float(frames), spans + 1)
    knots = np.concatenate([[inner[0]] * 3, inner, [inner[-1]] * 3])
    curve = _robust(n, drift, frames, knots, steps, weights, good)
    return curve if _curve_is_better(line, curve, n, drift) else line


def _stairs(n: Floats, steps: tuple[tuple[float, float], ...]) -> Floats:
    out = np.zeros_like(n)
    for at, samples in steps:
        out += samples * (n >= at)
    return out


def near_slope(n: Floats, drift: Floats) -> float:
    """Median slope between near neighbours: a few steps and outliers do not move it."""
    slopes = [(drift[k:] - drift[:-k]) / (n[k:] - n[:-k]) for k in range(1, min(6, n.size))]
    return float(np.median(np.concatenate(slopes)))


def _not_glitches(flat: Floats, least_step: float) -> NDArray[np.bool_]:
    reach = 3
    padded = np.pad(flat, reach, mode="reflect" if flat.size > reach else "edge")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1), axis=1)
    away = np.abs(flat - middle)
    scatter = 1.4826 * float(np.median(away))
    good: NDArray[np.bool_] = away <= max(8.0 * scatter, least_step)
    return good


def _find_steps(n: Floats, flat: Floats, least_step: float, hold: float) -> tuple[tuple[float, float], ...]:
    flat = flat.copy()
    steps: list[tuple[float, float]] = []
    near = np.abs(np.diff(flat))
    noise = 1.4826 * float(np.median(near)) if near.size else 0.0
    least = max(least_step, 8.0 * noise)
    while len(steps) < _MOST_STEPS and flat.size >= 6:
        jumps = np.diff(flat)
        held = np.array([_held(n, flat, j, hold) for j in range(jumps.size)])
        held[np.abs(jumps) < 0.5 * np.abs(held)] = 0.0
        j = int(np.argmax(np.abs(held)))
        if abs(held[j]) < least:
            break
        steps.append((0.5 * (n[j] + n[j + 1]), float(held[j])))
        flat[j + 1 :] -= held[j]
    return tuple(sorted(steps))


def _held(n: Floats, flat: Floats, j: int, hold: float) -> float:
    """How far the level after gap ``j`` differs from that before it, if it lasts for ``hold`` on both sides.

    Five points at least, but as many as lie within ``hold``: windows that overlap share what spoils them.
    """
    first = min(int(np.searchsorted(n, n[j] - hold)), max(j - 4, 0))
    last = max(int(np.searchsorted(n, n[j + 1] + hold)), j + 6)
    before, after = flat[first : j + 1], flat[j + 1 : last]
    if before.size < 3 or after.size < 3:
        return 0.0
    jump = float(np.median(after) - np.median(before))
    short = min(n[j] - n[first], n[last - 1 if last <= n.size else -1] - n[j + 1]) < 0.8 * hold
    return 0.0 if short and abs(jump) < _PLAIN_JUMP else jump


def _robust(
    n: Floats,
    drift: Floats,
    frames: int,
    knots: Floats | None,
    steps: tuple[tuple[float, float], ...],
    weights: Floats,
    good: NDArray[np.bool_],
) -> Fit:
    rows = _basis(n, frames, knots, steps)
    penalty = _penalty(rows.shape[1], len(steps)) if knots is not None else np.zeros((rows.shape[1],) * 2)
    w = weights * good
    smooth = 0.0 if knots is None else _best_smoothness(rows, drift, w, penalty)
    sigma = 0.0
    believed: NDArray[np.bool_] = good
    coefficients: Floats = np.zeros(rows.shape[1], np.float64)
    for _ in range(_ROUNDS):
        normal = rows.T @ (rows * w[:, None]) + smooth * penalty
        coefficients = np.asarray(np.linalg.lstsq(normal, rows.T @ (w * drift), rcond=1e-13)[0], np.float64)
        away = np.abs(drift - rows @ coefficients)
        sigma = 1.4826 * float(np.median(away[good])) + 1e-9
        share = np.clip(1.0 - (away / (_TUKEY * sigma)) ** 2, 0.0, None)
        believed = share > 0.0
        w = weights * share**2
    normal = rows.T @ (rows * w[:, None]) + smooth * penalty
    left = drift - rows @ coefficients
    freedom = max(float(np.sum(w > 0)) - rows.shape[1], 1.0)
    variance = float(np.sum(w * left**2)) / max(float(np.sum(w)), 1e-12) * float(np.sum(w > 0)) / freedom
    inverse = np.linalg.pinv(normal, rcond=1e-13, hermitian=True)
    spread = rows.T @ (rows * (w**2)[:, None])
    covariance: Floats = np.asarray(inverse @ spread @ inverse * variance, np.float64)
    free = float(np.trace(inverse @ (rows.T @ (rows * w[:, None]))))
    return Fit(frames, knots, coefficients, covariance, steps, sigma, believed, free)


def _penalty(columns: int, steps: int) -> Floats:
    """Squared second differences of the spline's coefficients; steps are free."""
    size = columns - steps
    second = np.zeros((size - 2, columns))
    second[:, :size] = np.diff(np.eye(size), 2, axis=0)
    out: Floats = second.T @ second
    return out


def _best_smoothness(rows: Floats, drift: Floats, w: Floats, penalty: Floats) -> float:
    """Generalised cross-validation over a coarse grid (Craven & Wahba 1979)."""
    normal = rows.T @ (rows * w[:, None])
    right = rows.T @ (w * drift)
    count = float(np.sum(w > 0))
    best, best_score = float(_SMOOTHNESS[0]), np.inf
    for smooth in _SMOOTHNESS:
        inverse = np.linalg.pinv(normal + smooth * penalty, rcond=1e-13, hermitian=True)
        left = drift - rows @ (inverse @ right)
        free = count - float(np.trace(inverse @ normal))
        score = float(np.sum(w * left**2)) / max(free, 1.0) ** 2
        if score < best_score:
            best, best_score = float(smooth), score
    return best


def _curve_is_better(line: Fit, curve: Fit, n: Floats, drift: Floats) -> bool:
    """Whether the curve earns its extra freedom, counted on the points either of them believes."""
    use = line.good | curve.good
    count = float(use.sum())
    limit = _TUKEY * curve.sigma

    def cost(fit: Fit) -> float:
        left = np.minimum(np.abs(drift[use] - fit.drift(n[use])), limit)
        return count * float(np.log(np.mean(left**2) + 1e-12)) + fit.freedom * float(np.log(count))

    return cost(curve) < cost(line)

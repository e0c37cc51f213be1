"""Reverberation from impulse responses, octave by octave, each figure with what speaks against it.

Squares are summed backwards from where the decay meets the noise; the noise is taken off, and what lies beyond the
meeting point is put back as the straight line that it would be. Curves of several impulses are averaged.

Sources: ISO 3382-1:2009, 5.3 (backward integration, truncation, what is put back) and ISO 3382-2:2008, annex B
(non-linearity, curvature), from memory and excerpts; Lundeby, Vigran, Bietz and Vorländer, Acustica 81 (1995), for
the meeting point, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rollsound.measure.place.octaves import backwards, reached, width_hz
from rollsound.measure.place.tables import limit

F64 = NDArray[np.float64]

STEP_S = 0.001
MOST_RANGE_DB = 100.0
_FIRST_PIECE_S = 0.03
_ROUNDS = 6
_LATE_DB, _LATE_LOW_DB = 20.0, 5.0


@dataclass(frozen=True)
class Fit:
    """A straight line through a part of a decay.

    ``time_s`` is what 60 dB would take, not a number without a line; ``valid`` is told against in ``why``.
    """

    time_s: float
    correlation: float
    nonlinearity_permille: float
    valid: bool
    why: str = ""


NO_FIT = Fit(math.nan, math.nan, math.nan, False, "the decay is too short to be fitted")


@dataclass(frozen=True)
class Decay:
    """Reverberation in one octave.

    ``range_db`` is how far the decay can be followed before the noise; ``curvature_percent`` how much longer T30 is
    than T20. ``curve_db`` has a value every millisecond from 0 dB down to where it was cut.
    """

    octave: int
    edt: Fit
    t20: Fit
    t30: Fit
    range_db: float
    curvature_percent: float
    curve_db: F64
    impulses: int = 1
    spread_s: float = math.nan

    @property
    def holds(self) -> str:
        """The figure that may be used: T30, T20, or none."""
        return "T30" if self.t30.valid else "T20" if self.t20.valid else ""

    @property
    def t_s(self) -> float:
        """The reverberation time that holds; not a number when neither does."""
        return {"T30": self.t30.time_s, "T20": self.t20.time_s, "": math.nan}[self.holds]

    @property
    def why(self) -> str:
        """What speaks against the figure that should have held; empty when T30 does."""
        return self.t30.why if self.holds == "T20" else self.t20.why if not self.holds else ""


def decays(
    impulses: Sequence[ArrayLike], sample_rate_hz: int, octaves: Sequence[int] | None = None
) -> tuple[Decay, ...]:
    """Reverberation in every octave that the rate reaches, or those of ``octaves``.

    Parameters
    ----------
    impulses
        responses from their direct sound on, shape (frames,) each
    """
    wanted = reached(sample_rate_hz)
    if octaves is not None:
        wanted = tuple(at for at in wanted if at in octaves)
    return tuple(decay_of(impulses, sample_rate_hz, at) for at in wanted)


def decay_of(impulses: Sequence[ArrayLike], sample_rate_hz: int, octave: int) -> Decay:
    """Reverberation in one octave from one or several impulse responses of the same place."""
    curves = [_curve(backwards(np.asarray(each, np.float64), octave, sample_rate_hz), sample_rate_hz)
              for each in impulses]  # fmt: skip
    # the weak ones would lift the floor of the average; they count only when there is nothing better
    best = max((each.range_db for each in curves), default=0.0)
    kept = [each for each in curves if each.range_db >= min(limit("t20-range"), best)] or curves
    size = min(each.levels.size for each in kept)
    mean = np.mean([each.levels[:size] for each in kept], axis=0) if size else np.zeros(0)
    curve: F64 = 10.0 * np.log10(np.maximum(mean / mean[0], 1e-20)) if size else mean
    range_db = min(each.range_db for each in kept)
    width = width_hz(octave)
    edt, t20, t30 = (_fit(curve, range_db, width, *part) for part in _PARTS)
    if not t20.valid and not math.isnan(t20.time_s) and range_db >= limit("t20-range"):
        t30 = _against(t30, t20.why)  # a bend in its upper part is a bend in it
    curvature = 100.0 * (t30.time_s / t20.time_s - 1.0) if range_db >= limit("t30-range") else math.nan
    if abs(curvature) > limit("curvature"):
        why = (
            f"the decay is curved: T30 is {abs(curvature):.0f} % {'longer' if curvature > 0 else 'shorter'} than T20, "
            f"as where two rooms are joined"
        )
        t20, t30 = _against(t20, why), _against(t30, why)
    alone = [_fit(10.0 * np.log10(np.maximum(each.levels / each.levels[0], 1e-20)), each.range_db, width, *_PARTS[1])
             for each in kept if each.levels.size]  # fmt: skip
    times = [each.time_s for each in alone if not math.isnan(each.time_s)]
    spread = float(np.std(times, ddof=1)) if len(times) > 1 else math.nan
    return Decay(octave, edt, t20, t30, range_db, curvature, curve, len(kept), spread)


_PARTS = (("EDT", 0.0, -10.0, "edt-range"), ("T20", -5.0, -25.0, "t20-range"), ("T30", -5.0, -35.0, "t30-range"))


def _against(fit: Fit, why: str) -> Fit:
    return Fit(fit.time_s, fit.correlation, fit.nonlinearity_permille, False, fit.why or why)


@dataclass(frozen=True)
class _Curve:
    """Backward sums of one impulse, one value a millisecond, and how far down they mean anything."""

    levels: F64
    range_db: float


def _curve(band: F64, sample_rate_hz: int) -> _Curve:
    squares = band**2
    step = max(1, round(STEP_S * sample_rate_hz))
    meeting = meeting_point(squares, sample_rate_hz)
    if meeting is None:
        return _Curve(np.zeros(0), 0.0)
    cut, noise, slope_db_s, level_at_cut = meeting
    beyond = level_at_cut * sample_rate_hz * 10.0 / (-slope_db_s * math.log(10.0))
    count = cut // step
    pieces = squares[: count * step].reshape(count, step).sum(axis=1) - noise * step
    sums = np.concatenate((np.cumsum(pieces[::-1])[::-1], [0.0])) + beyond
    if not count or sums[0] <= 0.0:
        return _Curve(np.zeros(0), 0.0)
    sums = np.maximum(sums, 1e-30)
    return _Curve(sums, min(MOST_RANGE_DB, max(0.0, -10.0 * math.log10(beyond / float(sums[0])))))


def meeting_point(squares: F64, sample_rate_hz: int) -> tuple[int, float, float, float] | None:
    """Where a decay meets its noise: sample, noise power, slope in dB/s, power of the decay there; none without one."""
    if not squares.size:
        return None
    piece = max(1, round(_FIRST_PIECE_S * sample_rate_hz))
    piece = min(piece, max(1, squares.size // 40))
    noise = max(float(np.mean(squares[-max(1, squares.size // 10) :])), 1e-30)
    levels, times = _pieces(squares, piece, sample_rate_hz)
    if levels.size < 4 or levels.max() <= -300.0:
        return None
    top = int(np.argmax(levels))
    noise_db = 10.0 * math.log10(noise)
    under = np.flatnonzero(levels[top:] < noise_db + 8.0)
    stop = top + (int(under[0]) if under.size else levels.size - top)
    line = _line(times[top:stop], levels[top:stop])
    if line is None:
        return None
    cross = (noise_db - line[1]) / line[0]
    for _ in range(_ROUNDS):
        before = cross
        slope, start = line
        piece = max(1, min(round(2.0 / -slope * sample_rate_hz), squares.size // 20 or 1))  # five in 10 dB
        levels, times = _pieces(squares, piece, sample_rate_hz)
        length_s = squares.size / sample_rate_hz
        quiet_from = min(cross + 7.5 / -slope, 0.9 * length_s)
        noise = max(float(np.mean(squares[int(max(0.0, quiet_from) * sample_rate_hz) :])), 1e-30)
        noise_db = 10.0 * math.log10(noise)
        late_stop = (noise_db + _LATE_LOW_DB - start) / slope
        late_start = (noise_db + _LATE_LOW_DB + _LATE_DB - start) / slope
        chosen = (times >= max(0.0, late_start)) & (times <= late_stop)
        late = _line(times[chosen], levels[chosen])
        if late is None:
            break
        line = late
        cross = (noise_db - line[1]) / line[0]
        if abs(cross - before) < 0.002 * max(cross, 1e-6):
            break
    slope, start = line
    cut = int(max(1, min(cross * sample_rate_hz, squares.size)))
    power = 10.0 ** ((start + slope * cut / sample_rate_hz) / 10.0)
    return cut, noise, slope, power


def _pieces(squares: F64, piece: int, sample_rate_hz: int) -> tuple[F64, F64]:
    count = squares.size // piece
    means = squares[: count * piece].reshape(count, piece).mean(axis=1)
    return 10.0 * np.log10(np.maximum(means, 1e-30)), (np.arange(count) + 0.5) * piece / sample_rate_hz


def _line(times: F64, levels: F64) -> tuple[float, float] | None:
    """Slope in dB/s and level at 0 of a falling line; none when it does not fall."""
    if times.size < 2:
        return None
    slope, start = np.polyfit(times, levels, 1)
    return (float(slope), float(start)) if slope < -1.0 else None


def _fit(curve_db: F64, range_db: float, width_hz: float, name: str, high_db: float, low_db: float, bound: str) -> Fit:
    """A line through a part of the curve, and whether it may be used."""
    first = int(np.argmax(curve_db <= high_db)) if curve_db.size and curve_db.min() <= low_db else 0
    last = int(np.argmax(curve_db <= low_db)) if first or (curve_db.size and curve_db.min() <= low_db) else 0
    if last - first < 2:
        return NO_FIT if range_db >= limit(bound) else _short(name, range_db, bound)
    times = np.arange(first, last + 1) * STEP_S
    levels = curve_db[first : last + 1]
    slope = float(np.polyfit(times, levels, 1)[0])
    correlation = float(np.corrcoef(times, levels)[0, 1])
    time = -60.0 / slope if slope < 0.0 else math.nan
    bent = 1000.0 * (1.0 - correlation**2)
    why = ""
    if range_db < limit(bound):
        why = _short(name, range_db, bound).why
    elif name != "EDT" and bent > limit("nonlinearity"):
        why = f"the decay is no straight line ({bent:.0f} ‰ off, {limit('nonlinearity'):g} ‰ is the most)"
    elif math.isnan(time) or width_hz * time < limit("bandwidth-time"):
        why = "the place decays faster than the octave's filter can follow"
    return Fit(time, correlation, bent, not why, why)


def _short(name: str, range_db: float, bound: str) -> Fit:
    why = (
        f"the noise is reached {range_db:.0f} dB down, and {name} needs {limit(bound):g} dB; make a louder burst, or "
        "wait for a quieter moment"
    )
    return Fit(math.nan, math.nan, math.nan, False, why)


def middle_t_s(found: Sequence[Decay]) -> float:
    """Mean of what holds at 500 Hz and 1 kHz, as one figure for the place; not a number when neither holds.

    Source: ISO 3382-1:2009, 5 (mid-frequency mean), from memory.
    """
    times = [each.t_s for each in found if each.octave in (3, 4) and not math.isnan(each.t_s)]
    return float(np.mean(times)) if times else math.nan

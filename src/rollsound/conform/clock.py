"""A card's clock over the day, pooled from every take that could be measured.

Two states, phase and rate; the rate wanders (temperature), the phase wanders a little by itself; a Kalman filter and
smoother run over the day's observations, and the amount of wandering is the one under which they are likeliest. A take
nobody spoke in gets its place from this, with the uncertainty that follows.

Source: the two-state clock model of Zucca & Tavella, "The clock model and its relationship with the Allan and related
variances", IEEE Trans. UFFC 52(2), 2005; Rauch, Tung & Striebel, AIAA Journal 3(8), 1965, for the smoother.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rollsound.quantities import count, signed

Floats = NDArray[np.float64]

_WANDER_PPM_PER_ROOT_HOUR = (0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
_DEFAULT_WANDER = 0.3
"""Rate random walk assumed when too few takes tell: 0.3 ppm in an hour, a plain crystal warming by a few degrees."""
_CAREFUL_WANDER = 1.0
"""For telling jumps from drift when fewer than four takes tell."""
_PRIOR_RATE_PPM = 100.0
_PRIOR_PHASE = 1e12
_PHASE_WANDER = 0.002
"""Samples per root second: keeps the filter from trusting a fit beyond what windows really tell."""
_LEAST_SIGMAS = 6.0
_LEAST_SAMPLES = 2.0


@dataclass(frozen=True)
class Observation:
    """One take's phase at some moments: ``x`` recorder samples, ``y`` card samples, ``sigma`` one-sigma, each (M,).

    ``recording`` numbers the unbroken card recordings; phase is unknown anew in each.
    """

    take: str
    recording: int
    x: tuple[float, ...]
    y: tuple[float, ...]
    sigma: tuple[float, ...]


@dataclass(frozen=True)
class ClockStep:
    """The card jumped by ``samples`` against the recorder, somewhere between two takes (recorder samples)."""

    after_x: float
    before_x: float
    samples: float


@dataclass(frozen=True, eq=False)
class ClockModel:
    """The clock of one card. ``ratio`` is nominal card samples per recorder sample.

    Phases are card sample minus ``ratio`` times recorder sample. Each segment (a recording, or what lies between two
    steps) is a number; ``contradicting`` names takes whose measured place the others deny. ``jitter_samples`` is the
    scatter of the takes' time stamps (0 when they hold together to a sample). ``rate_ppm`` is the day's mean.
    """

    card: str
    ratio: float
    sample_rate_hz: int
    observations: tuple[Observation, ...]
    segments: tuple[int, ...]
    wander: float
    jitter_samples: float
    rate_ppm: float
    rate_span_ppm: float
    steps: tuple[ClockStep, ...]
    contradicting: tuple[str, ...]
    residual_samples: float

    def segment_at(self, recording: int, x: float) -> int | None:
        """The segment for a moment of a recording: the one around it, or the nearest; None between two of them."""
        spans: dict[int, list[float]] = {}
        for seen, segment in zip(self.observations, self.segments, strict=True):
            if seen.recording == recording and segment >= 0:
                spans.setdefault(segment, []).extend(seen.x)
        for segment, places in spans.items():
            if min(places) <= x <= max(places):
                return segment
        before = [(max(places), segment) for segment, places in spans.items() if max(places) < x]
        after = [(min(places), segment) for segment, places in spans.items() if min(places) > x]
        if before and after:
            return None
        if before:
            return max(before)[1]
        return min(after)[1] if after else None

    def predict(self, segment: int, x: Floats, without: str = "") -> tuple[Floats, Floats]:
        """Card samples and their sigma at recorder samples ``x`` (M,), optionally leaving one take out."""
        used = [
            (seen, own)
            for seen, own in zip(self.observations, self.segments, strict=True)
            if own >= 0 and seen.take != without
        ]
        phase, sigma = _smooth(used, x, segment, self.wander, self.jitter_samples, self.sample_rate_hz, self.ratio)
        return phase + self.ratio * x, sigma

    @property
    def sentence(self) -> str:
        """The clock in words."""
        takes = len(self.observations)
        if not takes:
            return "No take could be measured, so nothing is known of this card's clock."
        text = f"{signed(self.rate_ppm, 2)} ppm over {count(takes, 'take')}"
        if self.rate_span_ppm > 0.05:
            text += f", wandering over {self.rate_span_ppm:.2f} ppm"
        if self.steps:
            jumps = ", ".join(signed(step.samples) for step in self.steps)
            text += f", with {count(len(self.steps), 'jump')} ({jumps} samples: "
            text += "jammed anew or restarted)"
        if self.jitter_samples > 0.0:
            text += f"; the takes' time stamps scatter by {self.jitter_samples:,.0f} samples"
        if self.contradicting:
            text += (
                f"; {', '.join(self.contradicting)} does not fit"
                if len(self.contradicting) == 1
                else (f"; {', '.join(self.contradicting)} do not fit")
            )
        return text + "."


def fit_clock_model(card: str, observations: Sequence[Observation], ratio: float, sample_rate_hz: int) -> ClockModel:
    """Pool a card's takes: find jumps and contradictions, the wander that explains the rest, and the day's rate."""
    seen = tuple(sorted(observations, key=lambda o: (o.recording, o.x[0])))
    wander, jitter = _wander_of_rates(seen, sample_rate_hz), 0.0
    segments, contradicting = _segments(seen, wander, jitter, sample_rate_hz, ratio)
    if len(seen) >= 6 and _breaks(seen, segments) > 0.3 * len(seen):
        jitter = _stamp_scatter(seen, wander, sample_rate_hz, ratio)
        segments, contradicting = _segments(seen, wander, jitter, sample_rate_hz, ratio)
    used = [(o, s) for o, s in zip(seen, segments, strict=True) if s >= 0]
    wander = _DEFAULT_WANDER
    if len(used) >= 4:
        scores = [_likelihood(used, w, jitter, sample_rate_hz, ratio) for w in _WANDER_PPM_PER_ROOT_HOUR]
        wander = _WANDER_PPM_PER_ROOT_HOUR[int(np.argmax(scores))]
    model = ClockModel(card, ratio, sample_rate_hz, seen, segments, wander, jitter, 0.0, 0.0, (), contradicting, 0.0)
    return _described(model) if used else model


def _wander_of_rates(seen: Sequence[Observation], rate: int) -> float:
    """How much the rate wanders, from the takes' own rates only: jumps of phase do not touch those."""
    at, ppm = [], []
    for o in seen:
        if o.x[-1] > o.x[0]:
            at.append(0.5 * (o.x[0] + o.x[-1]) / rate)
            ppm.append(((o.y[-1] - o.y[0]) / (o.x[-1] - o.x[0])) * 1e6)
    if len(ppm) < 4:
        return _CAREFUL_WANDER
    order = np.argsort(at)
    t, p = np.array(at)[order], np.array(ppm)[order]
    moves = np.abs(np.diff(p)) / np.sqrt(np.maximum(np.diff(t), 1.0) / 3600.0)
    # A lower quantile (0.35 of a half normal lies at 0.454 sigma): one odd take spoils two moves out of few.
    return float(np.clip(2.0 / 0.454 * np.quantile(moves, 0.35, method="lower"), 0.03, 10.0))


def _described(model: ClockModel) -> ClockModel:
    rates, left = [], []
    for seen, segment in zip(model.observations, model.segments, strict=True):
        if segment < 0:
            continue
        x = np.array(seen.x)
        y, _ = model.predict(segment, x)
        left.append(np.abs(y - np.array(seen.y)).max())
        if x[-1] > x[0]:
            rates.append(((y[-1] - y[0]) / (x[-1] - x[0]) / model.ratio - 1.0) * 1e6)
    steps = []
    for (a, sa), (b, sb) in zip(
        list(zip(model.observations, model.segments, strict=True))[:-1],
        list(zip(model.observations, model.segments, strict=True))[1:],
        strict=True,
    ):
        if sa >= 0 and sb >= 0 and sa != sb and a.recording == b.recording:
            there = np.array([b.x[0]])
            jump = float(model.predict(sb, there)[0][0] - model.predict(sa, there)[0][0])
            steps.append(ClockStep(float(a.x[-1]), float(b.x[0]), jump))
    return replace(
        model,
        rate_ppm=float(np.median(rates)) if rates else 0.0,
        rate_span_ppm=float(np.ptp(rates)) if rates else 0.0,
        steps=tuple(steps),
        residual_samples=float(np.max(left)) if left else 0.0,
    )


def _breaks(seen: Sequence[Observation], segments: Sequence[int]) -> int:
    recordings = len({o.recording for o in seen})
    return sum(s < 0 for s in segments) + max(len({s for s in segments if s >= 0}) - recordings, 0)


def _segments(
    seen: Sequence[Observation], wander: float, jitter: float, rate: int, ratio: float
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Give each observation a segment; -1 and its name where it contradicts what comes before and after.

    A take that disagrees with those before it is a jump if the next take sides with it (or there are only two), and a
    contradiction if the next sides with the earlier ones, or if there is none to side with it.
    """
    segments = [-1] * len(seen)
    contradicting: list[str] = []
    number = -1
    for recording in sorted({o.recording for o in seen}):
        own = [i for i, o in enumerate(seen) if o.recording == recording]
        number += 1
        members: list[int] = []
        for place, i in enumerate(own):
            if not members or _misfit(seen, members, i, wander, jitter, rate, ratio) <= 1.0:
                segments[i] = number
                members.append(i)
                continue
            later = own[place + 1 :][:2]
            old = [_misfit(seen, members, j, wander, jitter, rate, ratio, absolute=True) for j in later]
            new = [_misfit(seen, [i], j, wander, jitter, rate, ratio, absolute=True) for j in later]
            sides_new = sum(a < b for a, b in zip(new, old, strict=True))
            if 2 * sides_new > len(later) or (not later and len(members) == 1):
                number += 1
                members = [i]
                segments[i] = number
            else:
                contradicting.append(seen[i].take)
    return tuple(segments), tuple(contradicting)


def _misfit(
    seen: Sequence[Observation],
    members: Sequence[int],
    i: int,
    wander: float,
    jitter: float,
    rate: int,
    ratio: float,
    absolute: bool = False,
) -> float:
    """How far a take lies from where others put it, in samples or in what is allowed."""
    used = [(seen[m], 0) for m in members]
    x, y = np.array(seen[i].x), np.array(seen[i].y)
    phase, sigma = _smooth(used, x, 0, wander, jitter, rate, ratio)
    own = np.hypot(np.array(seen[i].sigma), jitter)
    allowed = np.maximum(_LEAST_SIGMAS * np.hypot(sigma, own), _LEAST_SAMPLES)
    away = np.abs(y - ratio * x - phase)
    return float(np.max(away if absolute else away / allowed))


def _stamp_scatter(seen: Sequence[Observation], wander: float, rate: int, ratio: float) -> float:
    """Robust scatter of the takes about a straight clock, for takes whose stamps are not good to a sample."""
    left: list[float] = []
    for recording in {o.recording for o in seen}:
        own = [o for o in seen if o.recording == recording]
        if len(own) < 3:
            continue
        x = np.array([np.mean(o.x) for o in own])
        p = np.array([np.mean(o.y) for o in own]) - ratio * x
        slopes = [(p[j] - p[i]) / (x[j] - x[i]) for i in range(x.size) for j in range(i + 1, x.size) if x[j] > x[i]]
        flat = p - np.median(slopes) * x
        left.extend(np.abs(flat - np.median(flat)))
    return 1.4826 * float(np.median(left)) if left else 0.0


def _smooth(
    used: Sequence[tuple[Observation, int]],
    x: Floats,
    segment: int,
    wander: float,
    jitter: float,
    rate: int,
    ratio: float,
) -> tuple[Floats, Floats]:
    """Smoothed phase and sigma at ``x`` of a segment: queries ride along as observations without weight."""
    rows = _rows(used, jitter, ratio)
    rows += [(float(v), segment, 0.0, np.inf, q) for q, v in enumerate(x)]
    rows.sort(key=lambda r: (r[1], r[0]))
    states, covariances, _ = _run(rows, wander, rate)
    phase, sigma = np.zeros(x.size), np.zeros(x.size)
    for row, state, covariance in zip(rows, states, covariances, strict=True):
        if row[4] >= 0:
            phase[row[4]] = state[0]
            sigma[row[4]] = np.sqrt(max(covariance[0, 0], 0.0))
    return phase + _origin(used, segment, ratio), np.hypot(sigma, jitter)


Row = tuple[float, int, float, float, int]


def _origin(used: Sequence[tuple[Observation, int]], segment: int, ratio: float) -> float:
    """A phase to count from in each segment, so that float64 keeps its digits."""
    for seen, own in used:
        if own == segment:
            return seen.y[0] - ratio * seen.x[0]
    return 0.0


def _rows(used: Sequence[tuple[Observation, int]], jitter: float, ratio: float) -> list[Row]:
    out: list[Row] = []
    origins: dict[int, float] = {}
    for seen, segment in used:
        origin = origins.setdefault(segment, seen.y[0] - ratio * seen.x[0])
        for x, y, sigma in zip(seen.x, seen.y, seen.sigma, strict=True):
            out.append((x, segment, y - ratio * x - origin, float(np.hypot(max(sigma, 0.01), jitter)), -1))
    return out


def _run(rows: Sequence[Row], wander: float, rate: int) -> tuple[list[Floats], list[Floats], float]:
    """Filter forward and smooth back over rows sorted by segment and time; also the log likelihood."""
    per_root_second = wander * 1e-6 / 60.0  # rate in samples per sample, random walk per root second
    state: Floats = np.zeros(2)
    cov: Floats = np.diag([_PRIOR_PHASE, (_PRIOR_RATE_PPM * 1e-6) ** 2])
    before: list[tuple[Floats, Floats, Floats]] = []
    after: list[tuple[Floats, Floats]] = []
    score = 0.0
    last_x, last_segment = rows[0][0], rows[0][1]
    for x, segment, phase, sigma, _ in rows:
        seconds = max((x - last_x) / rate, 0.0) if segment == last_segment else abs(x - last_x) / rate
        move: Floats = np.array([[1.0, seconds * rate], [0.0, 1.0]])
        q = per_root_second**2
        noise: Floats = np.array(
            [[q * rate**2 * seconds**3 / 3, q * rate * seconds**2 / 2], [q * rate * seconds**2 / 2, q * seconds]]
        )
        noise[0, 0] += _PHASE_WANDER**2 * seconds
        if segment != last_segment:
            move[0, :] = 0.0
            noise = np.diag([_PRIOR_PHASE, q * seconds])
        state, cov = move @ state, move @ cov @ move.T + noise
        before.append((move, state, cov))
        if np.isfinite(sigma):
            innovation = phase - state[0]
            spread = cov[0, 0] + sigma**2
            gain = cov[:, 0] / spread
            state = state + gain * innovation
            keep = np.eye(2) - np.outer(gain, [1.0, 0.0])
            cov = keep @ cov @ keep.T + np.outer(gain, gain) * sigma**2
            if spread < 0.5 * _PRIOR_PHASE:
                score -= 0.5 * float(innovation**2 / spread + np.log(spread))
        after.append((state, cov))
        last_x, last_segment = x, segment
    states, covariances = [after[-1][0]], [after[-1][1]]
    for k in range(len(rows) - 2, -1, -1):
        move, ahead, ahead_cov = before[k + 1]
        back = after[k][1] @ move.T @ np.linalg.pinv(ahead_cov, rcond=1e-30, hermitian=True)
        states.append(after[k][0] + back @ (states[-1] - ahead))
        covariances.append(after[k][1] + back @ (covariances[-1] - ahead_cov) @ back.T)
    return states[::-1], covariances[::-1], score


def _likelihood(
    used: Sequence[tuple[Observation, int]], wander: float, jitter: float, rate: int, ratio: float
) -> float:
    rows = sorted(_rows(used, jitter, ratio), key=lambda r: (r[1], r[0]))
    return _run(rows, wander, rate)[2]

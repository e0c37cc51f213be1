"""One card against one radio track: where the take lies on the card, how fast its clock runs, whether to believe it.

Stages: features tell where (``coarse``), whitened windows tell to a third of a sample (``windows``), a robust line,
curve or stepped line goes through them (``fit``), the cross-spectrum's phase tells the rest (``fine``), and coherence
and level tell whether it is the same microphone at all (``coherence``).

Longer than most files: the stages hand one pair along and share its windows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from rollsound.conform import fine
from rollsound.conform.chunks import Guess, guess_along
from rollsound.conform.coarse import CONFIDENT, STAMP_RATIOS
from rollsound.conform.coherence import COHERENCE_SECONDS, LEAST_LIKENESS, SAME_MIC, Mic, MicProof, prove_mic
from rollsound.conform.envelope import Envelope, envelope_of
from rollsound.conform.fit import Fit, fit_clock
from rollsound.conform.model import KNOT_SECONDS, ClockMap, Step
from rollsound.conform.readers import ArrayReader, Reader, ResampledReader, simple
from rollsound.conform.windows import SEARCH_SECONDS, WINDOW_SECONDS, Whitened, pick_starts, read_padded

_COARSE_WINDOWS = 100
_FINE_WINDOWS = 250
_OVERLAP = 2.0
"""Fine windows a window's length: half overlapped, as Welch 1967 found best for Hann. Rough ones need no overlap."""
_SECONDS_PER_WINDOW = 4.0
_LEAST_QUALITY = 1.2
_MOST_SIGMA = 0.5
_LEAST_AGREEING = 0.5
_LEAST_WINDOWS = 4
_MOST_ROUGH = 5.0
_COARSE_STEP = 8.0
_FINE_STEP = 0.6
_PROOF_WINDOWS = 60
_PROOF_RANK = 0.85
_REFINE_STEPS = 8
_TRY_AT = (0.5, 0.35, 0.65, 0.2, 0.8)
_MOST_CLOCK_PPM = 300.0
_HOPELESS = 0.4
"""Coherence explained after the rough fit from which the fine one is not worth making: 0.55 is needed in the end."""


@dataclass(frozen=True, eq=False)
class Alignment:
    """What came of one pair. ``found`` is false when no place fits; then only ``reason`` and the proofs mean something.

    ``map`` gives card positions (in the card's own samples) of take samples. ``stamp`` is the nominal speed (card
    samples per take sample beyond the rates' ratio) when the files disagree by one of the trade's mis-stamps, else 1;
    ``rate_ppm`` is the clocks'
    difference beyond it, without the steps. ``sigma_samples`` is the scatter of single windows about the map,
    ``uncertainty_samples`` one sigma of its worst point, ``rate_uncertainty_ppm`` that of the rate. ``agreeing`` is the
    share of windows that fit. ``middle_frame`` is where the windows' weight lies: the place a line is best known.
    """

    found: bool
    reason: str
    mic: MicProof
    map: ClockMap | None = None
    offset_samples: float = float("nan")
    rate_ppm: float = float("nan")
    stamp: Fraction = Fraction(1)
    sigma_samples: float = float("nan")
    uncertainty_samples: float = float("nan")
    rate_uncertainty_ppm: float = float("nan")
    middle_frame: float = 0.0
    agreeing: float = 0.0
    windows: int = 0
    coarse_confidence: float = 0.0
    polarity: int = 1
    curved: bool = False
    steps: tuple[Step, ...] = ()
    active_seconds: float = 0.0

    @property
    def same_mic(self) -> bool:
        """Whether the card may stand in for the track."""
        return self.found and self.mic.verdict is Mic.SAME and self.sigma_samples < _MOST_SIGMA

    @property
    def confidence(self) -> float:
        """0 to 1: coherence explained (0.4 counts nothing, 0.9 all) times the share of windows that agree."""
        if not self.found or not np.isfinite(self.mic.explained):
            return 0.0
        return float(np.clip((self.mic.explained - 0.4) / 0.5, 0.0, 1.0) * self.agreeing)


_NO_PROOF = MicProof(Mic.UNKNOWN, float("nan"), float("nan"), float("nan"), float("nan"), 0)


@dataclass(frozen=True)
class Near:
    """Where to look on the card: position of the take's first sample, give or take so many seconds."""

    card_position: float
    seconds: float = 60.0


def align(
    card: NDArray[np.float32],
    radio: NDArray[np.float32],
    sample_rate_hz: int,
    *,
    near: Near | None = None,
    card_rate_hz: int | None = None,
) -> Alignment:
    """Align a radio track (n,) to a card (m,), both float32 in memory. See ``align_readers``."""
    return align_readers(
        ArrayReader(card, card_rate_hz or sample_rate_hz), ArrayReader(radio, sample_rate_hz), near=near
    )


def align_readers(
    card: Reader,
    radio: Reader,
    *,
    card_channel: int = 0,
    radio_channel: int = 0,
    card_envelope: Envelope | None = None,
    radio_envelope: Envelope | None = None,
    near: Near | None = None,
    stamps: tuple[Fraction, ...] = STAMP_RATIOS,
) -> Alignment:
    """Align one channel of a take to one channel of a card of any length; only windows of either are held.

    Parameters
    ----------
    card_envelope, radio_envelope : Envelope or None
        features made before (of the whole recording or of any part); made here when missing
    near : Near or None
        search only there
    stamps : tuple of Fraction
        nominal speeds to try, in order, until one holds

    Source: Knapp & Carter 1976 for the correlation, and the modules named above.
    """
    take_envelope = radio_envelope or envelope_of(radio, radio_channel)
    active = _active_seconds(take_envelope)
    if active < 1.0:
        return Alignment(
            False, "The track is silent, so there is nothing to align by", _NO_PROOF, active_seconds=active
        )
    if card_envelope is None:
        card_envelope = envelope_of(card, card_channel, *_span(card, radio, near))
    best = Alignment(False, "Nothing on the card resembles the track", _NO_PROOF, active_seconds=active)
    for stamp in stamps:
        ratio = Fraction(card.sample_rate_hz, radio.sample_rate_hz) * stamp
        if stamp != 1 and not simple(ratio):
            continue
        inner: Reader = card if ratio == 1 else ResampledReader(card, ratio, radio.sample_rate_hz)
        pair = _Pair(inner, radio, card_channel, radio_channel, card_envelope, take_envelope, ratio)
        found = pair.run()
        found = replace(found, stamp=stamp, active_seconds=active)
        if _rank(found) > _rank(best):
            best = found
        if best.found and abs(best.rate_ppm) < _MOST_CLOCK_PPM:
            break
    return best


def _rank(a: Alignment) -> tuple[bool, bool, float]:
    return a.found, a.found and abs(a.rate_ppm) < _MOST_CLOCK_PPM, a.agreeing * min(a.coarse_confidence, 10.0)


def _active_seconds(envelope: Envelope) -> float:
    dbfs = envelope.levels_dbfs()
    return float(np.sum(dbfs > -85.0)) * envelope.hop_seconds


def _span(card: Reader, radio: Reader, near: Near | None) -> tuple[int, int]:
    if near is None:
        return 0, card.frames
    margin = int(near.seconds * card.sample_rate_hz)
    first = int(near.card_position)
    length = int(radio.frames * card.sample_rate_hz / radio.sample_rate_hz)
    return max(first - margin, 0), max(min(first + length + margin, card.frames), 0)


@dataclass
class _Pair:
    """The stages of one pair at one nominal ratio. Card positions in here are at the take's rate."""

    card: Reader
    radio: Reader
    card_channel: int
    radio_channel: int
    card_envelope: Envelope
    take_envelope: Envelope
    ratio: Fraction
    polarity: int = field(default=1)
    step_doubt: list[int] = field(default_factory=list)

    def run(self) -> Alignment:
        guess = guess_along(self.card_envelope, self.take_envelope, float(self.ratio), self.radio.sample_rate_hz)
        if guess is None:
            return Alignment(False, "Nothing on the card resembles the track", _NO_PROOF)
        n, drift, quality, signs = self._whitened(guess)
        strong = quality > _LEAST_QUALITY
        n, drift, signs = n[strong], drift[strong], signs[strong]
        first = fit_clock(n, drift, self.radio.frames, self._hz, least_step=_COARSE_STEP)
        agreeing = float(np.mean(first.good)) if first is not None else 0.0
        if (
            first is None
            or np.sum(first.good) < _LEAST_WINDOWS
            or agreeing < _LEAST_AGREEING
            or first.sigma > _MOST_ROUGH
        ):
            reason = _no_place(first, int(n.size), guess.confidence)
            moving = first is not None and guess.confidence >= CONFIDENT
            mic = replace(_NO_PROOF, verdict=Mic.OTHER) if moving else _NO_PROOF
            return Alignment(False, reason, mic, agreeing=agreeing, coarse_confidence=guess.confidence)
        self.polarity = 1 if float(np.sum(signs[first.good])) >= 0 else -1
        mic = self._prove(first)
        if mic.verdict is not Mic.UNKNOWN and mic.explained < _HOPELESS:
            return self._answer(first, int(n.size), mic, guess)
        first = self._place_steps(first, n[first.good])
        final, used = self._fine(first)
        mic = self._prove(final)
        return self._answer(final, used, mic, guess)

    @property
    def _hz(self) -> int:
        return self.radio.sample_rate_hz

    def _radio(self, start: int, frames: int) -> NDArray[np.float32]:
        return read_padded(self.radio, self.radio_channel, start, frames)

    def _width(self, seconds: float) -> int:
        """A power of two near so many seconds, but no more than half the take."""
        wide: int = 1 << max(round(math.log2(seconds * self._hz)), 8)
        while wide > max(self.radio.frames // 2, 512):
            wide //= 2
        return wide

    def _count(self, most: int, seconds: float, overlap: float = 1.0) -> int:
        """Windows wanted: a fixed number up to ten minutes, then more; no closer than half a window."""
        length = self.radio.frames / self._hz
        return int(max(min(most, overlap * length / seconds), length / _SECONDS_PER_WINDOW / (_FINE_WINDOWS / most), 3))

    def _whitened(self, guess: Guess) -> tuple[NDArray[np.float64], ...]:
        """Middles, drifts, qualities and signs of the whitened windows."""
        window = self._width(WINDOW_SECONDS)
        compare = Whitened(window, round(SEARCH_SECONDS * self._hz), self._hz)
        starts = pick_starts(self.take_envelope, window, self._count(_COARSE_WINDOWS, WINDOW_SECONDS))
        rows = [self._one(compare, int(s), float(guess.drift(float(s) + window / 2))) for s in starts]
        found = np.array(rows, np.float64).reshape(-1, 3)
        return starts.astype(np.float64) + window / 2, found[:, 0], found[:, 1], found[:, 2]

    def _one(self, compare: Whitened, start: int, drift: float) -> tuple[float, float, float]:
        at = start + round(drift) - compare.reach
        lag, quality, sign = compare.lag(
            self._radio(start, compare.window),
            read_padded(self.card, self.card_channel, at, compare.window + 2 * compare.reach),
        )
        return at + lag - start, quality, float(sign)

    def _place_steps(self, fit: Fit, good: NDArray[np.float64]) -> Fit:
        """Halve the gap between the believed windows around each step, asking which side of it fits in the middle."""
        window = self._width(WINDOW_SECONDS)
        compare = Whitened(window, round(SEARCH_SECONDS * self._hz), self._hz)
        placed = []
        for at, samples in fit.steps:
            low = float(np.max(good[good < at], initial=0.0))
            high = float(np.min(good[good >= at], initial=float(self.radio.frames)))
            before = float(fit.drift(np.array([at - 1.0]))[0])
            for _ in range(_REFINE_STEPS):
                middle = next(
                    (
                        m
                        for share in _TRY_AT
                        if (m := low + share * (high - low)) and self._side(compare, m, before, samples)
                    ),
                    None,
                )
                if middle is None or high - low < window / 2:
                    break
                low, high = (middle, high) if self._side(compare, middle, before, samples) < 0 else (low, middle)
            placed.append((0.5 * (low + high), samples))
            self.step_doubt.append(round(0.5 * (high - low) + 0.25 * window))
        return replace(fit, steps=tuple(placed))

    def _side(self, compare: Whitened, middle: float, before: float, samples: float) -> int:
        """Whether a window about ``middle`` lies before (-1) or after (1) a step, or does not say (0)."""
        start = int(middle - compare.window / 2)
        fits = []
        for jump in (0.0, samples):
            got, quality, _ = self._one(compare, start, before + jump)
            fits.append(quality if abs(got - before - jump) < _COARSE_STEP and quality > _LEAST_QUALITY else 0.0)
        return int(np.sign(fits[1] - fits[0]))

    def _along(self, fit: Fit, starts: NDArray[np.int64], width: int) -> NDArray[np.float32]:
        out = np.zeros((starts.size, width), np.float32)
        for row, start in enumerate(starts):
            ends = np.array([start, start + width - 1], np.float64)
            at = ends + fit.drift(ends + 0.0)
            if abs(at[1] - at[0] - (width - 1)) > 2.0:  # a step inside: lay the window along its middle
                at = ends + float(fit.drift(np.array([start + width / 2]))[0])
            out[row] = fine.read_along(self.card, self.card_channel, np.linspace(at[0], at[1], width))
        return out

    def _fine(self, fit: Fit) -> tuple[Fit, int]:
        width = self._width(fine.FINE_SECONDS)
        starts = pick_starts(self.take_envelope, width, self._count(_FINE_WINDOWS, fine.FINE_SECONDS, _OVERLAP))
        radio = np.stack([self._radio(int(s), width) for s in starts]) * np.float32(self.polarity)
        middle = starts.astype(np.float64) + width / 2
        for _ in range(2):
            lags = fine.fine_lags(radio, self._along(fit, starts, width), self._hz)
            seen = lags.sigma < 1.0
            if int(seen.sum()) < 3:
                return fit, int(seen.sum())
            drift = fit.drift(middle) + lags.lag
            weights = 1.0 / (lags.sigma**2 + 0.01**2)
            again = self._refit(fit, middle[seen], drift[seen], weights[seen])
            if again is None:
                return fit, int(seen.sum())
            moved = float(np.max(np.abs(again.drift(middle) - fit.drift(middle))))
            fit = again
            if moved < 1.0:
                break
        return fit, int(starts.size)

    def _refit(
        self, fit: Fit, n: NDArray[np.float64], drift: NDArray[np.float64], weights: NDArray[np.float64]
    ) -> Fit | None:
        """Fit anew, keeping the places of steps found before."""
        if not fit.steps:
            return fit_clock(n, drift, self.radio.frames, self._hz, weights=weights, least_step=_FINE_STEP)
        return fit_clock(
            n, drift, self.radio.frames, self._hz, weights=weights, least_step=_FINE_STEP, known_steps=fit.steps
        )

    def _prove(self, fit: Fit) -> MicProof:
        width = self._width(COHERENCE_SECONDS)
        by_radio = pick_starts(self.take_envelope, width, _PROOF_WINDOWS, rank=_PROOF_RANK)
        ends = np.array([0.0, float(self.radio.frames)])
        at = (ends + fit.drift(ends)) * float(self.ratio)
        env = self.card_envelope
        first, last = ((at - env.start) / env.hop).astype(int)
        part = env.part(int(first), int(last))
        card_width = max(int(width * float(self.ratio)), env.hop)
        picked = pick_starts(part, card_width, _PROOF_WINDOWS, rank=_PROOF_RANK) + part.start
        offset = float(fit.drift(np.array([self.radio.frames / 2]))[0])
        by_card = (picked / float(self.ratio) - offset).astype(np.int64)
        starts = np.concatenate([by_radio, by_card])
        starts = starts[(starts >= 0) & (starts + width <= self.radio.frames)]
        if starts.size == 0:
            return _NO_PROOF
        radio = np.stack([self._radio(int(s), width) for s in starts])
        along = self._along(fit, starts, width)
        fine.mask_mutes(radio, along)
        quiet = np.stack(
            [self._radio(int(s), width) for s in _quiet_starts(self.take_envelope, width)] or [radio[0] * 0]
        )
        return prove_mic(along, radio, starts.astype(np.float64), quiet, self._hz)

    def _answer(self, fit: Fit, used: int, mic: MicProof, guess: Guess) -> Alignment:
        frames = self.radio.frames
        grid = np.linspace(0.0, float(frames), 50)
        clock = _map_of(fit, frames, self._hz, float(self.ratio))
        offset, ppm = _line(fit, frames)
        rate_error = _rate_error_ppm(fit, frames)
        good = float(np.mean(fit.good))
        ratio = float(self.ratio)
        jumps = fit.coefficients[len(fit.coefficients) - len(fit.steps) :]
        doubts = self.step_doubt + [self._width(WINDOW_SECONDS)] * len(fit.steps)
        steps = tuple(
            Step(round(at), float(jump) * ratio, doubt)
            for (at, _), jump, doubt in zip(fit.steps, jumps, doubts, strict=False)
        )
        sentence = _sentence(mic, fit, good, used)
        return Alignment(
            True,
            sentence,
            mic,
            clock,
            offset * ratio,
            ppm,
            sigma_samples=fit.sigma,
            uncertainty_samples=float(np.max(fit.error(grid))) + 0.005,
            rate_uncertainty_ppm=rate_error,
            middle_frame=frames / 2,
            agreeing=good,
            windows=used,
            coarse_confidence=guess.confidence,
            polarity=self.polarity,
            curved=fit.curved,
            steps=steps,
        )


def _quiet_starts(envelope: Envelope, width: int) -> list[int]:
    """Starts of the quietest windows that hold no digital silence, at most twenty, not overlapping."""
    length = max(width // envelope.hop, 1)
    dbfs = envelope.levels_dbfs()
    if dbfs.size < length:
        return []
    spans = dbfs[: dbfs.size // length * length].reshape(-1, length)
    usable = np.flatnonzero(spans.min(axis=1) > -115.0)
    power = np.mean(10 ** (spans[usable] / 10), axis=1)
    quietest = usable[np.argsort(power)[: max(min(20, usable.size // 10), 0)]]
    return [int(i) * length * envelope.hop for i in quietest]


def _line(fit: Fit, frames: int) -> tuple[float, float]:
    """Offset and ppm of the clock itself, as before its first step."""
    grid = np.linspace(0.0, float(frames), 201)
    slope, level = np.polyfit(grid, fit.smooth(grid), 1)
    return float(level), float(slope) * 1e6


def _rate_error_ppm(fit: Fit, frames: int) -> float:
    """Sigma of the end-to-end slope, from the ends' errors (near independent, for a line about its middle)."""
    a, b = fit.error(np.array([0.0, float(frames)]))
    return float(np.hypot(a, b)) / frames * 1e6


def _map_of(fit: Fit, frames: int, sample_rate_hz: int, ratio: float) -> ClockMap:
    if not fit.curved and not fit.steps:
        ends = np.array([0.0, float(frames)])
        return ClockMap(ends.astype(np.int64), (ends + fit.drift(ends)) * ratio)
    count = int(frames / (KNOT_SECONDS * sample_rate_hz)) + 2
    knots = np.round(np.linspace(0, frames, count)).astype(np.int64)
    for at, _ in fit.steps:
        edge = int(np.clip(np.ceil(at), 1, frames))
        knots = np.concatenate([knots, [edge - 1, edge]])
    knots = np.unique(knots)
    wide = knots.astype(np.float64)
    return ClockMap(knots, (wide + fit.drift(wide)) * ratio)


def _no_place(fit: Fit | None, strong: int, confidence: float) -> str:
    if confidence >= CONFIDENT and fit is not None:
        return (
            f"The sound is on the card (rough match {confidence:.1f} times the next), but its windows scatter by "
            f"{fit.sigma:.0f} samples: somebody moved between two mics, and no clock can be read from that"
        )
    return (
        f"Nothing on the card is this track: the best rough match is {confidence:.1f} times the next (2 is needed), "
        f"and the {strong} clear windows do not agree on a place"
    )


def _sentence(mic: MicProof, fit: Fit, good: float, used: int) -> str:
    shape = "a bent clock" if fit.curved else "a steady clock"
    jumps = f" with {len(fit.steps)} step{'s' * (len(fit.steps) > 1)}" if fit.steps else ""
    if mic.verdict is Mic.SAME and fit.sigma < _MOST_SIGMA:
        return (
            f"The same microphone ({mic.explained:.0%} of the track's sound is on the card), {shape}{jumps}, "
            f"{good:.0%} of {used} windows within {max(4.685 * fit.sigma, 0.01):.2f} samples"
        )
    if mic.verdict is Mic.SAME:
        return f"The sound is alike, but single windows scatter by {fit.sigma:.2f} samples: no clock does that"
    if mic.verdict is Mic.UNKNOWN:
        return "There is too little sound in common to tell whether it is the same microphone"
    if mic.likeness < LEAST_LIKENESS and mic.explained >= SAME_MIC:
        return (
            f"Another microphone: the sound is the same, but single windows are alike to only {mic.likeness:.2f} "
            f"({LEAST_LIKENESS} is needed), as when a room lies between; the offset would be distance and not time"
        )
    if mic.explained < SAME_MIC:
        return (
            f"Another microphone: only {mic.explained:.0%} of the track's sound is on the card, so the offset would be "
            "the distance between the two and not time"
        )
    return (
        f"Another microphone: the levels of card and track go different ways (scatter {mic.gain_scatter_db:.1f} dB, "
        f"trend {mic.gain_trend_db:+.1f} dB), as when somebody moves between two mics"
    )

"""Where a radio track is damaged, seen against the card that heard the same: mutes, dropouts, noise bursts, collapses.

Both are fed in step, the card already at the recorder's clock. Levels are judged in chunks of half a minute, each by
its own fit of what the radio path does; memory does not grow with the take, save for one small entry per span.

Source: 9 dB over the prediction finds all bursts 6 dB over speech and 96 % of those 6 dB under it, with at most 0.02 %
of sound material marked; 12 dB loses a third of the quiet ones (``design/damage_threshold.py``). Runs of zeros that
noise leaves by itself are at most 11 long at -130 dBFS in 24 bits, 266 long at -100 dBFS in 16.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

from rollsound.conform.bands import SILENT_DBFS, Levels, RadioModel, band_levels, floor_of, hop_frames, total
from rollsound.errors import InputError

Samples = NDArray[np.float64]

BURST_DB = 9.0
MASKED_DB = 35.0
"""Noise so far below the sound of the moment is the link's own, lifted by its expander, and not heard beside it."""
COLLAPSE_DB = 12.0
LONE_HOP_DB = 3.0
"""How far over its threshold a single hop of 10 ms must stand: noise alone now and then lifts one hop by less."""
DEAD_DB = -40.0
"""No setting of gains lies so far apart: a radio so far below its card is dead (common practice, no source)."""
LONG_COLLAPSE_SECONDS = 0.3
JOIN_SECONDS = 0.03
CHUNK_HOPS = 3000
_WAITING_CHUNKS = 20
_QUIETEST_DBFS = -200.0
_AUDIBLE_DBFS = -85.0
_ABOVE_FLOOR_DB = 15.0


class Damage(StrEnum):
    """What is wrong with a span."""

    MUTE = "mute"
    DROPOUT = "dropout"
    BURST = "noise burst"
    COLLAPSE = "level collapse"


class Span(BaseModel):
    """One damaged stretch of a radio track, in samples from the take's start.

    ``level_dbfs`` is the radio's, ``expected_dbfs`` what the card says it should be (both 80 Hz to 14 kHz).
    ``after_dbfs`` is filled once it has been mended. ``mend`` may be set to false to leave it as it is.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    start_sample: int = Field(ge=0)
    length_samples: int = Field(gt=0)
    kind: Damage
    confidence: float = Field(ge=0, le=1)
    level_dbfs: float
    expected_dbfs: float
    after_dbfs: float | None = None
    mend: bool = True
    reason: str = ""

    @property
    def stop_sample(self) -> int:
        """One past the last sample."""
        return self.start_sample + self.length_samples


@dataclass(frozen=True)
class DamageResult:
    """What comparing a radio track with its card found. ``level_difference_db`` is radio over card (NaN if unknown)."""

    spans: tuple[Span, ...]
    compared_frames: int
    damaged_frames: int
    level_difference_db: float
    band_gain_db: tuple[float, ...]


@dataclass(frozen=True)
class _Piece:
    start: int
    stop: int
    kind: Damage
    confidence: float
    level_dbfs: float
    expected_dbfs: float
    card_silent: bool


@dataclass(frozen=True, eq=False)
class _Chunk:
    first_hop: int
    radio: Levels
    card: Levels
    zeros: tuple[tuple[int, int], ...]


class DamageScan:
    """Feed radio and card blocks of equal length, shape (frames,), in order; ``finish`` tells what was found.

    ``start_sample`` is where the first fed sample lies in the take; ``sample_bits`` those of the recorder's file.
    """

    def __init__(self, sample_rate_hz: int, sample_bits: int = 24, *, start_sample: int = 0) -> None:
        self.sample_rate_hz = sample_rate_hz
        self._hop = hop_frames(sample_rate_hz)
        self._start = start_sample
        self._radio = np.zeros(self._hop // 2)
        self._card = np.zeros(self._hop // 2)
        self._frames = 0
        self._hops = 0
        self._zeros = ZeroRuns(sample_bits)
        self._model: RadioModel | None = None
        self._waiting: list[_Chunk] = []
        self._pieces: list[_Piece] = []
        self._differences: list[Levels] = []

    def feed(self, radio: NDArray[Any], card: NDArray[Any]) -> None:
        """Take the next samples of both."""
        if radio.shape != card.shape or radio.ndim != 1:
            raise InputError("radio and card must come in blocks of equal length; this is a mistake in the program.")
        self._radio = np.concatenate([self._radio, radio])
        self._card = np.concatenate([self._card, card])
        self._frames += radio.size
        chunk = CHUNK_HOPS * self._hop
        while self._radio.size >= chunk + self._hop:
            self._take(CHUNK_HOPS)

    def finish(self) -> DamageResult:
        """Judge what is left, and put the findings together."""
        left = self._frames - self._hops * self._hop
        if left:
            hops = -(-left // self._hop)
            short = (hops + 1) * self._hop - self._radio.size
            # What lies past the end is neither a mute of the radio nor silence of the card: let both end alike.
            self._radio = np.concatenate([self._radio, np.full(short, 0.0)])
            self._card = np.concatenate([self._card, np.zeros(short)])
            self._take(hops, left)
        for first, stop in self._zeros.finish():
            self._mute(first, stop, _AUDIBLE_DBFS, False)
        self._judge_waiting()
        return self._result()

    def _take(self, hops: int, frames: int | None = None) -> None:
        size = hops * self._hop
        half = self._hop // 2
        radio, card = self._radio[: size + self._hop], self._card[: size + self._hop]
        runs = self._zeros.feed(radio[half : half + (size if frames is None else frames)])
        chunk = _Chunk(
            self._hops,
            band_levels(radio, self.sample_rate_hz),
            band_levels(card, self.sample_rate_hz),
            tuple(runs),
        )
        self._radio, self._card = self._radio[size:], self._card[size:]
        self._hops += hops
        fitted = RadioModel.fit(chunk.radio, chunk.card)
        if fitted is not None and np.median(fitted.gain_db) < DEAD_DB:
            self._dead(chunk, min(self._hops * self._hop, self._frames))
            return
        if fitted is not None:
            self._model = fitted
            self._differences.append(fitted.gain_db + np.interp(-30.0, fitted.bins_dbfs, fitted.squeeze_db))
        self._waiting.append(chunk)
        if self._model is not None or len(self._waiting) >= _WAITING_CHUNKS:
            self._judge_waiting()

    def _dead(self, chunk: _Chunk, stop: int) -> None:
        """All of a chunk in which the card speaks and the radio does not."""
        level, card = _mean_db(total(chunk.radio)), _mean_db(total(chunk.card))
        self._pieces.append(_Piece(chunk.first_hop * self._hop, stop, Damage.COLLAPSE, 0.95, level, card, False))

    def _judge_waiting(self) -> None:
        waiting, self._waiting = self._waiting, []
        for chunk in waiting:
            self._judge(chunk, self._model or _unity(chunk))

    def _judge(self, chunk: _Chunk, model: RadioModel) -> None:
        radio, card = chunk.radio, chunk.card
        expected, signal = model.expect(card), total(model.signal(card))
        level = total(radio)
        heard = (radio > _AUDIBLE_DBFS) & (radio > level[:, None] - MASKED_DB)
        excess = np.where(heard, radio - expected, -np.inf).max(axis=1)
        # A hole in the card is not a burst in the radio; the windows beside it see half of it.
        silent = np.pad(total(card) < SILENT_DBFS, 1)
        excess[silent[:-2] | silent[1:-1] | silent[2:]] = -np.inf
        self._runs(chunk, excess > BURST_DB, excess - BURST_DB, Damage.BURST, total(expected))
        lively = (signal > total(model.floor_dbfs[None, :]) + _ABOVE_FLOOR_DB) & (signal > _AUDIBLE_DBFS)
        lack = signal - level
        self._runs(chunk, lively & (lack > COLLAPSE_DB), lack - COLLAPSE_DB, Damage.DROPOUT, signal)
        for first, stop in chunk.zeros:
            hops = slice(max(first // self._hop - chunk.first_hop, 0), max(stop // self._hop - chunk.first_hop, 0) + 1)
            there, heard_card = total(expected)[hops], total(card)[hops]
            if heard_card.size:
                self._mute(first, stop, float(np.max(there)), bool(np.median(heard_card) < SILENT_DBFS))

    def _runs(self, chunk: _Chunk, flags: NDArray[np.bool_], over: Levels, kind: Damage, expected: Levels) -> None:
        level, card = total(chunk.radio), total(chunk.card)
        for first, stop in true_runs(flags):
            # The first and last hop are seen through windows that reach half a hop further.
            start = (chunk.first_hop + first) * self._hop - self._hop // 2
            end = (chunk.first_hop + stop) * self._hop + self._hop // 2
            best = float(np.max(over[first:stop]))
            if stop - first == 1 and best < LONE_HOP_DB:
                continue
            self._pieces.append(
                _Piece(
                    max(start, 0),
                    min(end, self._frames),
                    kind,
                    1.0 - 0.5 * 10 ** (-min(best, 60.0) / 6),
                    _mean_db(level[first:stop]),
                    _mean_db(expected[first:stop]),
                    bool(np.median(card[first:stop]) < SILENT_DBFS),
                )
            )

    def _mute(self, first: int, stop: int, expected_dbfs: float, card_silent: bool) -> None:
        audible = expected_dbfs > _AUDIBLE_DBFS
        self._pieces.append(
            _Piece(first, stop, Damage.MUTE, 0.99 if audible else 0.6, _QUIETEST_DBFS, expected_dbfs, card_silent)
        )

    def _result(self) -> DamageResult:
        join = round(JOIN_SECONDS * self.sample_rate_hz)
        long = round(LONG_COLLAPSE_SECONDS * self.sample_rate_hz)
        spans = tuple(_span(group, self._start, long) for group in _grouped(self._pieces, join))
        gains = np.median(np.array(self._differences), axis=0) if self._differences else np.full(6, np.nan)
        return DamageResult(
            spans,
            self._frames,
            sum(span.length_samples for span in spans),
            float(np.median(gains)),
            tuple(float(gain) for gain in gains),
        )


class ZeroRuns:
    """Runs of exact zeros that noise cannot leave by itself: 32 in 24 bits; 480 with a hard edge in 16."""

    def __init__(self, sample_bits: int) -> None:
        self._coarse = sample_bits <= 16
        self._shortest = 480 if self._coarse else 32
        self._edge = 4.0 / 32768
        self._at = 0
        self._open: tuple[int, float] | None = None
        self._last = 1.0

    def feed(self, samples: Samples) -> list[tuple[int, int]]:
        """Runs (first, one past the last) that ended within these samples."""
        found = []
        for first, stop in true_runs(samples == 0.0):
            before = float(samples[first - 1]) if first else self._last
            start = self._at + first
            if first == 0 and self._open is not None:
                start, before = self._open
            if stop == samples.size:
                self._open = (start, before)
                break
            self._open = None
            if self._holds(start, self._at + stop, before, float(samples[stop])):
                found.append((start, self._at + stop))
        if samples.size:
            if samples[0] != 0.0 and self._open is not None and self._open[0] < self._at:
                start, before = self._open
                self._open = None
                if self._holds(start, self._at, before, float(samples[0])):
                    found.insert(0, (start, self._at))
            self._last = float(samples[-1])
        self._at += samples.size
        return found

    def finish(self) -> list[tuple[int, int]]:
        """The run that lasts to the end, if it is long enough."""
        if self._open is None or not self._holds(self._open[0], self._at, self._open[1], 1.0):
            return []
        return [(self._open[0], self._at)]

    def _holds(self, start: int, stop: int, before: float, after: float) -> bool:
        hard = not self._coarse or max(abs(before), abs(after)) >= self._edge
        return stop - start >= self._shortest and hard


def true_runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where flags hold: (first, one past the last) of every run."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def damaged_spans(
    radio: NDArray[Any], card: NDArray[Any], sample_rate_hz: int, sample_bits: int = 24
) -> tuple[Span, ...]:
    """Damaged spans of a radio track against its aligned card, both in memory, shape (frames,)."""
    scan = DamageScan(sample_rate_hz, sample_bits)
    scan.feed(radio, card)
    return scan.finish().spans


def _unity(chunk: _Chunk) -> RadioModel:
    """Nothing could be fitted anywhere near: take the radio as loud as the card."""
    floor = floor_of(chunk.radio)
    return RadioModel(np.zeros(floor.size), np.zeros(1), np.zeros(1), floor, np.zeros(1), floor[None, :])


def _mean_db(levels: Levels) -> float:
    return max(_QUIETEST_DBFS, float(10 * np.log10(np.mean(10 ** (levels / 10)))))


def _grouped(pieces: list[_Piece], join: int) -> list[list[_Piece]]:
    """Pieces that touch, or nearly, in order of time."""
    groups: list[list[_Piece]] = []
    end = -join - 1
    for piece in sorted(pieces, key=lambda each: (each.start, each.stop)):
        if piece.stop <= piece.start:
            continue
        if groups and piece.start <= end + join:
            groups[-1].append(piece)
        else:
            groups.append([piece])
        end = max(end, piece.stop) if len(groups[-1]) > 1 else piece.stop
    return groups


def _span(group: list[_Piece], offset: int, long: int) -> Span:
    """One span of pieces that touch: named for the kind that covers most of it."""
    start, stop = min(p.start for p in group), max(p.stop for p in group)
    share: dict[Damage, int] = {}
    for piece in group:
        share[piece.kind] = share.get(piece.kind, 0) + piece.stop - piece.start
    kind = max(share, key=lambda each: (share[each], each is Damage.MUTE))
    # Around exact zeros the level falls as well; the zeros say more.
    if kind is Damage.DROPOUT and 2 * share.get(Damage.MUTE, 0) > share[kind]:
        kind = Damage.MUTE
    if kind is Damage.DROPOUT and stop - start >= long:
        kind = Damage.COLLAPSE
    silent = all(piece.card_silent for piece in group)
    weights = np.array([p.stop - p.start for p in group], np.float64)
    return Span(
        start_sample=offset + start,
        length_samples=stop - start,
        kind=kind,
        confidence=max(p.confidence for p in group),
        level_dbfs=_weighted_db([p.level_dbfs for p in group], weights),
        expected_dbfs=_weighted_db([p.expected_dbfs for p in group], weights),
        mend=not silent,
        reason="the card is silent there too" if silent else "",
    )


def _weighted_db(levels: list[float], weights: NDArray[np.float64]) -> float:
    power = np.average(10 ** (np.array(levels) / 10), weights=weights)
    return round(max(_QUIETEST_DBFS, float(10 * np.log10(power))), 2)

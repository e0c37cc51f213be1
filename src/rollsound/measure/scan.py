"""The fault scan: one streaming pass that looks for everything that can be wrong with a track.

Blocks are gathered into pieces of a quarter of a second, laid out one line per track, and every family of faults reads
a piece while it is in the processor's cache. Costly checks run only where a cheap one points, or on a sparse grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.measure.analyser import as_block
from rollsound.measure.bandwidth import EVERY_PIECES, Bandwidth
from rollsound.measure.clicks import Clicks
from rollsound.measure.clipping import FlatTops, OverFullScale
from rollsound.measure.front import FEATURES, FULL, HIGH, PEAK, SUM, Front, lines_of, slide
from rollsound.measure.grid import MOMENTS, Grid
from rollsound.measure.hum import STRETCH, Hum
from rollsound.measure.model import Fault, FaultScanResult, TrackFaults
from rollsound.measure.noise import Levels10
from rollsound.measure.pairs import Pairs
from rollsound.measure.radio_hits import BEFORE, RadioFaults
from rollsound.measure.repeats import Repeats
from rollsound.measure.rumble import Rumble
from rollsound.measure.thresholds import amplitude
from rollsound.measure.timecode_track import TimecodeTracks
from rollsound.measure.zeros import Mutes

LOWEST_RATE_HZ = 8_000
_NEVER_FALLS = np.float32(1e9)  # stands outside the stream, so that nothing seems to begin or end there
_NEAR_MS = 8.0
_ON_CODE = frozenset({"mute", "silent", "dead"})  # what is looked for on a time code track
_MIX = np.uint64(0x9E3779B97F4A7C15)
_WEIGHTS = (np.arange(1, 2 * MOMENTS + 1, dtype=np.uint64) * _MIX) | np.uint64(1)
_EXPLAINS = frozenset({"mute", "dropout", "radio-hit", "clip", "flat-top", "repeat"})


class FaultScan:
    """Looks for faults in a stream of interleaved blocks.

    Parameters
    ----------
    sample_rate_hz:
        8 kHz or more.
    channels:
        Tracks side by side in each block.
    sample_bits:
        Bits per sample of the file, which the thresholds for flat tops and mutes rest on.
    float_samples:
        True for files of floating-point samples: over full scale is then a finding of its own, not clipping.

    Memory does not grow with the length of the stream; the answer does not depend on how it is cut into blocks.
    """

    def __init__(self, sample_rate_hz: int, channels: int, sample_bits: int, float_samples: bool = False) -> None:
        if sample_rate_hz < LOWEST_RATE_HZ:
            raise InputError(
                f"A sample rate of {sample_rate_hz} Hz cannot be scanned; {LOWEST_RATE_HZ} Hz or more can."
            )
        grid = self._grid = Grid(sample_rate_hz)
        self._channels = channels
        self._frames = 0
        self._filled = 0
        self._pieces = 0
        self._lines = np.zeros((channels, grid.history + grid.piece), np.float32)
        self._front = Front(grid, channels)
        self._radio = RadioFaults(grid, channels, sample_bits)
        self._radio_delay = self._radio.longest + 2 * BEFORE
        width = self._radio_delay + 2 * BEFORE + MOMENTS
        self._features = np.zeros((channels, FEATURES, width), np.float32)
        self._features[:, HIGH] = _NEVER_FALLS
        self._low = np.zeros((channels, STRETCH + MOMENTS * 4), np.float32)
        self._low_filled = 0
        self._low_before: NDArray[np.float32] | None = None
        self._stretches = 0
        self._flat = FlatTops(grid, channels, sample_bits)
        self._over = OverFullScale(grid, channels) if float_samples else None
        self._mutes = Mutes(grid, channels, sample_bits)
        self._repeats = Repeats(channels, grid.history)
        self._clicks = Clicks(grid, channels)
        self._code = TimecodeTracks(grid, channels)
        self._levels = Levels10(grid, channels)
        self._rumble = Rumble(grid, channels)
        self._bandwidth = Bandwidth(grid, channels)
        self._hum = Hum(grid, channels)
        self._pairs = Pairs(grid, channels)
        self._peaks = np.zeros(channels, np.float32)
        self._last_alive = np.zeros(channels, np.int64)
        self._alive = amplitude("dead.peak")
        self._marks = np.zeros(channels, np.uint64)
        self._skip = np.zeros(channels, np.bool_)
        self._skip_before = np.zeros(channels, np.bool_)

    def feed(self, block: NDArray[Any]) -> None:
        """Take the next block, shape (frames, channels), full scale 1.0, of finite samples."""
        frames = as_block(block, self._channels)
        done = 0
        while done < frames.shape[0]:
            part = frames[done : done + self._grid.piece - self._filled]
            lines_of(part, self._lines, self._grid.history + self._filled)
            self._filled += part.shape[0]
            done += part.shape[0]
            if self._filled == self._grid.piece:
                self._piece(self._grid.piece)

    def finish(self) -> FaultScanResult:
        """Give the faults found; nothing may be fed afterwards."""
        left = self._filled
        if left:
            self._lines[:, self._grid.history + left :] = 0.0
            self._piece(left)
        self._rest()
        return self._answer()

    def _piece(self, samples: int) -> None:
        """Survey the gathered piece, of which ``samples`` are real, and everything whose surroundings are now known."""
        grid, position = self._grid, self._frames
        moments = samples // grid.moment
        new = self._features[:, :, -MOMENTS:]
        low = np.zeros((self._channels, 4 * MOMENTS), np.float32)
        self._front.run(self._lines, MOMENTS, self._features, self._features.shape[2] - MOMENTS, low)
        real = new[:, :, :moments]
        self._skip_before = self._skip
        if moments:
            self._skip = self._code.run(self._lines, real)
            self._levels.run(real)
            self._rumble.run(real, position)
            if self._pieces % EVERY_PIECES == 0:
                self._bandwidth.run(self._lines, real)
            if self._over is not None:
                self._over.run(real[:, PEAK], position)
            self._note_life(real, position)
        self._frames += samples
        self._gather_low(low[:, : 4 * moments])
        if moments < MOMENTS:
            self._peaks = np.maximum(self._peaks, np.abs(self._lines[:, grid.history :]).max(axis=1))
            new[:, :, moments:] = 0.0
            new[:, HIGH, moments:] = _NEVER_FALLS
        self._look(position, samples)
        self._shift()

    def _look(self, position: int, samples: int) -> None:
        """Run the families that look at samples, ``samples`` of the piece at ``position`` being real."""
        grid = self._grid
        start = grid.history
        skip = self._skip | self._skip_before
        late = 10 * grid.moment
        first = max(0, position - late)
        last = position + samples - late if samples == grid.piece else position + samples
        if last > first:
            a, b = start + first - position, start + last - position
            self._flat.run(self._lines, a, b, first, skip)
            self._mutes.run(self._lines, a, b, start + samples, first)
        if samples:
            self._repeats.run(self._lines, start, start + samples, position, skip)
        self._look_late(position, skip)

    def _look_late(self, position: int, skip: NDArray[np.bool_]) -> None:
        """Run the families that look at moments some time after they passed."""
        grid, width = self._grid, self._features.shape[2]
        begun = position // grid.moment  # moments before this piece
        whole = self._frames // grid.moment
        for delay in (self._clicks.delay, self._radio_delay):
            first = max(0, begun - delay)
            last = min(whole, begun + MOMENTS - delay)
            if last <= first:
                continue
            a = width - MOMENTS + first - begun
            b = a + last - first
            if delay == self._clicks.delay:
                at = grid.history + (first - begun) * grid.moment
                self._clicks.run(self._lines, self._features, a, b, at, first * grid.moment, skip)
            else:
                self._radio.run(self._features, a, b, first * grid.moment, skip)

    def _shift(self) -> None:
        history = self._grid.history
        self._lines[:, :history] = self._lines[:, -history:]
        slide(self._features.reshape(-1, self._features.shape[2]), MOMENTS)
        self._filled = 0
        self._pieces += 1

    def _rest(self) -> None:
        """Pass silence behind the end until everything delayed has been looked at."""
        position = -(-self._frames // self._grid.piece) * self._grid.piece
        for _ in range(-(-self._radio_delay // MOMENTS) + 1):
            self._lines[:, self._grid.history :] = 0.0
            new = self._features[:, :, -MOMENTS:]
            new[:] = 0.0
            new[:, HIGH] = _NEVER_FALLS
            first = max(0, position - 10 * self._grid.moment)
            if position == self._frames and first < position:
                a = self._grid.history + first - position
                self._flat.run(self._lines, a, self._grid.history, first, self._skip)
                self._mutes.run(self._lines, a, self._grid.history, self._grid.history, first)
            self._look_late(position, self._skip)
            self._shift()
            position += self._grid.piece
        rest = self._low[:, : self._low_filled]
        if self._low_before is not None and self._low_filled > STRETCH // 4:
            self._hum.run(np.concatenate([self._low_before[:, self._low_filled :], rest], axis=1))
        self._pairs.run(rest)

    def _gather_low(self, low: NDArray[np.float32]) -> None:
        stop = self._low_filled + low.shape[1]
        self._low[:, self._low_filled : stop] = low
        self._low_filled = stop
        if stop < STRETCH:
            return
        stretch = self._low[:, :STRETCH]
        self._hum.run(stretch)
        self._pairs.run(stretch)
        self._stretches += 1
        # the end of a short take is judged once more, together with what went before it
        self._low_before = stretch.copy() if self._stretches < 4 else None
        self._low[:, : stop - STRETCH] = self._low[:, STRETCH:stop].copy()
        self._low_filled = stop - STRETCH

    def _note_life(self, features: NDArray[np.float32], position: int) -> None:
        peaks = features[:, PEAK]
        self._peaks = np.maximum(self._peaks, peaks.max(axis=1))
        alive = peaks[:, ::-1] > self._alive
        last = peaks.shape[1] - np.argmax(alive, axis=1)
        self._last_alive = np.where(alive.any(axis=1), position + last * self._grid.moment, self._last_alive)
        bits = np.ascontiguousarray(features[:, (FULL, SUM)]).view(np.uint32).reshape(self._channels, -1)
        weights = _WEIGHTS[: bits.shape[1]]
        self._marks = self._marks * _MIX + (bits * weights).sum(axis=1, dtype=np.uint64)

    def _answer(self) -> FaultScanResult:
        frames = self._frames
        code = self._code.finish()
        floors = self._levels.floor_dbfs()
        sound = 10.0 ** (np.nan_to_num(self._levels.sound_dbfs(), nan=-120.0) / 10.0)
        bandwidths, guesses = self._bandwidth.finish()
        families: list[Sequence[list[Fault]]] = [
            self._flat.finish(),
            self._mutes.finish(frames, self._last_alive, self._peaks),
            self._repeats.finish(),
            self._radio.finish(self._levels.quiet_steps(), sound),
            self._clicks.finish(),
            self._hum.finish(frames),
            self._rumble.finish(),
            self._levels.dc_faults(frames),
        ]
        if self._over is not None:
            families.append(self._over.finish())
        tracks = []
        for c in range(self._channels):
            faults = [fault for family in families for fault in family[c]]
            tracks.append(
                TrackFaults(
                    faults=self._sift(faults, code[c]),
                    noise_floor_dbfs=float(floors[c]),
                    bandwidth_hz=bandwidths[c],
                    kind_guess="time code" if code[c] else guesses[c],
                )
            )
        lifeless = {c for c in range(self._channels) if self._last_alive[c] == 0}
        same = [
            (a, b)
            for a in range(self._channels)
            for b in range(a + 1, self._channels)
            if self._marks[a] == self._marks[b] and a not in lifeless
        ]
        ignore = lifeless | {c for c in range(self._channels) if code[c]}
        return FaultScanResult(tuple(tracks), self._pairs.finish(same, ignore))

    def _sift(self, faults: list[Fault], code: bool) -> tuple[Fault, ...]:
        """Leave out what another fault explains, and what means nothing on this track."""
        whole = [f for f in faults if f.kind in ("silent", "dead") and f.length_samples == self._frames]
        if whole:
            return tuple(whole)
        if code:
            faults = [f for f in faults if f.kind in _ON_CODE]
        near = round(_NEAR_MS / 1000.0 * self._grid.sample_rate_hz)
        kept: list[Fault] = []
        causes = [f for f in faults if f.kind in _EXPLAINS or f.kind == "dead"]
        for fault in faults:
            others = {"click": _EXPLAINS | {"dead"}, "dropout": frozenset({"mute", "dead", "repeat"})}.get(fault.kind)
            if others and any(o.kind in others and o is not fault and _touch(o, fault, near) for o in causes):
                continue
            kept.append(fault)
        return tuple(sorted(kept, key=lambda f: (f.start_sample, f.kind)))


def _touch(a: Fault, b: Fault, near: int) -> bool:
    return (
        a.start_sample - near < b.start_sample + b.length_samples
        and b.start_sample < a.start_sample + a.length_samples + near
    )

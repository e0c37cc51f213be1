"""Hum: narrow lines at 50 or 60 Hz and their harmonics that stay while everything else comes and goes.

Each stretch of about four seconds of the low stream (4 kHz) gives a spectrum; only the lines' surroundings are kept.
Over the take the median (or the quieter quarter, where speech covers a line) of each bin is taken.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from rollsound.measure.grid import Grid
from rollsound.measure.model import Fault
from rollsound.measure.thresholds import threshold

F32 = NDArray[np.float32]

STRETCH = 16_384  # low samples
MAINS_HZ = (50.0, 60.0)
HARMONICS = 8
_NEAR, _FAR = 6, 20  # bins around a line that are its surroundings
MOST_STRETCHES = 64
FEWEST_STRETCHES = 2
_SHORT_TAKE, _SHORT_TAKE_DB = 6, 8.0


class Hum:
    """Keeps what is needed of each stretch's spectrum, every second one once there are many."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._channels = channels
        self._bin_hz = grid.low_rate_hz / STRETCH
        self._wander = max(2, math.ceil(threshold("hum.wander") / self._bin_hz))
        self._centres = np.array(
            [[round(mains * h / self._bin_hz) for h in range(1, HARMONICS + 1)] for mains in MAINS_HZ]
        )
        self._bins = self._centres[:, :, np.newaxis] + np.arange(-_FAR, _FAR + 1)
        self._window = np.hanning(STRETCH).astype(np.float32)
        self._kept: list[F32] = []
        self._every = 1
        self._seen = 0

    @property
    def wants_next(self) -> bool:
        """Whether the next stretch will be kept."""
        return self._seen % self._every == 0

    def run(self, low: F32) -> None:
        """Take one stretch of the low stream, shape (channels, STRETCH)."""
        if self.wants_next:
            spectrum = fft.rfft(low * self._window)
            lines = np.abs(spectrum[:, self._bins]) ** 2
            self._kept.append((lines * (2.0 / float(np.sum(self._window)) ** 2 * 2.0)).astype(np.float32))
        self._seen += 1
        if len(self._kept) > MOST_STRETCHES:
            self._kept = self._kept[::2]
            self._every *= 2

    def finish(self, frames: int) -> list[list[Fault]]:
        """At most one fault for each track: the mains frequency whose lines stand out most."""
        if len(self._kept) < FEWEST_STRETCHES:
            return [[] for _ in range(self._channels)]
        kept = np.stack(self._kept)
        # with few stretches one long note could look like hum, so the least of them speaks
        middle = np.min(kept, axis=0) if len(self._kept) < 4 else np.median(kept, axis=0)
        quiet = np.quantile(kept, 0.25, axis=0)
        least = np.quantile(kept, 0.1, axis=0)
        return [self._judge(middle[c], quiet[c], least[c], frames) for c in range(self._channels)]

    def _judge(
        self,
        middle: NDArray[np.floating],
        quiet: NDArray[np.floating],
        least: NDArray[np.floating],
        frames: int,
    ) -> list[Fault]:
        best: Fault | None = None
        for index, mains in enumerate(MAINS_HZ):
            # a line counts by the better of the two views; each is judged against its own surroundings
            rises = np.zeros(HARMONICS)
            for view in (middle[index], quiet[index]):
                # hum stays: a line that is all but gone in some stretch was a note
                stays = self._line(least[index]) >= threshold("hum.stays") * self._line(view)
                rises = np.maximum(rises, np.where(stays, self._rise(view), 0.0))
            levels = self._level(middle[index])
            strong = int(np.sum(rises >= threshold("hum.harmonic")))
            # in a short take a voice that keeps to one pitch can raise a harmonic or two, though never 50 or 60 Hz
            asked = threshold("hum.fundamental") + (_SHORT_TAKE_DB if len(self._kept) < _SHORT_TAKE else 0.0)
            if rises[0] < threshold("hum.fundamental") and (strong < 2 or rises.max() < asked):
                continue
            power = float(np.sum(levels[rises >= threshold("hum.harmonic")]))
            numbers = {
                "mains_hz": mains,
                "rise_db": float(rises.max()),
                "strongest_hz": float(mains * (1 + int(np.argmax(rises)))),
                "harmonics": float(strong),
            }
            level = 10.0 * math.log10(max(power, 1e-20))
            sure = min(0.98, 0.5 + 0.1 * strong + float(rises.max()) / 100.0)
            fault = Fault("hum", 0, frames, level, sure, numbers)
            if best is None or fault.numbers["rise_db"] * strong > best.numbers["rise_db"] * best.numbers["harmonics"]:
                best = fault
        return [best] if best else []

    def _rise(self, lines: NDArray[np.floating]) -> NDArray[np.float64]:
        """Line over surroundings in dB, per harmonic, from (HARMONICS, 41) powers."""
        middle = self._line(lines)
        around = np.median(np.concatenate([lines[:, : _FAR - _NEAR + 1], lines[:, _FAR + _NEAR :]], axis=1), axis=1)
        rises: NDArray[np.float64] = 10.0 * np.log10(np.maximum(middle, 1e-20) / np.maximum(around, 1e-20))
        # lines that lie below any converter's noise are rounding, not hum
        return np.where(middle > 1e-13, rises, 0.0)

    def _line(self, lines: NDArray[np.floating]) -> NDArray[np.floating]:
        line: NDArray[np.floating] = lines[:, _FAR - self._wander : _FAR + self._wander + 1].max(axis=1)
        return line

    def _level(self, lines: NDArray[np.floating]) -> NDArray[np.float64]:
        """Mean square of each line (Hann: three bins, 1.5 bins of noise width)."""
        power: NDArray[np.float64] = lines[:, _FAR - self._wander - 1 : _FAR + self._wander + 2].sum(axis=1) / 1.5 / 2.0
        return power

"""How high a track's sound reaches, and from that a guess whether it came by radio or by cable.

Every two seconds the spectrum is taken where the upper band is loudest. Where the mean spectrum falls off as steeply as
only a filter does, that edge is the bandwidth. An edge well under 20 kHz speaks for a radio link; noise and sound
that go on to 20 kHz speak for a cable. It is a guess: common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft

from rollsound.measure.front import HIGH
from rollsound.measure.grid import Grid
from rollsound.measure.thresholds import threshold

F32 = NDArray[np.float32]

FRAME = 2048
EVERY_PIECES = 8
BAND_HZ = 250.0
_CONVERTER_FLOOR = 1e-15  # mean square per band under which there is nothing but rounding


class Bandwidth:
    """Sums spectra of the brightest moments."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._grid = grid
        self._window = np.hanning(FRAME).astype(np.float32)
        self._power = np.zeros((channels, FRAME // 2 + 1))
        self._spectra = 0

    def run(self, lines: F32, features: F32) -> None:
        """Take one piece: its ``lines`` with history, and its moments' ``features``."""
        grid = self._grid
        centre = grid.history + (np.argmax(features[:, HIGH], axis=1)) * grid.moment + grid.moment // 2
        start = np.clip(centre - FRAME // 2, 0, lines.shape[1] - FRAME)
        frames = np.stack([lines[c, s : s + FRAME] for c, s in enumerate(start)])
        spectrum = fft.rfft(frames * self._window)
        self._power += spectrum.real.astype(np.float64) ** 2 + spectrum.imag.astype(np.float64) ** 2
        self._spectra += 1

    def finish(self) -> tuple[list[float], list[str]]:
        """Bandwidth in Hz (nan if nothing was heard) and the guess, for every track."""
        if self._spectra == 0:
            return [float("nan")] * len(self._power), ["unknown"] * len(self._power)
        scale = 2.0 / (float(np.sum(self._window**2)) * FRAME * self._spectra)
        answers = [self._judge(row * scale) for row in self._power]
        return [a[0] for a in answers], [a[1] for a in answers]

    def _judge(self, power: NDArray[np.float64]) -> tuple[float, str]:
        nyquist = self._grid.sample_rate_hz / 2.0
        per_band = max(1, round(BAND_HZ / (nyquist * 2.0 / FRAME)))
        bands = power[1:].size // per_band
        level = power[1 : 1 + bands * per_band].reshape(bands, per_band).sum(axis=1)
        width = nyquist / bands
        if level.max(initial=0.0) <= _CONVERTER_FLOOR:
            return float("nan"), "unknown"
        db = 10.0 * np.log10(np.maximum(level, _CONVERTER_FLOOR))
        edge = self._edge(db, width)
        if edge is not None:
            radio = threshold("radio.lowest_edge") <= edge <= threshold("radio.highest_edge")
            return edge, "radio" if radio else "unknown"
        heard = np.flatnonzero(db > db.min() + 6.0)
        reach = float((heard[-1] + 1) * width) if heard.size else nyquist
        flat_top = db[-max(1, bands // 6) :].min() > 10.0 * np.log10(_CONVERTER_FLOOR) + 3.0
        cable = flat_top and reach >= threshold("cable.lowest_reach")
        return (nyquist if reach > 0.9 * nyquist else reach), ("cable" if cable else "unknown")

    def _edge(self, db: NDArray[np.float64], width: float) -> float | None:
        """Frequency of the steepest lasting fall above 5 kHz, if it is steeper than any room or mic makes it."""
        span = max(2, round(1500.0 / width))
        side = max(1, span // 2)
        width_before = side + 1
        first = max(round(5000.0 / width), span + side)
        if first + span > db.size:
            return None
        # the band k is the first behind the fall; before it lie its slope and then the level it fell from
        before = np.median(sliding_window_view(db, width_before), axis=1)[
            first - span - side : db.size - 2 * span - side + 1
        ]
        after = sliding_window_view(db, span).max(axis=1)[first : first + before.size]
        falls = before - after
        where = first + int(np.argmax(falls))
        if falls.max() < threshold("radio.drop"):
            return None
        top = float(np.median(db[max(0, where - span - side) : where - span + 1]))
        inside = np.flatnonzero(db[: where + 1] > top - 6.0)
        return float((inside[-1] + 1) * width)

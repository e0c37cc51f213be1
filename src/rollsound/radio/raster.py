"""Rasters: where a carrier may lie when a transmitter and a receiver each tune in steps of their own."""

from __future__ import annotations

import math
from dataclasses import dataclass

MOST_PLACES = 2_000_000
"""On one raster: with more, the step is a slip of the pen."""


@dataclass(frozen=True)
class Raster:
    """Carriers at ``origin_hz + n * step_hz``; a signal lies whole between ``low_hz`` and ``high_hz``."""

    low_hz: int
    high_hz: int
    step_hz: int
    origin_hz: int

    def both(self, other: Raster) -> Raster | None:
        """Where both tune; None where their rasters never meet. The range may be empty (``low_hz > high_hz``)."""
        common = math.gcd(self.step_hz, other.step_hz)
        apart = other.origin_hz - self.origin_hz
        if apart % common:
            return None
        step = self.step_hz // common * other.step_hz
        ahead = other.step_hz // common
        steps = apart // common * pow(self.step_hz // common, -1, ahead) % ahead if ahead > 1 else 0
        return Raster(
            max(self.low_hz, other.low_hz),
            min(self.high_hz, other.high_hz),
            step,
            self.origin_hz + steps * self.step_hz,
        )

    def within(self, low_hz: int, high_hz: int) -> Raster:
        """The same raster, no wider than this range."""
        return Raster(max(self.low_hz, low_hz), min(self.high_hz, high_hz), self.step_hz, self.origin_hz)

    def places(self, width_hz: int) -> int:
        """How many carriers of a width there are."""
        half = -(-width_hz // 2)
        first = -((self.origin_hz - self.low_hz - half) // self.step_hz)
        last = (self.high_hz - half - self.origin_hz) // self.step_hz
        return max(last - first + 1, 0)


def whole(value_hz: float) -> int | None:
    """Whole hertz; None for what is finer, which is never rounded away."""
    nearest = round(value_hz)
    return nearest if abs(value_hz - nearest) < 1e-3 else None


def mhz(value_hz: float) -> str:
    """A frequency as people write it: ``470.025 MHz``."""
    text = f"{value_hz / 1e6:.6f}".rstrip("0")
    whole_part, _, decimals = text.partition(".")
    return f"{whole_part}.{decimals.ljust(3, '0')} MHz" if decimals else f"{whole_part} MHz"


def khz(value_hz: float) -> str:
    """A distance between frequencies as people write it: ``62.5 kHz``."""
    return f"{value_hz / 1e3:,.3f}".rstrip("0").rstrip(".").replace("-", "−") + " kHz"


def span(low_hz: float, high_hz: float) -> str:
    """A range as people write it: ``470-542 MHz``."""
    return f"{mhz(low_hz).removesuffix(' MHz')}-{mhz(high_hz)}"

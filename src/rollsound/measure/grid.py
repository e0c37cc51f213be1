"""How a stream is laid out in time for the fault scan: sample, moment (about 1 ms), piece (250 moments).

Everything is computed on pieces of one fixed length, whatever blocks the caller feeds, so the answer depends on the
samples alone. Each track of a piece lies on its own line behind the last stretch of the piece before it.
"""

from __future__ import annotations

from dataclasses import dataclass

MOMENTS = 250
HISTORY_MOMENTS = 100
HISTORY_SAMPLES = 4352  # the longest repetition looked for, and what proves it


@dataclass(frozen=True)
class Grid:
    """Sizes in samples that follow from the sample rate.

    ``reduced`` is the stream thinned to about 8 kHz, ``low`` to about 4 kHz; a moment holds 8 reduced and 4 low
    samples.
    """

    sample_rate_hz: int

    @property
    def thinning(self) -> int:
        """Samples per reduced sample."""
        return max(1, round(self.sample_rate_hz / 8000))

    @property
    def moment(self) -> int:
        """Samples per moment."""
        return 8 * self.thinning

    @property
    def piece(self) -> int:
        """Samples per piece."""
        return MOMENTS * self.moment

    @property
    def history(self) -> int:
        """Samples kept in front of a piece."""
        return -(-max(HISTORY_MOMENTS * self.moment, HISTORY_SAMPLES) // self.moment) * self.moment

    @property
    def low_rate_hz(self) -> float:
        """Rate of the low stream."""
        return self.sample_rate_hz / (2 * self.thinning)

    @property
    def moment_seconds(self) -> float:
        """Length of a moment."""
        return self.moment / self.sample_rate_hz

    def moments(self, milliseconds: float) -> int:
        """The nearest whole number of moments."""
        return max(1, round(milliseconds / 1000.0 / self.moment_seconds))

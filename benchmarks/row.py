"""One measured line of the benchmark table."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """What was measured, our figure and the peer's in the same run, and the goal in words."""

    what: str
    ours: float
    unit: str
    peer: str = ""
    peer_value: float | None = None
    goal: str = ""

    @property
    def ratio(self) -> float | None:
        """Ours over the peer's."""
        return self.ours / self.peer_value if self.peer_value else None

"""What a thing that is fed takes in each state, and what it bears: plain figures, gathered by whoever knows the rig."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rollsound.power.model import State
from rollsound.written import Band


@dataclass(frozen=True)
class Load:
    """One fed thing; figures of one, ``count`` of them.

    A state whose draw is not known takes what the state above it takes: too much rather than too little.
    """

    id: str
    name: str
    working_w: float | None = None
    """None: nobody has written it."""
    idle_w: float | None = None
    asleep_w: float | None = None
    count: int = 1
    input_v: Band | None = None
    capacitance_f: float | None = None
    told: str = ""
    """Where the figure is from, where that is worth a word."""

    def draw_w(self, state: State) -> float:
        """What all of them take in a state; nothing where nobody has written it."""
        working = self.working_w or 0.0
        idle = working if self.idle_w is None else self.idle_w
        asleep = idle if self.asleep_w is None else self.asleep_w
        one = {"working": working, "idle": idle, "asleep": asleep, "off": 0.0}[state]
        return one * self.count

    def times(self, factor: float) -> Load:
        """The same with every draw a factor greater."""
        figures = (self.working_w, self.idle_w, self.asleep_w)
        working, idle, asleep = (None if watts is None else watts * factor for watts in figures)
        return replace(self, working_w=working, idle_w=idle, asleep_w=asleep)

    @property
    def most_w(self) -> float:
        """The most that all of them take."""
        return max(self.draw_w(state) for state in ("working", "idle", "asleep"))


@dataclass(frozen=True)
class Inside:
    """A thing with a battery of its own inside, which nothing feeds."""

    load: Load
    chemistry: str
    voltage_v: float
    capacity_wh: float
    removable: bool
    at: tuple[str, ...] = ()
    """Its place in the plan."""


@dataclass(frozen=True)
class Unfed:
    """A thing that takes power and that nothing feeds."""

    name: str
    draw_w: float
    at: tuple[str, ...]

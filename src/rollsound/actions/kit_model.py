"""What the command of the kit answers with: loads, batteries by air, the list for customs, and what would stop it."""

from __future__ import annotations

import datetime as dt

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class LoadRow(_Result):
    """What goes together in one case or on one trolley."""

    name: str = Field(description="as items name it; empty for those that name none, and for the whole kit")
    items: int
    pieces: int
    mass_kg: float
    rack_units: float
    value: float
    battery_wh: float
    without_mass: tuple[str, ...] = Field(default=(), description="ids of items whose mass is missing from the sum")
    without_value: tuple[str, ...] = Field(default=(), description="ids of items whose value is missing from the sum")


class BatteryRow(_Result):
    """Batteries of one sort and how they may fly."""

    name: str
    id: str
    chemistry: str
    capacity_wh: float = Field(description="of one")
    pieces: int
    loose: bool = Field(description="travels as a battery, not inside equipment")
    travels_by: str = Field(default="", description="cabin, hold, air cargo, road or sea, stays; empty when not said")
    baggage: str = Field(description="allowed, with the operator's approval, or not as baggage; empty by road or sea")
    rule: str


class CustomsRow(_Result):
    """One line of the list for customs."""

    number: int
    description: str
    pieces: int
    mass_kg: float | None = Field(description="of all its pieces; null when it is not known")
    value: float | None = Field(description="of all its pieces; null when it is not known")
    origin: str
    items: tuple[str, ...] = Field(description="ids of the items that it is made of")


class CustomsList(_Result):
    """The general list of a carnet with its sums."""

    lines: tuple[CustomsRow, ...]
    pieces: int
    mass_kg: float
    value: float
    currency: str
    left_out: tuple[str, ...] = Field(default=(), description="ids of what is used up, which is never listed")


class KitResult(_Result):
    """The kit as it travels."""

    path: str
    name: str
    travel_date: dt.date | None = None
    travellers: int
    whole: LoadRow
    loads: tuple[LoadRow, ...]
    currency: str
    batteries: tuple[BatteryRow, ...] = ()
    customs: CustomsList | None = Field(default=None, description="null when neither asked for nor begun in the kit")
    labels: int = Field(default=0, description="how many were drawn")
    files: tuple[str, ...] = Field(default=(), description="what was written")
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = Field(default=(), description="what must be told of the figures used")
    further_notes: tuple[str, ...] = Field(
        default=(), description="where sources differ, and which facts are from memory"
    )
    cautions: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """The weight of the worst finding."""
        return heaviest(self.findings)

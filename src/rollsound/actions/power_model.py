"""What power answers with: a day's batteries as lanes, changes, stock, wires, charging, findings, and a comparison."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Figure, Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class DayRow(_Result):
    """One day at a glance."""

    id: str
    name: str
    call: str
    wrap: str
    coldest_c: float | None
    stops: int
    watches: int
    weight: Weight


class SwapRow(_Result):
    """One change of batteries."""

    at: str = Field(description="time of day, the latest")
    at_min: float = Field(description="minutes from midnight of the day")
    in_break: bool
    told: str = Field(description="in words: the span of the break that serves, or the time by which")
    batteries: int = Field(description="that are changed at this time, over all alike")


class StepRow(_Result):
    """A stretch of constant power."""

    start_min: float
    end_min: float
    power_w: float
    is_break: bool


class BatteryRow(_Result):
    """A set of batteries in use, or several alike: one lane of the day."""

    id: str
    name: str
    supply: str = Field(description="id; of a thing with its own battery, made up")
    battery: str = Field(description="id of the batteries")
    battery_name: str
    names: tuple[str, ...] = Field(description="of all that are told together in this lane; its own where it is one")
    in_set: int = Field(description="batteries that are on it at one time")
    alike: int
    load_w: float = Field(description="out of one set when all that it feeds works")
    label_wh: float = Field(description="one set, as on the label")
    set_wh: float = Field(description="one set, as much as may be taken at this temperature and age")
    day_wh: float
    hours: Figure = Field(description="of one set at the working load; null without end")
    temperature_c: float
    temperature_known: bool
    cold_share: float
    cold_status: str
    health: float
    dry: str | None = Field(description="when the first set is dry without a change; null when it lasts")
    dry_min: float | None
    flat: str | None = Field(description="when it is flat with the batteries that are owned; null when it lasts")
    flat_min: float | None
    end_min: float = Field(description="when it is last wanted")
    left_h: Figure = Field(description="that the last set still has at the end; null without end")
    sets_needed: int
    sets_given: int
    swaps: tuple[SwapRow, ...]
    swaps_in_breaks: tuple[SwapRow, ...] | None = Field(description="a plan with more changes, all in breaks")
    steps: tuple[StepRow, ...]
    weight: Weight
    sentence: str = Field(description="why it is changed when it is")


class StockRow(_Result):
    """One kind of battery."""

    id: str
    name: str
    in_use: int
    needed: int
    spares_needed: int
    owned: int
    missing: int


class FedRow(_Result):
    """One far end of a wire."""

    supply: str
    feeding: str
    name: str
    load_w: float
    wire: str
    length_m: float
    full_v: Figure
    nominal_v: Figure
    low_v: Figure = Field(description="null when it collapses")
    input_v: str
    lost_percent: Figure
    worst_a: Figure
    fuse_a: float | None
    fuse_wanted_a: float | None = Field(description="that serves; null where no blade fuse does")
    fuse_fits: bool = Field(description="whether the one that is written bears the load and guards the wire")
    fuse_sentence: str
    better: str = Field(description="the smallest section that serves; empty when what is there does")
    short_circuit_a: float | None
    inrush_a: float | None


class ChargeRow(_Result):
    """One battery's turn at a socket."""

    battery: str
    battery_name: str
    of: str = Field(description="what it was on during the day")
    number: int = Field(description="which set of the day, from 1")
    taken_wh: float
    charge_w: float
    hours: Figure
    socket: str = Field(description="name; empty when it has no turn")
    start: str
    end: str
    start_min: Figure
    end_min: Figure
    late: bool


class PowerResult(_Result):
    """A day's power."""

    path: str
    name: str
    day: str
    day_name: str
    day_chosen: bool = Field(description="whether it was asked for; else it is the hardest")
    call: str
    wrap: str
    call_min: int
    wrap_min: int
    coldest_c: float | None
    reserve: float
    days: tuple[DayRow, ...]
    batteries: tuple[BatteryRow, ...]
    stock: tuple[StockRow, ...]
    wires: tuple[FedRow, ...]
    charging: tuple[ChargeRow, ...]
    findings: tuple[Finding, ...]
    chart_file: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """The worst of this day's findings."""
        return heaviest(self.findings)


class WhatIf(_Result):
    """What is tried on a copy of the plan; nothing is saved."""

    battery_of: dict[str, str] = Field(default_factory=dict, description="by id of the supply: id of other batteries")
    count_of: dict[str, int] = Field(default_factory=dict, description="by id of the batteries: how many are owned")
    parallel_of: dict[str, int] = Field(default_factory=dict, description="by id of the supply: batteries in parallel")
    state_of: dict[str, str] = Field(default_factory=dict, description="by id of the phase: working, idle, asleep, off")
    break_of: dict[str, bool] = Field(default_factory=dict, description="by id of the phase: whether it is a break")
    times_of: dict[str, tuple[str, str]] = Field(default_factory=dict, description="by id of the phase: from and to")
    radio_power_of: dict[str, float] = Field(default_factory=dict, description="by id of the transmitter: power in mW")
    reserve: float | None = Field(default=None, ge=0, lt=1)
    temperature_c: float | None = Field(default=None, ge=-90, le=90, description="at every site")


class ChangedRow(_Result):
    """One lane before and after."""

    id: str
    name: str
    hours_before: Figure
    hours_after: Figure
    swaps_before: int
    swaps_after: int
    flat_before: str | None
    flat_after: str | None
    left_before_h: Figure
    left_after_h: Figure
    sentence: str


class Compared(_Result):
    """A day as it is planned and as it would be."""

    before: PowerResult
    after: PowerResult
    changed: tuple[ChangedRow, ...]
    solved: tuple[str, ...] = Field(description="what weighed before and no longer does")
    new: tuple[str, ...] = Field(description="what weighs only after")
    sentence: str

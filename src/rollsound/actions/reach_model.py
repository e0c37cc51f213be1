"""What the commands of reach answer with: a site's reach, and a walk test fitted."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.radio_model import Saved
from rollsound.finding import Finding, Weight, heaviest

At = tuple[float, float]


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class WhereRow(_Result):
    """An acting area or a walking line, and how well its weakest place is heard."""

    id: str
    name: str
    kind: str = Field(description="area or line")
    weakest_share: float = Field(description="of the time, 0 to 1, that sound holds at the weakest place")
    weakest_margin_db: float
    weakest_at_m: At
    weakest_transmitter: str = Field(description="name of the one heard worst there")
    held: float = Field(description="share of its places, 0 to 1, where sound holds for the wanted share of time")
    enough: bool
    sentence: str


class PowerTriedRow(_Result):
    """One power of a transmitter at the weakest place."""

    power_mw: float
    share_of_time: float
    margin_db: float
    battery_hours: float | None


class PowerRow(_Result):
    """The least power that holds everywhere on an area."""

    transmitter: str
    name: str
    area: str
    now_mw: float
    least_mw: float | None = Field(description="null when no power of its kind is enough")
    missing_db: float = Field(description="how much more the highest power would need; 0 or less when it holds")
    hours_now: float | None = None
    hours_least: float | None = None
    hours_gained: float | None = None
    tried: tuple[PowerTriedRow, ...] = ()
    sentence: str


class AntennaRow(_Result):
    """An antenna, and what its cable costs."""

    id: str
    name: str
    model: str
    layouts: tuple[str, ...]
    cable: str
    cable_length_m: float
    cable_loss_db: float = Field(description="as much again is lost by twice the length")
    thin_cable_loss_db: float = Field(description="of the same length of the thin cable rg-58")
    amplifier_gain_db: float


class DifferenceRow(_Result):
    """What one way of hearing gives over another, on an area, a line or the whole ground."""

    what: str = Field(description="which two ways")
    id: str
    kind: str
    gain_db: float
    weakest_first: float
    weakest_second: float
    sentence: str


class ReachResult(_Result):
    """Where on a site the transmitters are heard, how often, with what margin, and what power that takes."""

    path: str
    name: str
    site: str
    layout: str = Field(description="of antennas; empty for all of them")
    layouts: tuple[str, ...]
    transmitters: tuple[str, ...]
    wanted_share: float
    covered: float = Field(description="share of the ground, 0 to 1, where the worst of all holds that long")
    where: tuple[WhereRow, ...]
    powers: tuple[PowerRow, ...]
    antennas: tuple[AntennaRow, ...]
    differences: tuple[DifferenceRow, ...] = ()
    map_file: str = ""
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """Stop when an area or line is not heard well enough."""
        return Weight.STOP if any(not row.enough for row in self.where) else heaviest(self.findings)


class FittedRow(_Result):
    """One number of the model, before the walk test and after."""

    id: str
    name: str
    unit: str
    before: float | None
    after: float | None
    sigma: float | None = Field(description="standard uncertainty; null when the readings cannot tell it")
    told: bool
    why: str
    readings: int


class ResidualRow(_Result):
    """One reading beside what is computed for it."""

    id: str
    at_m: At
    antenna: str
    transmitter: str
    distance_m: float
    level_dbm: float
    before_db: float = Field(description="read over computed, before")
    after_db: float
    outlier: bool


class SetAsideRow(_Result):
    """A reading that could not be used."""

    id: str
    why: str


class WalkResult(_Result):
    """A walk test fitted to the reach of a site."""

    path: str
    name: str
    site: str
    file: str
    readings: int
    fitted: tuple[FittedRow, ...]
    residuals: tuple[ResidualRow, ...]
    set_aside: tuple[SetAsideRow, ...]
    rms_before_db: float
    rms_after_db: float
    wanted_share: float = Field(description="of the time that sound is to hold, 0 to 1")
    covered_before: float = Field(description="share of the ground, 0 to 1, where the worst of all holds")
    covered_after: float
    sentence: str
    saved: Saved | None = None
    chart_file: str = ""
    map_files: tuple[str, ...] = ()
    problem: str = Field(default="", description="what kept it from being saved or written; empty when nothing did")
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

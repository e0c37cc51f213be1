"""What the commands of carriers answer with: the check of a plan, a plan made, spare frequencies, a scan taken in."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class Assignment(_Result):
    """One transmitter and its frequency."""

    id: str
    mhz: float = Field(description="a whole number of hertz, as it is set on the device")


class HoldRow(_Result):
    """One relation between carriers: how far apart they are, and how far they are asked to be."""

    limit: str = Field(description="spacing, 2A-B, A+B-C, 3A-2B, 3A-B-C, 2A+B-2C, range, occupied, step or window")
    hit: str = Field(description="id of the transmitter that it touches")
    sources: tuple[str, ...] = Field(description="ids in the order of the product's form; of a spacing the other one")
    at_mhz: float = Field(description="where the product or the other carrier lies")
    distance_khz: float
    required_khz: float
    margin_khz: float
    sentence: str


class CarrierRow(_Result):
    """One transmitter of the plan: what it is set to, the margin it keeps, and what sets that."""

    id: str
    name: str
    use: str = Field(description="body pack, boom, plant, monitor or talkback; of a bare request its kind")
    wearer: str = ""
    zone: str = ""
    sites: tuple[str, ...] = Field(default=(), description="names of the sites; none when it sends on all of them")
    mhz: float | None = Field(description="null when it has no frequency")
    was_mhz: float | None = Field(default=None, description="before this plan, where it was moved")
    power_mw: float | None = None
    fixed: bool = False
    on_air: bool = False
    margin_khz: float | None = Field(default=None, description="null when nothing is near enough to set one")
    limit: str = Field(default="", description="what sets the margin, as in HoldRow")
    set_by: str = Field(default="", description="what sets the margin, in words")
    spares_mhz: tuple[float, ...] = ()
    heard_by: tuple[str, ...] = Field(default=(), description="names of the receivers")


class RelaxationRow(_Result):
    """A change of the request that was tried and lets a transmitter in."""

    kind: str
    what: str
    mhz: float


class UnplacedRow(_Result):
    """A transmitter without a frequency, why, and the cheapest changes that would let it in."""

    id: str
    name: str = ""
    why: str
    relaxations: tuple[RelaxationRow, ...] = ()


class BoundRow(_Result):
    """A proof that no more can be placed."""

    most: int
    why: str


class SpareRow(_Result):
    """Frequencies kept free for one transmitter, clear of all carriers and of every other spare."""

    id: str
    name: str = ""
    mhz: tuple[float, ...]
    wanted: int = 0


class Saved(_Result):
    """Where frequencies were saved."""

    path: str
    sentence: str
    revision: int | None = Field(default=None, description="of the show's plan; null for a file")
    changed: int = Field(default=0, description="how many transmitters have another frequency or other spares now")


class ProductRow(_Result):
    """An intermodulation product, and what it would do at the receiver where it does most."""

    receiver: str = Field(description="its name")
    hit: str = Field(description="id of the transmitter whose carrier it falls near")
    hit_name: str
    form: str = Field(description="2A-B, A+B-C, 3A-2B, 3A-B-C or 2A+B-2C")
    sources: tuple[str, ...] = Field(description="ids in the order of the form")
    product: str = Field(description="the form with names")
    at_mhz: float
    distance_khz: float = Field(description="from the carrier that it hits")
    level_dbm: float = Field(description="of the part of it that falls into the channel, at the receiver's input")
    over_noise_db: float = Field(description="below 0 under the noise")
    under_wanted_db: float = Field(description="how far the wanted carrier stands over it")
    heard: bool
    verdict: str = Field(description="in words: 40 dB under the noise, or will be heard")


class CheckResult(_Result):
    """The frequencies of a plan checked against all that is asked of them."""

    path: str
    name: str
    transmitters: int
    carriers: tuple[CarrierRow, ...]
    without: tuple[str, ...] = Field(description="ids of transmitters that have no frequency")
    margin_khz: float | None = Field(description="the worst over all; null without two carriers")
    broken: tuple[HoldRow, ...] = Field(description="what is not kept, worst first")
    unavoidable: tuple[HoldRow, ...] = Field(description="between fixed transmitters alone: told, not counted")
    counts: dict[str, int] = Field(default_factory=dict, description="of what is broken, by what sets it")
    bound: BoundRow | None = Field(default=None, description="{most, why}: the most that can be placed, and the proof")
    products: tuple[ProductRow, ...] = Field(default=(), description="the most harmful first, where they are asked for")
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = Field(default=(), description="what was assumed, and which facts are from memory")
    cautions: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """The weight of the worst finding."""
        return heaviest(self.findings)


class PlanResult(_Result):
    """A frequency for every transmitter that has room, with the margin each keeps."""

    path: str
    name: str
    mode: str = Field(description="all, most, repair or add")
    seed: int
    assignments: tuple[Assignment, ...]
    unplaced: tuple[UnplacedRow, ...]
    margin_khz: float | None
    bound: BoundRow | None = Field(description="{most, why}: the most that can be placed, and the proof")
    proved: bool = Field(description="whether no more can be placed, or all are at the largest margin that is possible")
    carriers: tuple[CarrierRow, ...]
    spares: tuple[SpareRow, ...] = ()
    moved: tuple[str, ...] = Field(default=(), description="ids of those that had a frequency and have another now")
    moves: int = Field(description="how many the search made; the same for one seed on every machine")
    seconds: float
    stopped: bool = Field(description="whether it was stopped before it was through; the plan holds all the same")
    saved: Saved | None = None
    files: tuple[str, ...] = Field(default=(), description="what was written for the crew")
    problem: str = Field(default="", description="what kept it from being saved or written; empty when nothing did")
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """Stop when a transmitter has no frequency or a finding says so."""
        return Weight.STOP if self.unplaced else heaviest(self.findings)


class SpareResult(_Result):
    """Spare frequencies, clear of all carriers on air and of each other."""

    path: str
    name: str
    spares: tuple[SpareRow, ...]
    short: tuple[str, ...] = Field(default=(), description="ids of those that got fewer than they want")
    saved: Saved | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class OccupiedRow(_Result):
    """A stretch of spectrum above the threshold."""

    low_mhz: float
    high_mhz: float
    why: str = ""
    touches: tuple[str, ...] = Field(default=(), description="ids of transmitters whose carrier it touches")


class ScanResult(_Result):
    """A scan read, what is occupied in it, and whom that touches."""

    path: str
    name: str
    file: str
    low_mhz: float
    high_mhz: float
    points: int
    step_khz: float
    highest_dbm: float
    floor_dbm: float = Field(description="the median level")
    threshold_dbm: float
    guard_khz: float
    occupied: tuple[OccupiedRow, ...]
    touched: tuple[str, ...] = Field(default=(), description="ids of transmitters that would have to move")
    saved: Saved | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """Stop when a carrier lies on what is occupied."""
        return Weight.STOP if self.touched else Weight.FINE

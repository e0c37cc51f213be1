"""What the commands and pages of the rig answer with: paths, changeovers, fallout, and what is not kept."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class HopRow(_Result):
    """One step of a path."""

    way: str = Field(description="link, stream, route or pass (a way that is always there inside a piece)")
    id: str = Field(description="of the link, stream or route; of the piece, for a pass")
    from_: str = Field(serialization_alias="from", description="in words")
    to: str
    piece: str = Field(description="id of the piece that it ends in")
    gain_db: float
    latency_ms: float
    total_ms: float = Field(description="since the sound at the source")
    conversions: tuple[str, ...] = ()
    clock: str = Field(default="", description="whose clock the piece that it ends in runs on, in words")


class PathRow(_Result):
    """One way of a source to a track or listener."""

    source: str
    target: str = Field(description="track: or feed: and an id")
    target_name: str
    gain_db: float
    latency_ms: float
    conversions: tuple[str, ...]
    hops: tuple[HopRow, ...]


class ArrivalRow(_Result):
    """One source where it arrives."""

    id: str
    name: str
    gain_db: float
    latency_ms: float
    ways: int


class TargetRow(_Result):
    """A track or listener, what it is to have and what it has in this combination."""

    id: str
    number: int | None = Field(default=None, description="of a track")
    name: str
    arrives: tuple[ArrivalRow, ...]
    missing: tuple[str, ...] = Field(default=(), description="ids of sources that are to arrive and do not")


class RigResult(_Result):
    """The rig in one combination, with every proof over all of them."""

    name: str
    combination: dict[str, str] = Field(description="by changeover, the position that is shown")
    combination_in_words: str
    combinations: int = Field(description="that there are, and that the proofs hold in or tell")
    pieces: int
    links: int
    channels: int = Field(description="of all ports and tracks that are used")
    tracks: tuple[TargetRow, ...]
    listeners: tuple[TargetRow, ...]
    paths: tuple[PathRow, ...] = Field(default=(), description="of the source that was asked for")
    findings: tuple[Finding, ...]
    drawing_file: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """The heaviest finding."""
        return heaviest(self.findings)


class ChangeRow(_Result):
    """One changeover from one position to another."""

    changeover: str
    name: str
    before: str
    after: str
    sentence: str
    tracks_kept: int
    lost: tuple[str, ...] = Field(description="in words; none when every track is kept")
    repatches: tuple[str, ...] = Field(description="ids of routes and subscriptions to be changed by hand")
    unplug: tuple[str, ...] = Field(description="ids of cables")
    plug: tuple[str, ...]
    faders: tuple[str, ...]
    switched_on: tuple[str, ...] = Field(description="ids of pieces that come into use")
    switched_off: tuple[str, ...]
    carried: tuple[str, ...] = Field(description="names of pieces that go to another place")
    gains: tuple[str, ...] = Field(description="in words")
    delay_ms: float = Field(description="the largest change of delay on a track")
    combinations: int = Field(description="of the rest, in all of which it was proven")
    covered: bool


class ChangeoversResult(_Result):
    """What every changeover asks of hands, and what it costs."""

    name: str
    combinations: int
    changes: tuple[ChangeRow, ...]
    findings: tuple[Finding, ...]

    @property
    def weight(self) -> Weight:
        """The heaviest finding."""
        return heaviest(self.findings)


class LossRow(_Result):
    """What goes when something fails, in the worst combination."""

    failed: tuple[str, ...] = Field(description="piece:, link:, stream:, supply: or clock: and an id")
    in_words: str
    uncovered: tuple[str, ...] = Field(description="characters that are then on no track")
    covered_by: dict[str, tuple[str, ...]] = Field(description="characters that lose a track, and where they are heard")
    tracks: tuple[str, ...] = Field(description="ids of tracks that lose a source they are to have")
    mixes: tuple[str, ...] = Field(description="of these, sums that lose a part only")
    listeners: tuple[str, ...]
    at_risk: tuple[str, ...] = Field(description="of a clock: tracks whose samples slip")
    combination: str
    cure: str = ""
    cure_removes: bool = Field(default=False, description="whether the failure costs nothing with that cure")


class FalloutResult(_Result):
    """What every failure costs, dearest first."""

    name: str
    asked: int = Field(description="things whose failure was tried, one at a time")
    combinations: int
    single: tuple[LossRow, ...]
    pairs: tuple[LossRow, ...] = ()
    complete: bool
    characters: int

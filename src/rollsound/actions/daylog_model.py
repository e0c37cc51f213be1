"""What the commands of the day's log answer with."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding
from rollsound.log.daybook import Overlap, Written
from rollsound.log.daylines import LogLine
from rollsound.log.entries import local_time
from rollsound.log.line_words import line_in_words
from rollsound.log.model import Entry


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class LogLineRow(_Result):
    """One line of the log."""

    id: str
    kind: str = Field(description="take, wearing, battery, changeover, jam, temperature, note or promise")
    day: str = Field(description="id of the day in the plan's schedule")
    at: datetime = Field(description="when it happened, in UTC")
    local: str = Field(description="the time of day where it was written")
    person: str
    device: str
    words: str = Field(description="what it says, short")
    fields: dict[str, Any] = Field(description="by name; what is empty is left out")
    made: int = Field(description="the entry of the history that wrote it")
    changed: int = Field(description="the last entry that changed it")

    @classmethod
    def of(cls, line: LogLine) -> LogLineRow:
        """A line as it is told."""
        return cls(
            id=line.id,
            kind=line.kind,
            day=line.day,
            at=line.at.astimezone(UTC),
            local=local_time(line.at),
            person=line.by.person,
            device=line.by.device,
            words=line_in_words(line),
            fields=line.fields,
            made=line.made,
            changed=line.changed,
        )


class OverlapRow(_Result):
    """A field that somebody else had changed meanwhile; the later value holds."""

    line: str
    field: str
    theirs: Any = None
    mine: Any = None
    person: str
    at: datetime

    @classmethod
    def of(cls, overlap: Overlap) -> OverlapRow:
        """One of them."""
        return cls(**vars(overlap))


class LogWritten(_Result):
    """What was written into the log."""

    number: int | None = Field(description="the entry in the history; null when there was nothing to change")
    sentence: str
    lines: tuple[LogLineRow, ...] = Field(description="as they stand now; none where they were taken out")
    overlaps: tuple[OverlapRow, ...] = ()
    again: bool = Field(default=False, description="it was written before, and is not written twice")

    @classmethod
    def of(cls, written: Written) -> LogWritten:
        """What came of an act."""
        return cls(
            number=written.entry.number if written.entry else None,
            sentence=written.entry.sentence if written.entry else "Nothing was to change",
            lines=tuple(LogLineRow.of(line) for line in written.lines),
            overlaps=tuple(OverlapRow.of(each) for each in written.overlaps),
            again=written.again,
        )


class LogActRow(_Result):
    """One thing that was done to a line."""

    number: int
    at: datetime
    person: str
    device: str
    sentence: str
    undone: bool

    @classmethod
    def of(cls, entry: Entry) -> LogActRow:
        """An entry of the journal."""
        return cls(
            number=entry.number,
            at=entry.at,
            person=entry.author.person,
            device=entry.author.device,
            sentence=entry.sentence,
            undone=entry.undone,
        )


class SlateRow(_Result):
    """What is likely to stand on the slate next."""

    scene: str
    slate: str
    take: str
    sound_roll: str
    style: str = Field(description="slate numbers or scene letters")


class WornRow(_Result):
    """A pack on somebody."""

    pack: str
    character: str
    mic_place: str
    power_mw: float | None
    since: datetime
    note: str
    line: str


class ChargeRow(_Result):
    """How the battery of an item stands."""

    item: str
    changed: datetime | None = Field(description="when it was changed last; null where nobody wrote it down")
    percent: float | None = Field(description="as it was shown at the last look")
    looked: datetime
    line: str


class PositionRow(_Result):
    """The position a changeover is in."""

    changeover: str
    position: str
    since: datetime
    line: str


class JamRow(_Result):
    """The last jam of a time code device."""

    device: str
    source: str
    timecode: str
    at: datetime
    line: str


class LogNow(_Result):
    """How the day stands at a moment."""

    day: str
    at: datetime | None = Field(description="null for now")
    wearing: tuple[WornRow, ...]
    batteries: tuple[ChargeRow, ...]
    positions: tuple[PositionRow, ...]
    jams: tuple[JamRow, ...]
    promises: tuple[LogLineRow, ...] = Field(description="wild tracks that were promised and are still open")
    rolling: LogLineRow | None = Field(description="the take that is rolling")
    next: SlateRow


class LogListed(_Result):
    """The log of a day, or of the whole show."""

    folder: str
    title: str
    day: str = Field(description="empty for the whole show")
    lines: tuple[LogLineRow, ...]
    findings: tuple[Finding, ...] = ()
    number: int = Field(description="the newest entry of the history about the log; 0 when there is none")


class LogExported(_Result):
    """A log that was written to a file."""

    folder: str
    day: str
    out: str
    takes: int
    lines: int

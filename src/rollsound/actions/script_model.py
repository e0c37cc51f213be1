"""What the script answers, as documented JSON: its breakdown, what a revision changes, what the schedule has of it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class VoiceRow(_Result):
    """What one character says, or sings, in a scene."""

    character: str
    name: str
    words: int
    lines: int = Field(description="speeches; lines of the song for who sings")
    off: str = Field(default="", description="off screen or voice over, where all of it is")


class CueRow(_Result):
    """Something that sounds."""

    kind: str
    text: str
    line: int = Field(description="of the script; 0 where there is none")


class SceneRow(_Result):
    """One scene."""

    id: str
    number: str
    heading: str
    interior: str
    place: str
    time: str
    eighths: int
    pages: str = Field(description="as on breakdowns: 2 3/8")
    minutes: float
    page: int
    synopsis: str = ""
    speaks: tuple[VoiceRow, ...] = ()
    sings: tuple[VoiceRow, ...] = ()
    dual: bool = False
    sung: bool = False
    omitted: bool = False
    cues: tuple[CueRow, ...] = ()
    songs: tuple[str, ...] = ()
    days: tuple[str, ...] = Field(default=(), description="ids of the days it is scheduled on")
    words: int = 0


class CharacterRow(_Result):
    """One character over the whole script."""

    id: str
    name: str
    also: tuple[str, ...] = ()
    performer: str = ""
    kind: str = "adult"
    principal: bool = False
    scenes: int = Field(description="how many it speaks or sings in")
    words: int
    sung_words: int
    days: tuple[str, ...] = ()


class OfferRow(_Result):
    """Two spellings that may be one character."""

    keep: str
    other: str
    why: str
    sentence: str


class RemarkRow(_Result):
    """Something that was not as it should be; the rest was read."""

    line: int = Field(description="0 where it is of the whole file")
    sentence: str


class ChangedPersonRow(_Result):
    """What one character says and sings in a scene, before and now."""

    character: str
    name: str
    spoken_before: int
    spoken: int
    sung_before: int
    sung: int
    sentence: str


class ChangedSceneRow(_Result):
    """What happened to one scene."""

    kinds: tuple[str, ...] = Field(description="added, omitted, moved, renumbered, changed")
    number: str
    number_before: str
    heading: str
    people: tuple[ChangedPersonRow, ...] = ()
    told: tuple[str, ...] = ()
    days: tuple[str, ...] = ()
    sentence: str = ""


class DayCostRow(_Result):
    """What a revision asks of a day that is scheduled."""

    day: str
    name: str
    newly_needed: tuple[str, ...] = Field(default=(), description="names of who had nothing to say on this day")
    no_more: tuple[str, ...] = ()
    most_before: int = Field(description="most speakers and singers of one scene, before")
    most: int
    eighths_before: int
    eighths: int
    newly_sung: tuple[str, ...] = ()
    sentence: str


class RevisionRow(_Result):
    """What the script that was read changes of the one that the show has."""

    nothing: bool
    sentence: str
    scenes: tuple[ChangedSceneRow, ...] = ()
    new_characters: tuple[str, ...] = ()
    gone_characters: tuple[str, ...] = ()
    days: tuple[DayCostRow, ...] = ()
    unscheduled: tuple[str, ...] = Field(default=(), description="numbers of new scenes that stand on no day")
    scheduled_and_gone: tuple[str, ...] = Field(default=(), description="one sentence each")


class ScriptDayRow(_Result):
    """A day of the schedule, with what its scenes ask."""

    id: str
    name: str
    date: str
    sites: tuple[str, ...]
    unit: str
    call: str
    wrap: str
    scenes: tuple[str, ...]
    eighths: int
    pages: str
    characters: tuple[str, ...] = Field(description="ids of all who speak or sing on it")
    most: int = Field(description="most of them in one scene")
    sung: tuple[str, ...] = ()
    change: str = Field(default="", description="new or changed, where a schedule was read")


class ScriptSaved(_Result):
    """What was written."""

    path: str
    sentence: str
    revision: int | None = None
    changed: int = 0


class ScriptResult(_Result):
    """A script broken down for sound, and what it means for the show."""

    path: str
    name: str
    file: str = Field(description="what was read; empty for what the plan has")
    draft: str = ""
    pages: str
    minutes: float
    words: int
    scenes: tuple[SceneRow, ...]
    characters: tuple[CharacterRow, ...]
    days: tuple[ScriptDayRow, ...] = ()
    offers: tuple[OfferRow, ...] = ()
    remarks: tuple[RemarkRow, ...] = ()
    revision: RevisionRow | None = None
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    saved: ScriptSaved | None = None

    @property
    def weight(self) -> Weight:
        """The weight of the worst finding."""
        return heaviest(self.findings)

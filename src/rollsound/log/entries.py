"""What the log of a day can hold: takes, who wears what, batteries, changeovers, jams, temperatures, notes, promises.

A line of the log is one of these with a day, a moment and whoever wrote it; ``daybook`` keeps them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from rollsound.errors import InputError, Mistake, MistakesError
from rollsound.mistakes import mistakes_of
from rollsound.wrong import not_there

_LABEL = re.compile(r"(\d{1,2}):([0-5]\d):([0-5]\d)([:;.,])(\d{1,3})")
_YES = {"yes", "true", "1", "y", "x"}
_NO = {"", "no", "false", "0", "n"}

TakeKind = Literal["take", "wild track", "room tone", "series", "false start", "no good"]
BatteryAct = Literal["changed", "checked"]
JamAct = Literal["jammed", "checked"]


def _label(text: str) -> str:
    """A time code as it is kept; which frames there are depends on the rate, which the plan knows and not the log."""
    if not text:
        return ""
    form = _LABEL.fullmatch(text)
    if form is None or int(form[1]) > 23:
        raise ValueError(f"'{text[:20]}' is no time code; write hours:minutes:seconds:frames, for example 10:20:30:05")
    mark = ":" if form[4] == ":" else ";"
    return f"{int(form[1]):02d}:{form[2]}:{form[3]}{mark}{int(form[5]):02d}"


def _yes_or_no(value: object) -> object:
    if not isinstance(value, str):
        return value
    text = value.strip().lower()
    if text in _YES or text in _NO:
        return text in _YES
    raise ValueError(f"'{value[:20]}' is neither yes nor no; write yes, no or leave it empty")


def _listed(value: object) -> object:
    """A list that may come as one text with commas."""
    return [part.strip() for part in value.split(",") if part.strip()] if isinstance(value, str) else value


def _or_none(value: object) -> object:
    return None if isinstance(value, str) and not value.strip() else value


Word = Annotated[str, Field(max_length=80)]
Text = Annotated[str, Field(max_length=4000)]
Label = Annotated[str, Field(max_length=20), AfterValidator(_label)]
Names = Annotated[tuple[Annotated[str, Field(min_length=1, max_length=200)], ...], BeforeValidator(_listed)]
YesNo = Annotated[bool, BeforeValidator(_yes_or_no)]
Needed = Annotated[str, Field(min_length=1, max_length=80)]


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class TakeEntry(_Entry):
    """One roll of the recorder. Without a time code out it is still rolling, or nobody wrote it down."""

    scene: Word = ""
    slate: Word = Field(default="", description="its number, or the scene with its letter; empty for a wild track")
    take: Word = Field(default="", description="the number, or WT1, RT1 for wild tracks and room tone")
    kind: TakeKind = "take"
    sound_roll: Word = ""
    timecode_in: Label = ""
    timecode_out: Label = ""
    files: Names = Field(default=(), max_length=200)
    circled: YesNo = False
    note: Text = ""
    track_notes: dict[Needed, Text] = Field(default_factory=dict, description="by track")
    songs: Names = Field(default=(), max_length=50, description="ids of the songs that are played back")
    promise: Word = Field(default="", description="the line of the wild track that was promised")


class WearingEntry(_Entry):
    """Who wears a pack from now on. Without a character it was taken off."""

    pack: Needed
    character: Word = ""
    mic_place: Word = Field(default="", description="where the microphone sits: chest, hair, collar")
    power_mw: Annotated[float | None, BeforeValidator(_or_none)] = Field(default=None, ge=0, le=5000)
    note: Text = ""


class BatteryEntry(_Entry):
    """A battery that was changed, or looked at."""

    item: Needed = Field(description="what it feeds: a pack, a receiver, the recorder")
    pack: Word = ""
    what: BatteryAct = "changed"
    percent: Annotated[float | None, BeforeValidator(_or_none)] = Field(
        default=None, ge=0, le=100, description="left, as it was shown"
    )
    note: Text = ""


class ChangeoverEntry(_Entry):
    """A planned switch that was put into one of its positions."""

    changeover: Needed
    position: Needed
    note: Text = ""


PAGE_CLOCK = "log clock"
"""The device under which the page Takes writes the jam of its own clock, which is no device of the day."""


class JamEntry(_Entry):
    """A time code device that was jammed, or compared without being jammed."""

    device: Needed
    source: Word = Field(default="", description="what it was jammed from")
    timecode: Label = Field(default="", description="what it showed at that moment, after the jam")
    what: JamAct = "jammed"
    offset_frames: Annotated[float | None, BeforeValidator(_or_none)] = Field(
        default=None, ge=-1e7, le=1e7, description="how far it was off just before; plus is ahead of the source"
    )
    note: Text = ""


class TemperatureEntry(_Entry):
    """How cold or warm it is."""

    temperature_c: float = Field(ge=-90, le=70, allow_inf_nan=False)
    site: Word = ""
    note: Text = ""


class NoteEntry(_Entry):
    """Words about the day, a track or a take."""

    text: Annotated[str, Field(min_length=1, max_length=4000)]
    track: Word = ""
    take: Word = Field(default="", description="the line of a take")


class PromiseEntry(_Entry):
    """A wild track, or a line of one, that was promised instead of another take."""

    text: Annotated[str, Field(min_length=1, max_length=4000)]
    scene: Word = ""
    characters: Names = Field(default=(), max_length=50)
    kept_by: Word = Field(default="", description="the line of the take that kept it; empty while it is open")


AnyEntry: TypeAlias = (
    TakeEntry | WearingEntry | BatteryEntry | ChangeoverEntry | JamEntry | TemperatureEntry | NoteEntry | PromiseEntry
)
KINDS: dict[str, type[AnyEntry]] = {
    "take": TakeEntry,
    "wearing": WearingEntry,
    "battery": BatteryEntry,
    "changeover": ChangeoverEntry,
    "jam": JamEntry,
    "temperature": TemperatureEntry,
    "note": NoteEntry,
    "promise": PromiseEntry,
}
"""By the name of the kind, as lines keep it."""


def entry_of(kind: str, fields: Mapping[str, Any]) -> AnyEntry:
    """What was written as an entry of its kind.

    Raises
    ------
    InputError
        when there is no such kind
    MistakesError
        with every mistake and its field
    """
    model = KINDS.get(kind)
    if model is None:
        raise InputError(f"the log {not_there(kind, 'a kind', KINDS)}")
    try:
        return model.model_validate(dict(fields))
    except ValidationError as error:
        raise MistakesError(f"the {kind}", [_mistake(each, model) for each in mistakes_of(error)]) from error


def kept_entry(kind: str, fields: Mapping[str, Any]) -> AnyEntry:
    """What the log keeps; a field that this version does not know is left out here, not in the log."""
    model = KINDS[kind]
    return model.model_validate({name: value for name, value in fields.items() if name in model.model_fields})


def fields_of(entry: AnyEntry) -> dict[str, Any]:
    """An entry as it is kept: what is empty is left out, so that taking a value away is the same as never giving it."""
    return entry.model_dump(mode="json", exclude_defaults=True)


def _mistake(mistake: Mistake, model: type[AnyEntry]) -> Mistake:
    if "is not known here" not in mistake.sentence:
        return mistake
    return Mistake(mistake.place, mistake.line, f"is not known here; there are: {', '.join(model.model_fields)}")


def local_time(moment: datetime) -> str:
    """The time of day where a line was written: ``14:05:09``."""
    return moment.strftime("%H:%M:%S")

"""A request for carriers as one file of JSON: for plans without a show, and for measuring a search.

All frequencies in the file are in megahertz and all distances in kilohertz, as their names say. Inside are whole hertz,
so a figure finer than a hertz is a mistake and is never rounded away.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from rollsound.errors import Mistake, MistakesError
from rollsound.jsontext import read_json
from rollsound.mistakes import mistakes_of
from rollsound.radio.carriers.task import Guard, Mode, Occupied, Product, Task, Wanted

MOST_MHZ = 300_000
MOST_TRANSMITTERS = 2_000
MOST_PLACES = 2_000_000
"""On the raster of one transmitter: above it the step is a slip of the pen, and a search would be endless."""

MODES = {
    "place_all": Mode.ALL,
    "max_number": Mode.MOST,
    "repair": Mode.REPAIR,
    "add": Mode.ADD,
    "all": Mode.ALL,
    "most": Mode.MOST,
}


def _hertz_in(unit: str, hertz: int) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if value is None:
            return None
        if isinstance(value, str) and value.strip():
            raise ValueError(f"is '{value[:40]}'; write the number alone, in {unit}")
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(f"should be a number, in {unit}")
        if not abs(value) <= MOST_MHZ * 1_000_000 // hertz:
            raise ValueError(f"is {value:g} {unit}, where no radio is")
        exact = Decimal(str(value)) * hertz
        if exact != exact.to_integral_value():
            raise ValueError(f"is {value} {unit}, finer than a whole hertz; write fewer decimals")
        return int(exact)

    return read


Mhz = Annotated[int, BeforeValidator(_hertz_in("MHz", 1_000_000))]
Khz = Annotated[int, BeforeValidator(_hertz_in("kHz", 1_000)), Field(ge=0)]


class _Part(BaseModel):
    """Names that are not known may stand beside the known (remarks of whoever made the file), but no misspelt ones."""

    model_config = ConfigDict(frozen=True, extra="allow", coerce_numbers_to_str=True)
    remarks: ClassVar[frozenset[str]] = frozenset({"name", "note", "notes", "description", "why", "source", "comment"})

    @model_validator(mode="before")
    @classmethod
    def _no_misspelt(cls, data: Any) -> Any:
        if isinstance(data, dict):
            known = [field.alias or name for name, field in cls.model_fields.items()]
            for name in data:
                near = difflib.get_close_matches(str(name), known, 1, 0.8)
                if name not in known and name not in cls.remarks and near and near[0] not in data:
                    raise ValueError(f"has '{str(name)[:40]}', which is not known; write '{near[0]}'")
        return data


class _Rules(_Part):
    two_third: bool = Field(default=True, alias="imd3_2tx")
    three_third: bool = Field(default=True, alias="imd3_3tx")
    two_fifth: bool = Field(default=False, alias="imd5_2tx")
    three_fifth: bool = Field(default=False, alias="imd5_3tx")


class _Kind(_Part):
    spacing: Khz = Field(alias="spacing_khz")
    two_third: Khz | None = Field(default=None, alias="guard_2tx3_khz")
    three_third: Khz | None = Field(default=None, alias="guard_3tx3_khz")
    two_fifth: Khz | None = Field(default=None, alias="guard_2tx5_khz")
    three_fifth: Khz | None = Field(default=None, alias="guard_3tx5_khz")


class _Transmitter(_Part):
    id: str = Field(min_length=1, max_length=64)
    kind: str
    low: Mhz = Field(alias="lo_mhz")
    high: Mhz = Field(alias="hi_mhz")
    step: Khz = Field(alias="step_khz")
    origin: Mhz | None = Field(default=None, alias="grid_origin_mhz")
    width: Khz = Field(default=200_000, alias="bandwidth_khz")
    zone: str = ""
    fixed: Mhz | None = Field(default=None, alias="fixed_mhz")
    now: Mhz | None = Field(default=None, alias="now_mhz")
    on_air: bool = False
    priority: int = Field(default=2, ge=1, le=9)
    spares: int = Field(default=0, ge=0, le=8)
    receiver: str = ""


class _Exclusion(_Part):
    low: Mhz = Field(alias="lo_mhz")
    high: Mhz = Field(alias="hi_mhz")
    guard: Khz = Field(default=0, alias="guard_khz")
    why: str = ""


class _Receiver(_Part):
    id: str = Field(min_length=1, max_length=64)
    window: Mhz = Field(alias="window_mhz", gt=0)


class _Instance(_Part):
    name: str = ""
    mode: str = "place_all"
    rules: _Rules = _Rules()
    kinds: dict[str, _Kind] = Field(min_length=1)
    transmitters: list[_Transmitter] = Field(min_length=1, max_length=MOST_TRANSMITTERS)
    exclusions: list[_Exclusion] = []
    receivers: list[_Receiver] = []


def read(text: str, name: str) -> tuple[Task, Mode]:
    """Read a request.

    Parameters
    ----------
    text
        JSON: ``mode``, ``rules``, ``kinds``, ``transmitters``, ``exclusions``, and ``receivers`` with their windows
    name
        what the text is called in the sentences about it

    Raises
    ------
    MistakesError
        every mistake, each in one sentence with its line
    """
    document = read_json(text, name)
    try:
        asked = _Instance.model_validate(document.value)
    except ValidationError as error:
        raise MistakesError(name, mistakes_of(error, document.line_of)) from error
    found = _mistakes(asked)
    if found:
        places = [(place, document.line_of(place), sentence) for place, sentence in found]
        raise MistakesError(name, [Mistake(_words(place), line, sentence) for place, line, sentence in places])
    guards = {kind: _guard(kind, given, asked.rules) for kind, given in asked.kinds.items()}
    return (
        Task(
            guards=guards,
            wanted=tuple(_wanted(each) for each in asked.transmitters),
            occupied=tuple(Occupied(each.low, each.high, each.guard, each.why) for each in asked.exclusions),
            windows_hz={each.id: each.window for each in asked.receivers},
            name=asked.name or name,
        ),
        MODES[asked.mode],
    )


Place = tuple[int | str, ...]


def _words(place: Place) -> str:
    return " ".join(f"{step + 1}" if isinstance(step, int) else step for step in place)


def _guard(kind: str, given: _Kind, rules: _Rules) -> Guard:
    return Guard(
        kind,
        given.spacing,
        {
            Product.TWO_THIRD: (given.two_third or 0) * rules.two_third,
            Product.THREE_THIRD: (given.three_third or 0) * rules.three_third,
            Product.TWO_FIFTH: (given.two_fifth or 0) * rules.two_fifth,
            Product.THREE_FIFTH: (given.three_fifth or 0) * rules.three_fifth,
            Product.THREE_FIFTH_MIXED: (given.three_fifth or 0) * rules.three_fifth,
        },
    )


def _wanted(given: _Transmitter) -> Wanted:
    return Wanted(
        id=given.id,
        guard=given.kind,
        low_hz=given.low,
        high_hz=given.high,
        step_hz=given.step,
        origin_hz=given.low if given.origin is None else given.origin,
        width_hz=given.width,
        zone=given.zone,
        now_hz=given.now if given.fixed is None else given.fixed,
        fixed=given.fixed is not None,
        on_air=given.on_air or given.fixed is not None,
        priority=given.priority,
        spares=given.spares,
        within=given.receiver,
    )


def _mistakes(asked: _Instance) -> list[tuple[Place, str]]:
    """What each part alone does not show."""
    found: list[tuple[Place, str]] = []
    if asked.mode not in MODES:
        found.append((("mode",), f"cannot be '{asked.mode[:40]}'; write one of {', '.join(list(MODES)[:4])}"))
    for kind, given in asked.kinds.items():
        for rule in _Rules.model_fields:
            if getattr(asked.rules, rule) and getattr(given, rule) is None:
                alias = _Kind.model_fields[rule].alias
                sentence = f"has no {alias}, but its rule is on; write it in, 0 where it does not count"
                found.append((("kinds", kind), sentence))
    seen: set[str] = set()
    receivers = {each.id for each in asked.receivers}
    for n, each in enumerate(asked.transmitters):
        place = ("transmitters", n)
        if each.id in seen:
            found.append((place, f"has the id '{each.id}', which another has; give every one its own"))
        seen.add(each.id)
        if each.kind not in asked.kinds:
            found.append((place, f"is of kind '{each.kind[:40]}', which is not among the kinds; add it or correct it"))
        if each.receiver and each.receiver not in receivers:
            found.append((place, f"is heard by '{each.receiver[:40]}', which is not among the receivers; add it there"))
        sentence = _range_mistake(each)
        if sentence:
            found.append((place, sentence))
    for n, exclusion in enumerate(asked.exclusions):
        if exclusion.high <= exclusion.low:
            sentence = f"runs from {exclusion.low / 1e6:g} to {exclusion.high / 1e6:g} MHz; write the lower edge first"
            found.append((("exclusions", n), sentence))
    for n, receiver in enumerate(asked.receivers):
        if receiver.id in {other.id for other in asked.receivers[:n]}:
            found.append((("receivers", n), f"has the id '{receiver.id}', which another has; give every one its own"))
    return found


def _range_mistake(each: _Transmitter) -> str:
    low, high = each.low / 1e6, each.high / 1e6
    if each.high <= each.low:
        return f"tunes from {low:g} to {high:g} MHz; write the lower edge first"
    if each.step == 0:
        return "has a step of 0 kHz; write the step that it tunes in"
    first, last = each.low + (each.width + 1) // 2, each.high - (each.width + 1) // 2
    if first > last:
        return f"is {each.width / 1e3:g} kHz wide, wider than its tuning range of {low:g} to {high:g} MHz"
    origin = each.low if each.origin is None else each.origin
    places = (last - origin) // each.step - -(-(first - origin) // each.step) + 1
    if places < 1:
        return f"has no step of {each.step / 1e3:g} kHz inside {low:g} to {high:g} MHz; check its step and grid origin"
    if places > MOST_PLACES:
        return f"has {places:,} steps of {each.step / 1e3:g} kHz in its range; write a step of a kilohertz or more"
    if each.fixed is not None and each.now is not None and each.fixed != each.now:
        return "has both fixed_mhz and now_mhz, and they differ; keep the one that is on the air"
    return ""

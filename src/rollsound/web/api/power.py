"""Power: a day's answer and its lanes as a picture, changes that are tried, and rows of the plan that are written.

Longer than most files: the fields of five lists of the plan stand here beside the routes that write them.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field

from rollsound.actions import power_page, power_page_edits
from rollsound.errors import InputError
from rollsound.web.api.radio import Base, Id, RadioSaved, saved
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.once import TheKey
from rollsound.web.pages.power_rows import finite, lede_of, verdict_of
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.statics import files
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.power_model import BatteryRow
    from rollsound.report.charts import Face

router = APIRouter(prefix="/api/v1/power", tags=["power"], responses=PROBLEMS)

DayId = Annotated[str, Query(max_length=64, description="id of a day; the hardest one when left out")]
Text = Annotated[str, Field(max_length=200)]
Words = Annotated[str, Field(max_length=60)]
Share = Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=1000)]
Many = Annotated[int, Field(ge=1, le=100)]
State = Literal["working", "idle", "asleep", "off"]
Tried = Annotated[str, Query(max_length=4000)]
_SAID = frozenset({"attended"})
"""Where no is another answer than nothing."""
_FOR_GOOD = "private, max-age=31536000, immutable"
_TYPES = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf"}


class PowerLane(BaseModel):
    """Batteries in use on the day."""

    id: str
    names: list[str]
    battery: str
    in_set: int
    alike: int
    load_w: float
    day_wh: float
    hours: float | None = Field(description="of one set at the working load; null without end")
    dry: str | None = Field(description="when the first set is dry without a change; null when it lasts")
    flat: str | None = Field(description="when it is flat with what is owned; null when it lasts")
    left_h: float | None = Field(description="that the last set has at the end; null without end")
    changes: list[str]
    sets_needed: int
    sets_given: int
    weight: str
    sentence: str


class PowerDay(BaseModel):
    """One day at a glance."""

    id: str
    name: str
    call: str
    wrap: str
    coldest_c: float | None
    stops: int
    watches: int


class PowerStock(BaseModel):
    """One kind of battery."""

    id: str
    name: str
    in_use: int
    spares_needed: int
    owned: int
    missing: int


class PowerToday(BaseModel):
    """A day's power as the plan stands."""

    revision: int
    day: str
    verdict: str
    lede: str
    stops: int
    watches: int
    days: list[PowerDay]
    lanes: list[PowerLane]
    stock: list[PowerStock]
    findings: list[str]
    cautions: list[str]


class TriedState(BaseModel):
    """The same day with a change; nothing is saved."""

    revision: int
    before: str = Field(description="the answer as planned")
    after: str = Field(description="the answer with the change")
    weight: str
    sentence: str
    changed: list[str] = Field(description="a sentence for every lane that differs")
    solved: list[str]
    new: list[str]


class TryGiven(BaseModel, extra="forbid"):
    """A change that was tried and is kept. Ids stand before what is set for them."""

    count_of: dict[str, int] = Field(default_factory=dict, max_length=200)
    battery_of: dict[str, str] = Field(default_factory=dict, max_length=200)
    parallel_of: dict[str, int] = Field(default_factory=dict, max_length=200)
    state_of: dict[str, State] = Field(default_factory=dict, max_length=200)
    break_of: dict[str, bool] = Field(default_factory=dict, max_length=200)
    times_of: dict[str, tuple[Words, Words]] = Field(default_factory=dict, max_length=200)
    reserve: float | None = Field(default=None, ge=0, lt=1, allow_inf_nan=False)
    base_revision: Base = None


class BatteryGiven(BaseModel, extra="forbid"):
    """Batteries of one kind, as they are written; what is left out stays, an empty text takes its field out."""

    name: Text | None = Field(default=None, min_length=1)
    chemistry: Words | None = None
    voltage: Words | None = None
    capacity: Words | None = None
    cell: Words | None = None
    count: Count | None = None
    depth: Share | None = None
    health: Share | None = None
    cutoff: Words | None = None
    charge_power: Words | None = None
    note: Text | None = None
    base_revision: Base = None


class SupplyGiven(BaseModel, extra="forbid"):
    """What feeds others, as it is written."""

    name: Text | None = None
    battery: Words | None = None
    in_parallel: Many | None = None
    in_series: Many | None = None
    each: bool | None = None
    swappable_running: bool | None = None
    mains: bool | None = None
    from_supply: Words | None = None
    output: Words | None = None
    efficiency: Share | None = None
    most: Words | None = None
    temperature: Words | None = None
    note: Text | None = None
    base_revision: Base = None


class FeedGiven(BaseModel, extra="forbid"):
    """One thing that a supply feeds, and its wire."""

    piece: Words | None = None
    item: Words | None = None
    count: Count | None = None
    draw: Words | None = None
    wire_length: Words | None = None
    wire_section: Words | None = None
    wire_fuse: Words | None = None
    base_revision: Base = None


class PhaseGiven(BaseModel, extra="forbid"):
    """A stretch of a day in one state."""

    day: Words | None = None
    from_: Words | None = Field(default=None, alias="from")
    to: Words | None = None
    state: State | None = None
    break_: bool | None = Field(default=None, alias="break")
    note: Text | None = None
    base_revision: Base = None


class SocketGiven(BaseModel, extra="forbid"):
    """Where batteries are charged overnight."""

    name: Text | None = None
    most: Words | None = None
    from_: Words | None = Field(default=None, alias="from")
    to: Words | None = None
    places: Count | None = None
    attended: bool | None = None
    temperature: Words | None = None
    note: Text | None = None
    base_revision: Base = None


@router.get("", response_model=PowerToday)
def today(desk: TheDesk, day: DayId = "") -> Any:
    """Whether power carries a day: lanes, stock, what weighs."""
    state = power_page.state_of(desk.show, day)
    result = state.result
    if result is None:
        empty: dict[str, Any] = dict.fromkeys(("days", "lanes", "stock", "findings", "cautions"), ())
        told = {"verdict": verdict_of(None), "lede": w("power.empty"), "stops": 0, "watches": 0}
        return {"revision": state.revision, "day": "", **told, **empty}
    weights = [each.weight.value for each in result.findings]
    return {
        "revision": state.revision,
        "day": result.day,
        "verdict": verdict_of(result),
        "lede": lede_of(result),
        "stops": weights.count("stop"),
        "watches": weights.count("watch"),
        "days": [each.model_dump() for each in result.days],
        "lanes": [_lane(each) for each in result.batteries],
        "stock": [each.model_dump() for each in result.stock],
        "findings": [each.what for each in result.findings if each.weight.value != "fine"],
        "cautions": result.cautions,
    }


@router.get(
    "/chart",
    response_model=None,
    responses={
        200: {"content": {"image/svg+xml": {}, "image/png": {}, "application/pdf": {}}, "description": "The lanes."},
        304: {"description": "The one that is there still holds."},
    },
)
def chart(
    request: Request,
    desk: TheDesk,
    day: DayId = "",
    format: Literal["svg", "png", "pdf"] = "svg",
    theme: Literal["day", "night", "print"] = "day",
    width: Literal["wide", "narrow"] = "wide",
    v: Annotated[str, Query(max_length=64, description="the content's name: kept for good where it fits")] = "",
) -> Response:
    """The day's batteries as lanes, with their changes and where one goes flat."""
    from rollsound.actions.chart_kept import chart_picture
    from rollsound.report.charts import content_key

    result = power_page.state_of(desk.show, day).result
    if result is None or not result.batteries:
        raise missing(w("power.no_chart"))
    made = power_page.chart_of(result, narrow=width == "narrow")
    key = content_key(made, format, theme)
    headers = {"etag": f'"{key}"', "cache-control": _FOR_GOOD if v == key else "no-cache"}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    picture = chart_picture(desk.show.folder, made, format, theme, _faces())
    return Response(picture, media_type=_TYPES[format], headers=headers)


@router.get("/try", response_model=TriedState, dependencies=[needs(Right.PLAN)])
def attempt(
    desk: TheDesk,
    day: DayId = "",
    count: Tried = "",
    battery: Tried = "",
    parallel: Tried = "",
    state: Tried = "",
    breaks: Tried = "",
    times: Tried = "",
    reserve: Annotated[float | None, Query(ge=0, lt=1, allow_inf_nan=False)] = None,
    temperature: Annotated[float | None, Query(ge=-90, le=90, allow_inf_nan=False)] = None,
) -> Any:
    """What a change would do, written as ``id:value;id:value``; phases' times as ``lunch:13:00-13:45``."""
    from rollsound.actions.power_model import WhatIf

    change = WhatIf(
        count_of=_whole(_pairs(count)),
        battery_of=_pairs(battery),
        parallel_of=_whole(_pairs(parallel)),
        state_of=_pairs(state),
        break_of={id: value == "yes" for id, value in _pairs(breaks).items()},
        times_of=_spans(_pairs(times)),
        reserve=reserve,
        temperature_c=temperature,
    )
    revision, plan = desk.show.store.head().revision, desk.show.plan()
    found = power_page.tried(plan, change, day)
    return {
        "revision": revision,
        "before": verdict_of(found.before),
        "after": verdict_of(found.after),
        "weight": found.after.weight.value,
        "sentence": found.sentence,
        "changed": [each.sentence for each in found.changed],
        "solved": found.solved,
        "new": found.new,
    }


@router.post("/try", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def keep(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: TryGiven) -> Any:
    """Write a change that was tried into the plan."""
    from rollsound.actions.power_model import WhatIf

    change = WhatIf(**given.model_dump(exclude={"base_revision"}))
    steps = power_page.fields_of(desk.show.plan(), change)

    def edit(document: dict[str, Any]) -> dict[str, Any]:
        for at, values in steps:
            document = power_page_edits.put(document, at, values)
        return document

    return saved(desk, visitor, key, edit, base=given.base_revision)


@router.post("/batteries", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add_battery(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: BatteryGiven) -> Any:
    """Add batteries of one kind."""
    return added(desk, visitor, key, ("power", "batteries"), given, given.name or "battery")


@router.put("/batteries/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_battery(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, given: BatteryGiven) -> Any:
    """Change batteries of one kind."""
    return changed(desk, visitor, key, ("power", "batteries", id), given)


@router.delete("/batteries/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop_battery(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id) -> Any:
    """Take batteries out that nothing runs on."""
    return taken_out(desk, visitor, key, ("power", "batteries", id))


@router.post("/supplies", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add_supply(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: SupplyGiven) -> Any:
    """Add a supply."""
    return added(desk, visitor, key, ("power", "supplies"), given, given.name or "supply")


@router.put("/supplies/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_supply(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, given: SupplyGiven) -> Any:
    """Change a supply."""
    return changed(desk, visitor, key, ("power", "supplies", id), given)


@router.delete("/supplies/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop_supply(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id) -> Any:
    """Take a supply out, with all that it feeds."""
    return taken_out(desk, visitor, key, ("power", "supplies", id))


@router.post("/supplies/{id}/feeds", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add_feed(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, given: FeedGiven) -> Any:
    """Feed one more thing."""
    name = given.piece or given.item
    if not name:
        raise InputError(w("power.feed_nothing"))
    return added(desk, visitor, key, ("power", "supplies", id, "feeds"), given, name)


@router.put("/supplies/{id}/feeds/{feed}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_feed(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, feed: Id, given: FeedGiven) -> Any:
    """Change what is fed, or its wire."""
    return changed(desk, visitor, key, ("power", "supplies", id, "feeds", feed), given)


@router.delete("/supplies/{id}/feeds/{feed}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop_feed(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, feed: Id) -> Any:
    """Feed it no more."""
    return taken_out(desk, visitor, key, ("power", "supplies", id, "feeds", feed))


@router.post("/phases", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add_phase(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: PhaseGiven) -> Any:
    """Add a phase of the day."""
    return added(desk, visitor, key, ("power", "phases"), given, "break" if given.break_ else given.state or "phase")


@router.put("/phases/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_phase(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, given: PhaseGiven) -> Any:
    """Change a phase."""
    return changed(desk, visitor, key, ("power", "phases", id), given)


@router.delete("/phases/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop_phase(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id) -> Any:
    """Take a phase out."""
    return taken_out(desk, visitor, key, ("power", "phases", id))


@router.post("/sockets", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add_socket(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: SocketGiven) -> Any:
    """Add a place where batteries are charged."""
    return added(desk, visitor, key, ("power", "sockets"), given, given.name or "socket")


@router.put("/sockets/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_socket(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, given: SocketGiven) -> Any:
    """Change a place where batteries are charged."""
    return changed(desk, visitor, key, ("power", "sockets", id), given)


@router.delete("/sockets/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop_socket(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id) -> Any:
    """Take a place out where batteries are charged."""
    return taken_out(desk, visitor, key, ("power", "sockets", id))


@router.post("/example", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def example(desk: TheDesk, visitor: TheVisitor, key: TheKey) -> Any:
    """Put an example of the demo into a plan that says nothing about power yet."""
    if power_page.said(desk.show.plan()):
        raise InputError(w("power.example_late"))
    return saved(desk, visitor, key, power_page.with_example, w("power.example_taken"))


def changed(
    desk: Desk, visitor: Visitor, key: str, steps: tuple[str, ...], given: BaseModel, **more: Any
) -> dict[str, Any]:
    """Save fields of one row."""
    values = {**written(given), **more}
    base = getattr(given, "base_revision", None)
    return saved(desk, visitor, key, lambda document: power_page_edits.put(document, steps, values), base=base)


def added(
    desk: Desk, visitor: Visitor, key: str, steps: tuple[str, ...], given: BaseModel, name: str, **more: Any
) -> dict[str, Any]:
    """Save a new row."""
    values = {**written(given), **more}
    base = getattr(given, "base_revision", None)
    return saved(desk, visitor, key, lambda document: power_page_edits.add(document, steps, name, values), base=base)


def taken_out(desk: Desk, visitor: Visitor, key: str, steps: tuple[str, ...]) -> dict[str, Any]:
    """Take one row out."""
    return saved(desk, visitor, key, lambda document: power_page_edits.take_out(document, steps))


def written(given: BaseModel) -> dict[str, Any]:
    """What a change holds, by the names of the plan; ``wire_length`` stands as ``length`` in the wire."""
    values: dict[str, Any] = {}
    for name, value in given.model_dump(by_alias=True, exclude={"base_revision"}, exclude_unset=True).items():
        if value is None:
            continue
        plain = value.strip() if isinstance(value, str) else value
        plain = None if plain is False and name not in _SAID else plain  # what is not so is not written
        if name.startswith("wire_"):
            values.setdefault("wire", {})[name.removeprefix("wire_")] = plain
        else:
            values[name] = plain
    return values


def _lane(row: BatteryRow) -> dict[str, Any]:
    return {
        "id": row.id,
        "names": row.names,
        "battery": row.battery_name,
        "in_set": row.in_set,
        "alike": row.alike,
        "load_w": row.load_w,
        "day_wh": row.day_wh,
        "hours": finite(row.hours),
        "dry": row.dry,
        "flat": row.flat,
        "left_h": finite(row.left_h),
        "changes": [each.at for each in row.swaps],
        "sets_needed": row.sets_needed,
        "sets_given": row.sets_given,
        "weight": row.weight.value,
        "sentence": row.sentence,
    }


def _pairs(text: str) -> dict[str, str]:
    found = {}
    for each in filter(None, text.split(";")):
        match = re.fullmatch(r"([a-z0-9-]{1,64}):([a-z0-9:-]{1,64})", each)
        if match is None:
            raise InputError(w("power.try_wrong", text=each[:40]))
        found[match[1]] = match[2]
    return found


def _whole(pairs: dict[str, str]) -> dict[str, int]:
    for id, value in pairs.items():
        if not re.fullmatch(r"\d{1,4}", value):
            raise InputError(w("power.try_wrong", text=f"{id}:{value}"))
    return {id: int(value) for id, value in pairs.items()}


def _spans(pairs: dict[str, str]) -> dict[str, tuple[str, str]]:
    found = {}
    for id, value in pairs.items():
        start, _, end = value.partition("-")
        found[id] = (start, end)
    return found


def _faces() -> tuple[Face, ...]:
    from rollsound.report.charts import Face

    return (Face(400, files()["fonts/next-latin-400.woff2"].body),)

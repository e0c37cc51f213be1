"""Kit: how it travels, its papers to be taken away, and items and moves that are written."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, Field

from rollsound.actions import kit_page
from rollsound.actions.kit_model import BatteryRow, CustomsList, LoadRow
from rollsound.actions.power_page_edits import put
from rollsound.errors import InputError
from rollsound.web.api.power import added, changed, taken_out, written
from rollsound.web.api.radio import Base, Id, RadioSaved, saved
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.once import TheKey
from rollsound.web.pages.kit import lede_of, verdict_of
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/kit", tags=["kit"], responses=PROBLEMS)

TravelDate = Annotated[dt.date | None, Query(description="of the flight: its rules hold for batteries")]
Text = Annotated[str, Field(max_length=200)]
Words = Annotated[str, Field(max_length=60)]
Figure = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]


class KitToday(BaseModel):
    """The kit as it travels."""

    revision: int
    verdict: str
    lede: str
    stops: int
    watches: int
    currency: str
    whole: LoadRow | None
    loads: list[LoadRow]
    batteries: list[BatteryRow]
    customs: CustomsList | None
    findings: list[str]
    cautions: list[str]


class ItemGiven(BaseModel, extra="forbid"):
    """An item, as it is written; what is left out stays, an empty text takes its field out."""

    name: Text | None = Field(default=None, min_length=1)
    kind: Words | None = None
    model: Words | None = None
    count: Annotated[int, Field(ge=0, le=100_000)] | None = None
    mass: Words | None = None
    rack_units: Annotated[float, Field(ge=0, le=60, allow_inf_nan=False)] | None = None
    draw: Words | None = None
    make: Text | None = None
    serials: Annotated[str, Field(max_length=4000)] | None = Field(default=None, description="one of each, with commas")
    value: Figure | None = None
    origin: Annotated[str, Field(max_length=2)] | None = None
    consumable: bool | None = None
    travels_in: Text | None = None
    travels_by: Literal["", "cabin", "hold", "air cargo", "road or sea", "stays"] | None = None
    note: Text | None = None
    base_revision: Base = None


class MoveGiven(BaseModel, extra="forbid"):
    """A load that people lift, push or carry over steps."""

    name: Text | None = None
    load: Text | None = Field(default=None, min_length=1)
    people: Annotated[int, Field(ge=1, le=20)] | None = None
    women: bool | None = None
    zones: Text | None = Field(default=None, description="of a lift: all that the hands pass through, with commas")
    arms_length: bool | None = None
    surface: Literal["good", "uneven"] | None = None
    slope: Words | None = None
    steps: Annotated[int, Field(ge=0, le=1000)] | None = None
    note: Text | None = None
    base_revision: Base = None


class KitGiven(BaseModel, extra="forbid"):
    """What holds for the whole list."""

    currency: Annotated[str, Field(min_length=1, max_length=8)] | None = None
    travellers: Annotated[int, Field(ge=1, le=1000)] | None = None
    base_revision: Base = None


@router.get("", response_model=KitToday)
def today(desk: TheDesk, date: TravelDate = None) -> Any:
    """How the kit travels: what it weighs, which batteries may fly, what customs are given."""
    state = kit_page.state_of(desk.show, date)
    result = state.travels
    weights = [each.weight.value for each in result.findings] if result is not None else []
    broken = w("kit.verdict_mistakes", n=len(state.mistakes)) if state.mistakes else ""
    return {
        "revision": state.revision,
        "verdict": broken or verdict_of(result),
        "lede": lede_of(result) if result is not None else "" if broken else w("kit.empty"),
        "stops": weights.count("stop"),
        "watches": weights.count("watch"),
        "currency": state.plan.kit.currency,
        "whole": result.whole if result is not None else None,
        "loads": result.loads if result is not None else (),
        "batteries": result.batteries if result is not None else (),
        "customs": state.listed.customs if state.listed is not None else None,
        "findings": [each.what for each in result.findings if each.weight.value != "fine"] if result else (),
        "cautions": result.cautions if result is not None else (),
    }


@router.get(
    "/carnet",
    response_model=None,
    responses={200: {"content": {"application/pdf": {}, "text/csv": {}}, "description": "The general list."}},
)
def carnet(desk: TheDesk, format: Literal["pdf", "csv"] = "pdf", date: TravelDate = None) -> Response:
    """The general list for customs; a draft says so."""
    from rollsound.actions.kit_papers import carnet_csv, carnet_pdf

    listed = kit_page.state_of(desk.show, date).listed
    if listed is None or listed.customs is None or not listed.customs.lines:
        raise missing(w("kit.no_list"))
    if format == "csv":
        return _file(carnet_csv(listed).encode(), "text/csv; charset=utf-8", f"{_plain(desk)}-general-list.csv")
    return _file(carnet_pdf(listed), "application/pdf", f"{_plain(desk)}-general-list.pdf")


@router.get(
    "/labels",
    response_model=None,
    responses={200: {"content": {"application/pdf": {}}, "description": "Labels, 24 to a page."}},
)
def labels(desk: TheDesk) -> Response:
    """A label with a code for every piece."""
    from rollsound.actions.kit_papers import label_rows, labels_pdf

    if not desk.show.plan().kit.items:
        raise missing(w("kit.no_labels"))
    read = kit_page.read_of(desk.show)
    return _file(labels_pdf(read, label_rows(read)), "application/pdf", f"{_plain(desk)}-labels.pdf")


@router.put("", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_kit(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: KitGiven) -> Any:
    """Change the currency, or how many people travel."""
    values = written(given)
    return saved(desk, visitor, key, lambda document: put(document, ("kit",), values), base=given.base_revision)


@router.post("/items", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add_item(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: ItemGiven) -> Any:
    """Add an item."""
    if not given.name:
        raise InputError(w("kit.no_name"))
    return added(desk, visitor, key, ("kit", "items"), given, given.name, **_listed(given, "serials"))


@router.put("/items/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_item(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, given: ItemGiven) -> Any:
    """Change an item."""
    return changed(desk, visitor, key, ("kit", "items", id), given, **_listed(given, "serials"))


@router.delete("/items/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop_item(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id) -> Any:
    """Take an item out that nothing else of the plan names."""
    return taken_out(desk, visitor, key, ("kit", "items", id))


@router.post("/moves", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add_move(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: MoveGiven) -> Any:
    """Say how a load is moved."""
    if not given.load:
        raise InputError(w("kit.no_load"))
    return added(desk, visitor, key, ("kit", "moves"), given, given.name or given.load, **_listed(given, "zones"))


@router.put("/moves/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_move(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id, given: MoveGiven) -> Any:
    """Change how a load is moved."""
    return changed(desk, visitor, key, ("kit", "moves", id), given, **_listed(given, "zones"))


@router.delete("/moves/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop_move(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: Id) -> Any:
    """Take a move out."""
    return taken_out(desk, visitor, key, ("kit", "moves", id))


@router.post("/example", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def example(desk: TheDesk, visitor: TheVisitor, key: TheKey) -> Any:
    """Put the first items of the demo's kit into a plan that has none."""
    if desk.show.plan().kit.items:
        raise InputError(w("kit.example_late"))
    return saved(desk, visitor, key, kit_page.with_example, w("kit.example_taken"))


def _listed(given: BaseModel, name: str) -> dict[str, list[str]]:
    """A field that is written with commas, as the plan has it."""
    text = getattr(given, name)
    return {} if text is None else {name: [each.strip() for each in re.split(r"[,\n]", text) if each.strip()]}


def _file(data: bytes, kind: str, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-cache"}
    return Response(data, media_type=kind, headers=headers)


def _plain(desk: Desk) -> str:
    return re.sub(r"[^a-z0-9]+", "-", desk.title().lower()).strip("-")[:60] or "kit"

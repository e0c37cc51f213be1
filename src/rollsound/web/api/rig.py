"""The rig: what arrives in any combination, what a change asks of hands, paths, failures, the drawing, and edits."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import BaseModel, Field

from rollsound.actions import rig_page, rig_page_edits
from rollsound.actions.radio_page_edits import new_id
from rollsound.actions.rig_model import ChangeRow, LossRow
from rollsound.errors import InputError
from rollsound.finding import Finding
from rollsound.rig.combining import Combination, read_combination
from rollsound.web.api.radio import Base, Id, RadioSaved, saved
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.once import TheKey
from rollsound.web.pages import rig_rows
from rollsound.web.pages.rig_rows import ArrivesRow, PathView
from rollsound.web.problems import PROBLEMS
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/rig", tags=["rig"], responses=PROBLEMS)

Listed = Literal["pieces", "links", "streams", "routes"]
With = Annotated[
    str,
    Query(
        alias="with",
        max_length=4000,
        description="boom-1=radio, receivers=cart; what is left out is in its first position",
    ),
]
Name = Annotated[str, Query(max_length=80)]
Written = Annotated[str | None, Field(max_length=200)]
FIELDS: dict[Listed, tuple[str, ...]] = {
    "pieces": ("name", "item", "place", "wearer", "clock"),
    "links": ("name", "from", "to", "length", "cable", "loss"),
    "streams": ("name", "from", "to"),
    "routes": ("piece", "from", "to", "gain", "fader"),
}


class RigState(BaseModel):
    """The rig in one combination. The verdict and the findings hold for all of them."""

    revision: int
    combination: dict[str, str]
    combination_in_words: str
    combinations: int
    verdict: str
    tracks: list[ArrivesRow]
    listeners: list[ArrivesRow]
    findings: list[Finding]


class FlipState(BaseModel):
    """What one changeover asks of hands, and the combination that it leads to."""

    revision: int
    combination: dict[str, str]
    change: ChangeRow


class PathState(BaseModel):
    """Every way of a source in one combination."""

    revision: int
    combination: dict[str, str]
    source: str
    paths: list[PathView]


class FalloutState(BaseModel):
    """What failures cost, dearest first."""

    revision: int
    losses: list[LossRow]


class RowGiven(BaseModel, extra="forbid"):
    """What is written of an item of the rig: what is left out stays, what is empty is taken out."""

    name: Written = None
    item: Written = None
    place: Written = None
    wearer: Written = None
    clock: Written = None
    piece: Written = None
    from_: Written = Field(default=None, alias="from")
    to: Written = None
    length: Written = Field(default=None, description="with its unit: 30 m")
    cable: Written = None
    loss: Written = Field(default=None, description="with its unit: 20 dB")
    gain: Written = Field(default=None, description="with its unit: −6 dB")
    fader: Written = None
    base_revision: Base = None


class NewGiven(RowGiven):
    """A new item of the rig."""

    id: Id | Literal[""] = ""


@router.get("", response_model=RigState)
def state(desk: TheDesk, combination: With = "") -> Any:
    """The rig in one combination, with every proof over all of them."""
    revision, found = _now(desk)
    chosen = _chosen(found, combination)
    findings = found.findings
    return {
        "revision": revision,
        "combination": chosen,
        "combination_in_words": _in_words(found, chosen),
        "combinations": found.reaching.combinations,
        "verdict": rig_rows.verdict_of(found),
        "tracks": rig_rows.tracks_of(found, chosen),
        "listeners": rig_rows.listeners_of(found, chosen),
        "findings": findings,
    }


@router.get("/flip", response_model=FlipState)
def flip(desk: TheDesk, changeover: Name, to: Name, combination: With = "") -> Any:
    """What hands must do to bring a changeover to a position."""
    revision, found = _now(desk)
    chosen = dict(_chosen(found, combination))
    if changeover not in chosen:
        raise InputError(w("rig.no_changeover", name=changeover))
    change = rig_rows.change_to(found, changeover, chosen[changeover], to)
    return {"revision": revision, "combination": {**chosen, changeover: to}, "change": change}


@router.get("/paths", response_model=PathState)
def paths(desk: TheDesk, source: Name, combination: With = "") -> Any:
    """Every way of a source to tracks and listeners, hop by hop."""
    revision, found = _now(desk)
    if source not in found.rig.sources:
        raise InputError(w("rig.no_source_of_name", name=source))
    chosen = _chosen(found, combination)
    told = rig_rows.paths_of(found, source, chosen)
    return {"revision": revision, "combination": chosen, "source": source, "paths": told}


@router.get("/fallout", response_model=FalloutState)
def fallout(
    desk: TheDesk,
    failed: Annotated[str, Query(max_length=80, description="piece:, link:, stream: or supply: and an id")] = "",
) -> Any:
    """What the failure of one thing costs, or of every single one in turn, in the worst combination."""
    revision, found = _now(desk)
    return {"revision": revision, "losses": [rig_rows.loss_of(found, failed)] if failed else rig_rows.losses_of(found)}


@router.get(
    "/drawing.svg",
    response_class=Response,
    responses={200: {"content": {"image/svg+xml": {}}, "description": "The wiring."}},
)
def drawing(desk: TheDesk, combination: With = "", source: Name = "", failed: Name = "") -> Response:
    """The wiring as a file of its own, with a path lit or a failure struck out."""
    _, found = _now(desk)
    if source and source not in found.rig.sources:
        raise InputError(w("rig.no_source_of_name", name=source))
    text = found.drawing(rig_page.Asked(_chosen(found, combination), source, failed))
    return Response(
        text, media_type="image/svg+xml", headers={"content-disposition": 'attachment; filename="wiring.svg"'}
    )


@router.put("/{listed}/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def change(desk: TheDesk, visitor: TheVisitor, key: TheKey, listed: Listed, id: Id, given: RowGiven) -> Any:
    """Change a piece, a link, a subscription or a route."""
    values = _values(listed, given)
    return _saved(
        desk, visitor, key, given.base_revision, lambda document: rig_page_edits.put(document, listed, id, values)
    )


@router.post("/example", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def example(desk: TheDesk, visitor: TheVisitor, key: TheKey) -> Any:
    """Fill an empty rig with the demo's, and the kit that it needs."""
    from rollsound.demo.example import example_to_begin_with
    from rollsound.show.text import read_text

    text = read_text(example_to_begin_with()).document
    return saved(
        desk, visitor, key, lambda document: rig_page_edits.with_example(document, text), w("rig.example_done")
    )


@router.post("/{listed}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add(desk: TheDesk, visitor: TheVisitor, key: TheKey, listed: Listed, given: NewGiven) -> Any:
    """Add a piece, a link, a subscription or a route."""
    values = _values(listed, given)
    name = values.get("name") or "-".join(
        str(values.get(each, "")).partition(":")[0].strip() for each in ("piece", "from", "to") if values.get(each)
    )

    def edit(document: dict[str, Any]) -> dict[str, Any]:
        id = given.id or new_id(name or listed.removesuffix("s"), rig_page_edits.ids_in(document, listed))
        return rig_page_edits.add(document, listed, {"id": id, **values})

    return _saved(desk, visitor, key, given.base_revision, edit)


@router.delete("/{listed}/{id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def take_out(desk: TheDesk, visitor: TheVisitor, key: TheKey, listed: Listed, id: Id) -> Any:
    """Take a piece, a link, a subscription or a route out; where another one needs it, that is told instead."""
    return _saved(desk, visitor, key, None, lambda document: rig_page_edits.take_out(document, listed, id))


def _now(desk: Desk) -> tuple[int, rig_page.State]:
    revision = desk.show.store.head().revision
    found = rig_page.state_of(desk.show)
    if not found.rig.pieces:
        raise InputError(w("rig.no_rig"))
    return revision, found


def _chosen(found: rig_page.State, text: str) -> Combination:
    return read_combination(text, found.rig.part.changeovers)


def _in_words(found: rig_page.State, chosen: Combination) -> str:
    from rollsound.rig.combining import in_words

    return in_words(chosen, found.rig.part.changeovers)


def _values(listed: Listed, given: RowGiven) -> dict[str, Any]:
    """What was given, as it is written in the plan."""
    told = given.model_dump(by_alias=True, exclude={"base_revision", "id"}, exclude_unset=True)
    strange = [name for name in told if name not in FIELDS[listed]]
    if strange:
        raise InputError(w("rig.strange_field", name=strange[0], listed=listed))
    return {name: (value or "").strip() for name, value in told.items()}


def _saved(desk: Desk, visitor: Visitor, key: str, base: int | None, edit: Any) -> dict[str, Any]:
    """Save an edit, unless it would break more of the rig than was broken."""

    def checked(document: dict[str, Any]) -> dict[str, Any]:
        made: dict[str, Any] = edit(document)
        now = desk.show.store.head()
        plan = desk.show.plan() if base in (None, now.revision) else None
        rig_page_edits.refuse_worse(document, made, plan)
        return made

    return saved(desk, visitor, key, checked, base=base)

"""Reach: maps of a ground with antennas and powers as they are tried, the why of a place, layouts, walk tests.

Longer than most files: the shapes of all these answers stand here, as they describe one picture.
"""

from __future__ import annotations

import base64
import math
import re
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, Field

from rollsound.actions import radio_page_edits, radio_page_reach
from rollsound.actions.ground_image import image_of
from rollsound.actions.radio_page_reach import Tried
from rollsound.errors import InputError
from rollsound.web.api.radio import Base, Id, RadioSaved, saved
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.folders import guard_of
from rollsound.web.once import TheKey
from rollsound.web.problems import PROBLEMS
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/reach", tags=["reach"], responses=PROBLEMS)

FROM_DB, DB_STEP = -40.0, 0.5
NINES_STEP = 0.025
Metre = Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)]
Where = Annotated[float, Query(ge=0, le=100_000, allow_inf_nan=False)]
Name = Annotated[str, Query(max_length=64)]
Layout = Annotated[str, Query(max_length=80)]
Places = Annotated[str, Query(max_length=4000, description="antennas tried elsewhere: id:x,y;id:x,y in metres")]
Powers = Annotated[str, Query(max_length=4000, description="powers tried: id:mW;id:mW")]
Columns = Annotated[int, Query(ge=8, le=radio_page_reach.MOST_COLUMNS)]


class NamedLine(BaseModel):
    """A wall, an outline or a way."""

    id: str
    name: str
    points_m: list[tuple[float, float]]


class AntennaState(BaseModel):
    """An antenna on the ground."""

    id: str
    name: str
    x_m: float
    y_m: float
    bearing_deg: float
    layouts: list[str]


class ReadingState(BaseModel):
    """A reading of a walk test, at a place."""

    id: str
    x_m: float
    y_m: float
    level_dbm: float | None


class PowersState(BaseModel):
    """The power of a transmitter, and those of its kind."""

    now_mw: float
    offered_mw: list[float]


class GroundState(BaseModel):
    """The drawing of a site; x to the right and y up from its lower left corner, in metres."""

    revision: int
    id: str
    name: str
    width_m: float
    depth_m: float
    walls: list[NamedLine]
    areas: list[NamedLine]
    lines: list[NamedLine]
    stands: list[NamedLine]
    antennas: list[AntennaState]
    readings: list[ReadingState]
    layouts: list[str]
    transmitters: dict[str, str] = Field(description="names of the microphones that send here, by id")
    powers: dict[str, PowersState] = Field(description="by the same ids")
    image: str = Field(description="address of its picture; empty for none")


class MapState(BaseModel):
    """A map by rows from the bottom, one byte a point: margin is ``-40 + byte / 2`` dB; ``nines`` of the time that
    sound holds are ``byte / 40``. From ``enough`` on it holds for as much of the time as is wanted."""

    revision: int
    columns: int
    rows: int
    margin: str = Field(description="base64")
    nines: str = Field(description="base64")
    enough: float = Field(description="in the bytes of ``nines``")
    wanted_share: float = Field(description="of the time that sound is to hold, 0 to 1")
    covered: float = Field(description="share of the ground, 0 to 1, where sound holds for so much of the time")
    transmitters: list[str]
    antennas: list[str]
    notes: list[str]


class TermState(BaseModel):
    """One term of a path, in dB."""

    name: str
    db: float
    source: str
    status: str


class BudgetState(BaseModel):
    """One path, term by term: the terms add up to the level."""

    antenna: str
    distance_m: float
    terms: list[TermState]
    walls: list[TermState]
    level_dbm: float
    noise_dbm: float
    needed_db: float
    margin_db: float


class WhyState(BaseModel):
    """Why a place is heard as it is."""

    transmitter: str
    name: str
    x_m: float
    y_m: float
    margin_db: float
    share: float
    budgets: list[BudgetState]


class DifferenceState(BaseModel):
    """What the second layout gives over the first."""

    id: str
    kind: str
    gain_db: float
    sentence: str


class CompareState(BaseModel):
    """Two layouts, place by place."""

    first: MapState
    second: MapState
    differences: list[DifferenceState]


class AntennaGiven(BaseModel, extra="forbid"):
    """What is changed of an antenna; what is left out stays."""

    x_m: Metre | None = None
    y_m: Metre | None = None
    height_m: Metre | None = None
    bearing_deg: float | None = Field(default=None, ge=-360, le=360, allow_inf_nan=False)
    cable_length_m: Metre | None = None
    amplifier_gain_db: float | None = Field(default=None, ge=-60, le=60, allow_inf_nan=False)
    base_revision: Base = None


class ReadingGiven(BaseModel, extra="forbid"):
    """What a receiver showed."""

    x_m: Metre
    y_m: Metre
    level_dbm: float = Field(ge=-150, le=20, allow_inf_nan=False)
    transmitter: str = Field(default="", max_length=64)
    antenna: str = Field(default="", max_length=64)
    note: str = Field(default="", max_length=200)


@router.get("/{ground}", response_model=GroundState)
def drawing(desk: TheDesk, ground: Id) -> Any:
    """A ground as it is drawn."""
    revision = desk.show.store.head().revision
    found = ground_of(desk, ground)
    radio = desk.show.plan().radio
    names = {each.id: each.name for each in desk.show.plan().sites}
    senders = {each.id: each.wearer or each.name for each in radio.transmitters}
    here = radio_page_reach.transmitters_of(radio, found.id)
    return {
        "revision": revision,
        "id": found.id,
        "name": names.get(found.id, found.id),
        "width_m": found.width_m,
        "depth_m": found.depth_m,
        "walls": [_line(each.id, each.material, each.line_m) for each in found.walls],
        "areas": [_line(each.id, each.name, each.outline_m) for each in found.areas],
        "lines": [_line(each.id, each.name, each.line_m) for each in found.lines],
        "stands": [_line(each.id, each.name, each.at_m) for each in found.stands],
        "antennas": [
            {
                "id": each.id,
                "name": each.name or each.id,
                "x_m": each.at_m.points_m[0][0],
                "y_m": each.at_m.points_m[0][1],
                "bearing_deg": each.bearing_deg,
                "layouts": each.layouts,
            }
            for each in found.antennas
        ],
        "readings": [
            {
                "id": each.id,
                "x_m": each.at_m.points_m[0][0],
                "y_m": each.at_m.points_m[0][1],
                "level_dbm": each.level_dbm,
            }
            for each in found.readings
            if each.at_m is not None
        ],
        "layouts": radio_page_reach.layouts_of(found),
        "transmitters": {id: senders[id] for id in here},
        "powers": {id: vars(radio_page_reach.powers_of(radio, id)) for id in here},
        "image": f"/api/v1/reach/{found.id}/image" if found.image else "",
    }


@router.get(
    "/{ground}/image",
    response_model=None,
    responses={200: {"content": {"image/png": {}, "image/jpeg": {}, "image/webp": {}}, "description": "The picture."}},
)
def image(desk: TheDesk, ground: Id) -> Response:
    """The picture behind a ground."""
    found = ground_of(desk, ground)
    image = image_of(desk.show.folder, found)
    if image is None:
        raise InputError(f"the ground '{found.id}' has no picture; put one into the show's folder and name it")
    return Response(image.body, media_type=image.kind, headers={"cache-control": "no-cache"})


@router.get("/{ground}/map", response_model=MapState)
def heat(
    desk: TheDesk,
    ground: Id,
    transmitter: Name = "",
    layout: Layout = "",
    columns: Columns = 160,
    at: Places = "",
    power: Powers = "",
) -> Any:
    """How well one transmitter, or the worst of all, is heard over the ground. Nothing is saved."""
    tried = _tried(desk, ground, transmitter, layout, at, power)
    return _map(desk, radio_page_reach.map_of(desk.show.plan().radio, tried, columns))


@router.get("/{ground}/why", response_model=WhyState)
def reasons(
    desk: TheDesk,
    ground: Id,
    x: Where,
    y: Where,
    transmitter: Name = "",
    layout: Layout = "",
    at: Places = "",
    power: Powers = "",
) -> Any:
    """Every term between a place and the receiver."""
    tried = _tried(desk, ground, transmitter, layout, at, power)
    radio = desk.show.plan().radio
    found = radio_page_reach.why(radio, tried, (x, y))
    names = {each.id: each.wearer or each.name for each in radio.transmitters}
    return {
        "transmitter": found.transmitter,
        "name": names.get(found.transmitter, found.transmitter),
        "x_m": x,
        "y_m": y,
        "margin_db": round(found.margin_db, 1),
        "share": found.share_of_time,
        "budgets": [
            {
                "antenna": each.antenna,
                "distance_m": round(each.distance_m, 1),
                "terms": [_term(term) for term in each.terms],
                "walls": [_term(term) for term in each.walls],
                "level_dbm": round(each.level_dbm, 1),
                "noise_dbm": round(each.noise_dbm, 1),
                "needed_db": round(each.needed_db, 1),
                "margin_db": round(each.margin_db, 1),
            }
            for each in found.budgets
        ],
    }


@router.get("/{ground}/compare", response_model=CompareState)
def compare(
    desk: TheDesk, ground: Id, first: Layout, second: Layout, transmitter: Name = "", columns: Columns = 80
) -> Any:
    """Two layouts side by side."""
    tried = _tried(desk, ground, transmitter, "", "", "")
    found = radio_page_reach.compared(desk.show.plan().radio, tried, first, second, columns)
    return {
        "first": _map(desk, found.maps[0]),
        "second": _map(desk, found.maps[1]),
        "differences": [
            {"id": each.id, "kind": each.kind, "gain_db": round(each.gain_db, 1), "sentence": each.sentence}
            for each in found.differences
        ],
    }


@router.put("/{ground}/antennas/{antenna}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def move(desk: TheDesk, visitor: TheVisitor, key: TheKey, ground: Id, antenna: Id, given: AntennaGiven) -> Any:
    """Put an antenna elsewhere, or change its height, direction, cable or amplifier."""
    drawn = ground_of(desk, ground)
    values: dict[str, Any] = {}
    known = next((each for each in drawn.antennas if each.id == antenna), None)
    if known is not None and (given.x_m is not None or given.y_m is not None):
        x, y = known.at_m.points_m[0]
        x, y = given.x_m if given.x_m is not None else x, given.y_m if given.y_m is not None else y
        values["at"] = radio_page_edits.place_text(_on(x, drawn.width_m), _on(y, drawn.depth_m))
    for name, unit in (("height", "m"), ("cable_length", "m"), ("amplifier_gain", "dB")):
        value = getattr(given, f"{name}_{unit.lower()}")
        if value is not None:
            values[name] = f"{value:g} {unit}"
    if given.bearing_deg is not None:
        values["bearing_deg"] = given.bearing_deg
    steps = ("grounds", ground, "antennas", antenna)
    base = given.base_revision
    return saved(desk, visitor, key, lambda document: radio_page_edits.put(document, steps, values), base=base)


@router.post("/{ground}/readings", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def read(desk: TheDesk, visitor: TheVisitor, key: TheKey, ground: Id, given: ReadingGiven) -> Any:
    """Save a reading of a walk test."""
    drawn = ground_of(desk, ground)
    if given.x_m > drawn.width_m or given.y_m > drawn.depth_m:
        raise InputError(w("reach.outside", width=f"{drawn.width_m:g}", depth=f"{drawn.depth_m:g}"))
    steps = ("grounds", ground, "readings")

    def edit(document: dict[str, Any]) -> dict[str, Any]:
        item = {
            "id": radio_page_edits.new_id("r1", radio_page_edits.ids_in(document, steps)),
            "at": radio_page_edits.place_text(given.x_m, given.y_m),
            "transmitter": given.transmitter,
            "antenna": given.antenna,
            "level": f"{given.level_dbm:g} dBm",
            "note": given.note.strip(),
        }
        return radio_page_edits.add(document, steps, {name: value for name, value in item.items() if value})

    told = w("reach.walk_saved", level=f"{given.level_dbm:g}", x=f"{given.x_m:.1f}", y=f"{given.y_m:.1f}")
    return saved(desk, visitor, key, edit, told)


@router.delete("/{ground}/readings/{reading}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def take_out(desk: TheDesk, visitor: TheVisitor, key: TheKey, ground: Id, reading: Id) -> Any:
    """Take a reading out."""
    steps = ("grounds", ground, "readings", reading)
    told = w("reach.walk_removed")
    return saved(desk, visitor, key, lambda document: radio_page_edits.take_out(document, steps), told)


@router.post("/{ground}/walk", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def take_fit(desk: TheDesk, visitor: TheVisitor, key: TheKey, ground: Id) -> Any:
    """Fit the ground to its readings and write what they tell into the plan."""
    ground_of(desk, ground)
    head = desk.show.store.head()
    found = radio_page_reach.fitted(desk.show.plan().radio, ground)
    made = radio_page_reach.document_fitted(head, ground, found)
    done = radio_page_edits.save(desk.show, head, made, visitor.author(), key, guard_of(visitor))
    if done is not None:
        desk.tell_saved(done)
    return {"revision": done.revision if done else head.revision, "sentence": w("reach.walk_taken")}


def ground_of(desk: Desk, ground: str) -> Any:
    """A ground of the plan."""
    found = next((each for each in desk.show.plan().radio.grounds if each.id == ground), None)
    if found is None:
        raise InputError(w("reach.no_such_ground", ground=ground))
    return found


def _tried(desk: Desk, ground: str, transmitter: str, layout: str, at: str, power: str) -> Tried:
    drawn = ground_of(desk, ground)
    places: dict[str, tuple[float, float]] = {}
    powers: dict[str, float] = {}
    for text in filter(None, at.split(";")):
        match = re.fullmatch(r"([a-z0-9-]{1,64}):(\d{1,6}(?:\.\d{1,4})?),(\d{1,6}(?:\.\d{1,4})?)", text)
        if match is None:
            raise InputError(w("reach.places_wrong", text=text[:40]))
        places[match[1]] = (_on(float(match[2]), drawn.width_m), _on(float(match[3]), drawn.depth_m))
    for text in filter(None, power.split(";")):
        match = re.fullmatch(r"([a-z0-9-]{1,64}):(\d{1,6}(?:\.\d{1,3})?)", text)
        if match is None or not float(match[2]):
            raise InputError(w("reach.powers_wrong", text=text[:40]))
        powers[match[1]] = float(match[2])
    return Tried(ground, transmitter, layout, places, powers)


def _map(desk: Desk, found: Any) -> dict[str, Any]:
    import numpy as np  # which a server that draws no map starts without

    from rollsound.radio.reach.answer import WANTED_SHARE

    def packed(values: Any) -> str:
        return base64.b64encode(np.nan_to_num(values).astype(np.uint8).tobytes()).decode()

    margin = np.clip(np.rint((found.margin_db - FROM_DB) / DB_STEP), 0, 255)
    lost = np.maximum(1.0 - found.share_of_time, 1e-7)
    nines = np.clip(np.floor(-np.log10(lost) / NINES_STEP + 1e-9), 0, 255)
    return {
        "revision": desk.show.store.head().revision,
        "columns": len(found.x_m),
        "rows": len(found.y_m),
        "margin": packed(margin),
        "nines": packed(nines),
        "enough": round(-math.log10(1 - WANTED_SHARE) / NINES_STEP, 6),
        "wanted_share": WANTED_SHARE,
        "covered": round(found.covered(), 4),
        "transmitters": found.transmitters,
        "antennas": found.antennas,
        "notes": found.notes,
    }


def _line(id: str, name: str, points: Any) -> dict[str, Any]:
    return {"id": id, "name": name or id, "points_m": points.points_m}


def _term(term: Any) -> dict[str, Any]:
    return {"name": term.name, "db": round(term.db, 2), "source": term.source, "status": term.status}


def _on(value: float, most: float) -> float:
    return min(max(value, 0.0), most)

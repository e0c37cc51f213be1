"""The carrier plan: every transmitter with what it keeps, what a move would do, and changes to it."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from rollsound.actions import radio_page, radio_page_edits
from rollsound.actions.radio_page_add import NewTransmitter, add_one, find_spares
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.folders import guard_of, mistakes_told
from rollsound.web.once import TheKey
from rollsound.web.pages.radio_rows import (
    CarrierRow,
    MarginRow,
    lede_of,
    margin_rows,
    margin_text,
    megahertz,
    rows_of,
    verdict_of,
)
from rollsound.web.problems import PROBLEMS
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/radio", tags=["radio"], responses=PROBLEMS)

MOST_HZ = 8_000_000_000
Site = Annotated[str, Query(max_length=64, description="id of a site; all sites together when left out")]
Id = Annotated[str, Field(max_length=64, pattern=r"^[a-z0-9][a-z0-9-]*$")]
Base = Annotated[
    int | None, Field(ge=0, le=2**31, description="the revision this change was made from; the newest when left out")
]


class RadioMistake(BaseModel):
    """What keeps a transmitter from being checked."""

    place: str
    sentence: str


class RadioState(BaseModel):
    """The carrier plan as it stands."""

    revision: int
    site: str
    verdict: str
    lede: str
    rows: list[CarrierRow]
    mistakes: list[RadioMistake]
    bound: int | None = Field(description="the most that can be placed, where a proof says so")


class StretchState(BaseModel):
    """A part of the spectrum."""

    low_hz: int
    high_hz: int
    name: str


class ScanState(BaseModel):
    """A scan, thinned for drawing; no peak is lost."""

    id: str
    freqs_hz: list[int]
    levels_dbm: list[float]
    threshold_dbm: float


class SpectrumState(BaseModel):
    """What lies behind the carriers. ``bins`` count in ``bin_hz``; beside each how many products of two, of three."""

    revision: int
    low_hz: int
    high_hz: int
    channels: list[StretchState]
    occupied: list[StretchState]
    scans: list[ScanState]
    bin_hz: int
    bins: list[int]
    of_two: list[int]
    of_three: list[int]


class MoveState(BaseModel):
    """What every transmitter would keep. Nothing is saved."""

    revision: int
    verdict: str
    holds: bool
    rows: list[MarginRow]


class FreeState(BaseModel):
    """Where one transmitter may go while all others stay: each frequency and the worst margin there."""

    freqs_hz: list[int]
    margins_hz: list[int]
    best_hz: list[int] = Field(description="up to three with the most margin, which may lie side by side")


class TransmitterGiven(BaseModel, extra="forbid"):
    """What is changed of a transmitter; what is left out stays."""

    frequency_hz: int | None = Field(default=None, ge=1_000_000, le=MOST_HZ)
    on_air: bool | None = None
    fixed: bool | None = None
    power_mw: float | None = Field(default=None, gt=0, le=100_000)
    base_revision: Base = None


class RadioSaved(BaseModel):
    """What was done, in a sentence, and the plan's revision since."""

    revision: int
    sentence: str


class NewGiven(BaseModel, extra="forbid"):
    """A transmitter to be added; it gets the free frequency with the most margin."""

    name: str = Field(min_length=1, max_length=80)
    kind: Literal["body pack", "boom", "plant", "monitor", "talkback"] = "body pack"
    wearer: str = Field(default="", max_length=80)
    tuning: str = Field(min_length=1, max_length=60)
    step: str = Field(default="", max_length=30)
    power: str = Field(default="", max_length=30)
    site: str = Field(default="", max_length=64)


class SparesGiven(BaseModel, extra="forbid"):
    """How many spares each transmitter shall have."""

    count: int = Field(default=1, ge=0, le=8)
    site: str = Field(default="", max_length=64)


@router.get("", response_model=RadioState)
def state(desk: TheDesk, visitor: TheVisitor, site: Site = "") -> Any:
    """Every transmitter, with its carrier, its margin and what sets it."""
    found = radio_page.state_of(desk.show, site)
    mistakes = mistakes_told(visitor, found.question.mistakes, desk.show.folder)
    return {
        "revision": found.question.revision,
        "site": site,
        "verdict": verdict_of(found, found.audit),
        "lede": lede_of(found),
        "rows": rows_of(found),
        "mistakes": [{"place": place, "sentence": sentence} for place, sentence in mistakes],
        "bound": found.bound.most if found.bound is not None else None,
    }


@router.get("/spectrum", response_model=SpectrumState)
def spectrum(desk: TheDesk, site: Site = "") -> Any:
    """What the spectrum's picture is drawn from."""
    from rollsound.actions.radio_page_picture import BIN_HZ, picture_of

    found = radio_page.state_of(desk.show, site)
    picture = picture_of(found)
    return {
        "revision": found.question.revision,
        "low_hz": picture.low_hz,
        "high_hz": picture.high_hz,
        "channels": [vars(each) for each in picture.channels],
        "occupied": [vars(each) for each in picture.occupied],
        "scans": [vars(each) for each in picture.scans],
        "bin_hz": BIN_HZ,
        "bins": picture.bins,
        "of_two": picture.of_two,
        "of_three": picture.of_three,
    }


@router.get("/move", response_model=MoveState, dependencies=[needs(Right.PLAN)])
def move(
    desk: TheDesk,
    transmitter: Annotated[str, Query(max_length=64)],
    hz: Annotated[int, Query(ge=1_000_000, le=MOST_HZ)],
    site: Site = "",
) -> Any:
    """What every margin would be with one carrier elsewhere."""
    found = radio_page.state_of(desk.show, site)
    audit = radio_page.moved(found, transmitter, hz)
    carriers = {**found.question.carriers_hz, transmitter: hz}
    return {
        "revision": found.question.revision,
        "verdict": verdict_of(found, audit, {transmitter}),
        "holds": audit.clean,
        "rows": margin_rows(found, audit, carriers),
    }


@router.get("/free", response_model=FreeState, dependencies=[needs(Right.PLAN)])
def free(desk: TheDesk, transmitter: Annotated[str, Query(max_length=64)], site: Site = "") -> Any:
    """Where one transmitter may go while all others stay."""
    found = radio_page.open_to(radio_page.state_of(desk.show, site), transmitter)
    return {"freqs_hz": found.freqs_hz, "margins_hz": found.margins_hz, "best_hz": found.best_hz}


@router.put("/transmitters/{transmitter}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def change(desk: TheDesk, visitor: TheVisitor, key: TheKey, transmitter: Id, given: TransmitterGiven) -> Any:
    """Set a transmitter's frequency, power, or whether it is on the air or fixed."""
    written = {
        "frequency": radio_page_edits.frequency_text(given.frequency_hz) if given.frequency_hz else None,
        "power": radio_page_edits.power_text(given.power_mw) if given.power_mw else None,
        "on_air": given.on_air,
        "fixed": given.fixed,
    }
    values = {name: value for name, value in written.items() if value is not None}
    steps = ("transmitters", transmitter)
    base = given.base_revision
    return saved(desk, visitor, key, lambda document: radio_page_edits.put(document, steps, values), base=base)


@router.post("/transmitters", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def add(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: NewGiven) -> Any:
    """Add one transmitter now: nothing else moves, and it gets the free frequency with the most margin."""
    new = NewTransmitter(
        given.name.strip(), given.kind, given.wearer, given.tuning, given.step, given.power, given.site
    )
    head = desk.show.store.head()
    made = add_one(desk.show, head, new)
    done = radio_page_edits.save(desk.show, head, made.document, visitor.author(), key, guard_of(visitor))
    if done is not None:
        desk.tell_saved(done)
    far = made.margin_hz >= radio_page.NO_LIMIT_HZ
    sentence = w(
        "radio.added_alone" if far else "radio.added",
        name=given.name,
        frequency=w("radio.mhz", n=megahertz(made.freq_hz)),
        margin=margin_text(made.margin_hz),
    )
    return {"revision": done.revision if done else head.revision, "sentence": sentence}


@router.post("/spares", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def spares(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: SparesGiven) -> Any:
    """Find spare frequencies for every transmitter of a site and write them into the plan."""
    head = desk.show.store.head()
    made = find_spares(desk.show, head, given.site, given.count)
    done = radio_page_edits.save(desk.show, head, made.document, visitor.author(), key, guard_of(visitor))
    if done is not None:
        desk.tell_saved(done)
    key = "spares_none" if not given.count else "spares_missing" if made.short else "spares_found"
    sentence = w(f"radio.{key}", n=made.found)
    return {"revision": done.revision if done else head.revision, "sentence": sentence}


def saved(
    desk: Desk, visitor: Visitor, key: str, edit: Any, sentence: str = "", *, base: int | None = None
) -> dict[str, Any]:
    """Save what ``edit`` makes of the plan's document, tell every browser, and say what changed.

    Parameters
    ----------
    base
        the revision that the change was made from: what others changed since is kept, and the same field is a clash
    """
    head = desk.show.store.head()
    if base is not None and base != head.revision:
        head = replace(head, revision=base, document=desk.show.store.at(base))
    done = radio_page_edits.save(desk.show, head, edit(head.document), visitor.author(), key, guard_of(visitor))
    if done is None:
        return {"revision": desk.show.store.head().revision, "sentence": sentence or w("radio.set_saved")}
    desk.tell_saved(done)
    return {"revision": done.revision, "sentence": sentence or (done.entry.sentence if done.entry else "")}

"""Searches for carriers and scans: what takes longer than a moment, and what comes in from outside."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from rollsound.actions import radio_page, radio_page_edits
from rollsound.actions.radio_page_add import refuse_mistakes
from rollsound.actions.radio_page_scan import LONGEST_SCAN, NewScan, keep_scan, take_scan
from rollsound.actions.radio_page_search import document_with, hold_elsewhere, searches_of
from rollsound.errors import InputError
from rollsound.web.api.radio import Base, Id, RadioSaved, saved
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.folders import guard_of
from rollsound.web.once import TheKey
from rollsound.web.pages.radio_search import shown
from rollsound.web.problems import PROBLEMS
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/radio", tags=["radio"], responses=PROBLEMS)


class SearchGiven(BaseModel, extra="forbid"):
    """What a search looks for."""

    mode: Literal["all", "most", "repair", "add"] = "all"
    site: str = Field(default="", max_length=64)
    seconds: float = Field(default=10.0, ge=0.1, le=600)
    seed: int = Field(default=1, ge=0, le=1_000_000)


class SearchNamed(BaseModel, extra="forbid"):
    """The search that is meant: another mixer may have begun one since."""

    id: str = Field(min_length=1, max_length=64)


class SearchState(BaseModel):
    """A search as it is; ``state`` is ``none`` where there is none."""

    id: str
    person: str = Field(description="who asked for it")
    state: Literal["none", "running", "stopping", "done", "failed"]
    sentence: str
    placed: int
    wanted: int
    margin_hz: int | None
    carriers_hz: dict[str, int] = Field(description="what was found; empty before the end")


class ScanGiven(BaseModel, extra="forbid"):
    """A scan as an analyser saved it."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    text: Annotated[str, Field(max_length=LONGEST_SCAN)]
    threshold_dbm: float = Field(default=-90.0, ge=-150, le=0)
    site: str = Field(default="", max_length=64)


class ScanUse(BaseModel, extra="forbid"):
    """Whether a scan counts."""

    used: bool
    base_revision: Base = None


@router.get("/search", response_model=SearchState, dependencies=[needs(Right.PLAN)])
def search(desk: TheDesk) -> Any:
    """How far the search is, and what it found."""
    return _state(desk)


@router.post("/search", response_model=SearchState, dependencies=[needs(Right.PLAN)])
def start(desk: TheDesk, visitor: TheVisitor, given: SearchGiven) -> Any:
    """Begin a search over the plan as it is now; one at a time. It changes nothing by itself."""
    state = radio_page.state_of(desk.show, given.site)
    if not state.question.task.wanted:
        raise InputError(w("radio.nothing_to_find"))
    refuse_mistakes(state.question)
    wanted = len(state.question.task.wanted)
    asked, person = (given.site, given.mode, given.seconds, given.seed, wanted), visitor.author().person
    begun = searches_of(desk.show).start(desk.show, *asked, person=person, ended=lambda: _tell(desk, begun.id))
    _tell(desk, begun.id)
    return _state(desk)


@router.post("/search/stop", response_model=SearchState, dependencies=[needs(Right.PLAN)])
def stop(desk: TheDesk) -> Any:
    """Ask the search to end with the best so far."""
    stopped = searches_of(desk.show).stop()
    if stopped is not None:
        _tell(desk, stopped.id)
    return _state(desk)


@router.post("/search/take", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def take(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: SearchNamed) -> Any:
    """Write what was found into the plan."""
    searches = searches_of(desk.show)
    found = searches.now
    if found is None or found.result is None:
        raise InputError(w("radio.search_none"))
    if found.id != given.id:
        raise InputError(w("radio.search_other", person=found.person or w("radio.search_somebody")))
    head = desk.show.store.head()
    if head.revision != found.revision:
        raise InputError(w("radio.search_old"))
    hold_elsewhere(desk.show, found)
    sentence = w("radio.sentence_taken", n=len(found.result["carriers_hz"]))
    made = document_with(head, found)
    done = radio_page_edits.save(desk.show, head, made, visitor.author(), key, guard_of(visitor), sentence)
    if done is not None:
        desk.tell_saved(done)
    searches.drop(found.id)
    _tell(desk, found.id)
    return {"revision": done.revision if done else head.revision, "sentence": w("radio.search_taken")}


@router.post("/search/drop", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def drop(desk: TheDesk, given: SearchNamed) -> Any:
    """Forget what was found."""
    searches_of(desk.show).drop(given.id)
    _tell(desk, given.id)
    return {"revision": desk.show.store.head().revision, "sentence": w("radio.search_dropped")}


@router.post("/scans", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def scan(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: ScanGiven) -> Any:
    """Take in a scan: its file goes into the show's folder, and what lies above the threshold counts as used."""
    head = desk.show.store.head()
    new = NewScan(given.name.strip(), given.text, given.threshold_dbm, given.site)
    taken = take_scan(desk.show, head, new)
    done = keep_scan(desk.show, head, taken, visitor.author(), key, guard_of(visitor))
    if done is not None:
        desk.tell_saved(done)
    parts = [
        w("radio.scan_saved", name=new.name, n=taken.points, low=_mhz(taken.low_hz), high=_mhz(taken.high_hz)),
        *taken.notes,
        w("radio.scan_hits", n=taken.touched) if taken.touched else w("radio.scan_clear"),
    ]
    return {"revision": done.revision if done else head.revision, "sentence": " ".join(parts)}


@router.put("/scans/{scan_id}", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def use_scan(desk: TheDesk, visitor: TheVisitor, key: TheKey, scan_id: Id, given: ScanUse) -> Any:
    """Let a scan count, or not."""
    steps, values, base = ("scans", scan_id), {"used": given.used}, given.base_revision
    return saved(desk, visitor, key, lambda document: radio_page_edits.put(document, steps, values), base=base)


def _tell(desk: Desk, id: str) -> None:
    """Tell every browser to look at the search anew; what it found is for those who plan."""
    desk.live.publish("search", {"id": id})


def _state(desk: Desk) -> dict[str, Any]:
    now = searches_of(desk.show).now
    if now is None:
        return {
            "id": "",
            "person": "",
            "state": "none",
            "sentence": "",
            "placed": 0,
            "wanted": 0,
            "margin_hz": None,
            "carriers_hz": {},
        }
    return {
        "id": now.id,
        "person": now.person,
        "state": now.state,
        "sentence": shown(desk, now).sentence,
        "placed": now.placed,
        "wanted": now.wanted,
        "margin_hz": now.margin_hz,
        "carriers_hz": (now.result or {}).get("carriers_hz", {}),
    }


def _mhz(hz: int) -> str:
    return f"{hz / 1e6:.1f}"

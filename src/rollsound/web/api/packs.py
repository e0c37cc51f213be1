"""Packs: the pack plan that is kept, one worked out anew, and the track sheet to be taken away."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Response
from pydantic import BaseModel, Field

from rollsound.actions import packs_page
from rollsound.actions.packs_model import GivenRow, PackDayRow
from rollsound.quantities import count
from rollsound.web.api.radio import Base, RadioSaved, saved
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.once import TheKey
from rollsound.web.pages.packs import lede_of, verdict_of
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/packs", tags=["packs"], responses=PROBLEMS)


class PacksToday(BaseModel):
    """The pack plan as it is kept."""

    revision: int
    verdict: str
    lede: str
    stops: int
    watches: int
    kept: bool
    days: list[PackDayRow]
    given: list[GivenRow]
    findings: list[str]
    cautions: list[str]


class FindGiven(BaseModel, extra="forbid"):
    """How a pack plan is to be worked out."""

    near: bool = Field(default=False, description="change as little as can be of the one that is kept")
    seed: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    base_revision: Base = None


@router.get("", response_model=PacksToday)
def today(desk: TheDesk) -> Any:
    """The pack plan that is kept: who wears what, scene by scene, and what was given up."""
    state = packs_page.state_of(desk.show)
    result = state.kept.result if state.kept is not None else None
    weights = [each.weight.value for each in state.findings]
    return {
        "revision": state.revision,
        "verdict": verdict_of(state),
        "lede": lede_of(state),
        "stops": weights.count("stop"),
        "watches": weights.count("watch"),
        "kept": result is not None,
        "days": result.days if result is not None else (),
        "given": result.given if result is not None else (),
        "findings": [each.what for each in state.findings if each.weight.value != "fine"],
        "cautions": result.cautions if result is not None else (),
    }


@router.post("/find", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def find(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: FindGiven) -> Any:
    """Work a pack plan out, for some seconds at most, and keep it; undo takes it back."""
    revision = desk.show.store.head().revision
    answer = packs_page.worked_out(desk.show, near=given.near, seed=given.seed)
    result = answer.result
    moved = sum(each.level == "moved" for each in result.given)
    told = [w("packs.found_scenes", scenes=count(len(answer.gathered.task.slots), "scene"))]
    told.append(w("packs.found_proved") if result.proved else w("packs.found_open"))
    if given.near:
        told.append(w("packs.found_moved", n=moved) if moved else w("packs.found_unmoved"))
    if result.uncovered:
        told.append(w("packs.found_bare", n=result.uncovered))
    return saved(
        desk,
        visitor,
        key,
        lambda document: packs_page.with_plan(document, answer),
        " ".join(told),
        base=revision if given.base_revision is None else given.base_revision,
    )


@router.get(
    "/tracks",
    response_model=None,
    responses={200: {"content": {"application/pdf": {}, "text/csv": {}}, "description": "The track sheet."}},
)
def tracks(desk: TheDesk, format: Literal["pdf", "csv"] = "pdf") -> Response:
    """Which voice is on which track, scene by scene, for sound post."""
    from rollsound.actions.packs_papers import track_sheet_csv, track_sheet_pdf

    kept = packs_page.state_of(desk.show).kept
    if kept is None:
        raise missing(w("packs.no_sheet"))
    if format == "csv":
        return _file(track_sheet_csv(kept).encode(), "text/csv; charset=utf-8", f"{_plain(desk)}-tracks.csv")
    return _file(track_sheet_pdf(kept), "application/pdf", f"{_plain(desk)}-tracks.pdf")


def _file(data: bytes, kind: str, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-cache"}
    return Response(data, media_type=kind, headers=headers)


def _plain(desk: Desk) -> str:
    return re.sub(r"[^a-z0-9]+", "-", desk.title().lower()).strip("-")[:60] or "packs"

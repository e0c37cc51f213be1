"""Packs: who wears which pack in which scene, every re-rig that it costs, what was given up, and a plan worked out."""

from __future__ import annotations

from typing import Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import packs_page
from rollsound.actions.packs_page import PacksState
from rollsound.finding import Weight
from rollsound.quantities import count
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.page import Badge
from rollsound.web.pages import page_of
from rollsound.web.pages.packs_rows import day_lanes, through
from rollsound.web.pages.power_rows import weighing_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

PAGE = page_of("packs")
router = APIRouter(include_in_schema=False)
Part = Literal["answer"]


def badge(desk: Desk) -> Badge | None:
    """Stops of the pack plan; none while nobody has looked."""
    state = packs_page.known(desk.show) if desk.plan() is not None else None
    stops = _number(state, Weight.STOP) if state is not None else 0
    return Badge(stops, "stop") if stops else None


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The whole page, of one day or of all."""
    return render(request, "packs.html", page=PAGE, **_values(desk, visitor, day))


@router.get("/pages/packs/part/{part}")
def part(request: Request, desk: TheDesk, visitor: TheVisitor, part: Part, day: str = "") -> Response:
    """The answer and its lanes as they are now."""
    return render(request, f"parts/packs_{part}.html", **_values(desk, visitor, day))


def verdict_of(state: PacksState) -> str:
    """The answer in one sentence."""
    if state.why_not:
        return w("packs.verdict_not_yet")
    if state.kept is None:
        return w("packs.verdict_none")
    bare = state.kept.result.uncovered
    if bare:
        return w("packs.verdict_bare", n=bare)
    stops, watches = _number(state, Weight.STOP), _number(state, Weight.WATCH)
    if stops:
        return w("packs.verdict_stop", n=stops)
    return w("packs.verdict_watch", n=watches) if watches else w("packs.verdict_fine")


def lede_of(state: PacksState) -> str:
    """What it is worked out of, and what it costs."""
    if state.why_not:
        return f"{state.why_not[:1].upper()}{state.why_not[1:]}."
    told = w(
        "packs.lede",
        scenes=count(state.scenes, "scene"),
        characters=count(state.characters, "character"),
        packs=count(state.packs, "pack"),
        booms=count(state.booms, "boom"),
    )
    if state.kept is None:
        return f"{told} {w('packs.lede_none')}"
    rerigs = sum(len(day.rerigs) for day in state.kept.result.days)
    return f"{told} {w('packs.lede_rerigs', n=rerigs) if rerigs else w('packs.lede_no_rerigs')}"


def _number(state: PacksState, weight: Weight) -> int:
    return sum(each.weight is weight for each in state.findings)


def _values(desk: Desk, visitor: Visitor, day: str) -> dict[str, Any]:
    plan = desk.plan()
    may_plan = visitor.may(Right.PLAN) and not desk.show.read_only and plan is not None
    if plan is None:
        return {
            "readable": False, "may_plan": False, "verdict": w("frame.unreadable"), "lede": w("frame.unreadable_lede"),
            "result": None, "query": "", "ready": False, "kept": False, "weighing": [], "fine": [],
        }  # fmt: skip
    state = packs_page.state_of(desk.show)
    result = state.kept.result if state.kept is not None else None
    days = result.days if result is not None else ()
    shown = [each for each in days if each.id == day] or days
    day = day if len(shown) == 1 and len(days) > 1 else ""
    return {
        "readable": True,
        "may_plan": may_plan,
        "revision": state.revision,
        "ready": not state.why_not,
        "kept": result is not None,
        "verdict": verdict_of(state),
        "lede": lede_of(state),
        "result": result,
        "day": day,
        "query": f"?day={day}" if day else "",
        "days": [(each.id, each.name[:1].upper() + each.name[1:]) for each in days],
        "lanes": [day_lanes(each) for each in shown],
        "through": through(result) if result is not None else [],
        "given": [each for each in result.given if each.level != "uncovered"] if result is not None else [],
        "weighing": weighing_of(state.findings),
        "fine": [each.what for each in state.findings if each.weight is Weight.FINE],
    }

"""Floor: the crew's page on the day, for a thumb: who wears what, batteries, changeovers, notes."""

from __future__ import annotations

from typing import Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import daylog_page
from rollsound.log.line_words import line_in_words
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.pages import page_of
from rollsound.web.pages.power_rows import weighing_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

PAGE = page_of("floor")
router = APIRouter(include_in_schema=False)
Part = Literal["answer", "list"]
PERCENTS = (100, 75, 50, 25)


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The whole page, of one day or of the one that is on."""
    return render(request, "floor.html", page=PAGE, **_values(desk, visitor, day))


@router.get("/pages/floor/part/{part}")
def part(request: Request, desk: TheDesk, visitor: TheVisitor, part: Part, day: str = "") -> Response:
    """The answer, or packs and all the rest, as they are now."""
    return render(request, f"parts/floor_{part}.html", **_values(desk, visitor, day))


def _values(desk: Desk, visitor: Visitor, day: str) -> dict[str, Any]:
    state = daylog_page.floor_state(desk.show, day[:64])
    on = sum(row.worn is not None for row in state.packs)
    lede = w("floor.lede") if state.recent else w("floor.empty" if state.day else "floor.no_days")
    if state.rolling is not None:
        lede = f"{w('floor.lede_rolling', what=line_in_words(state.rolling))} {lede}"
    return {
        "state": state,
        "may_log": visitor.may(Right.FLOOR) and not desk.show.read_only and bool(state.day),
        "verdict": w("floor.verdict", n=on) if on else w("floor.verdict_none"),
        "lede": lede,
        "percents": PERCENTS,
        "weighing": weighing_of(state.findings),
        "query": f"?day={state.day}",
        "line_in_words": line_in_words,
    }

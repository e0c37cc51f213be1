"""Script: who speaks and sings in every scene, the days as scenes are put on them, and what the last draft changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import script_page
from rollsound.actions.script_model import ScriptResult
from rollsound.finding import Weight
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.page import Badge
from rollsound.web.pages import page_of
from rollsound.web.pages.power_rows import weighing_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

PAGE = page_of("script")
router = APIRouter(include_in_schema=False)
Part = Literal["answer", "days"]
_MOST_ROWS = 24
_LEFT, _CELL_W, _CELL_H, _TOP = 150, 34, 26, 44
_NAMES_APART = frozenset({"character twice"})


@dataclass(frozen=True)
class Mark:
    """What one character has in one scene of the strip: a bar as high as its words, hatched where it is sung."""

    x: float
    y: float
    width: float
    height: float
    sung: bool
    told: str


@dataclass(frozen=True)
class StripRow:
    """One character of the strip."""

    name: str
    y: float
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class StripHead:
    """One scene of the strip."""

    number: str
    x: float
    sung: bool


@dataclass(frozen=True)
class Strip:
    """Characters by scenes, words as weight."""

    width: int
    height: int
    heads: tuple[StripHead, ...]
    rows: tuple[StripRow, ...]
    left_out: int


def badge(desk: Desk) -> Badge | None:
    """What script and schedule disagree in; none while nobody has looked."""
    result = script_page.known(desk.show) if desk.plan() is not None else None
    watches = sum(each.weight is not Weight.FINE for each in result.findings) if result is not None else 0
    return Badge(watches, "watch") if watches else None


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The whole page."""
    return render(request, "script.html", page=PAGE, **_values(desk, visitor))


@router.get("/pages/script/part/{part}")
def part(request: Request, desk: TheDesk, visitor: TheVisitor, part: Part) -> Response:
    """The answer, or the days, as they are now."""
    return render(request, f"parts/script_{part}.html", **_values(desk, visitor))


def verdict_of(result: ScriptResult | None) -> str:
    """The answer in one sentence."""
    if result is None or not result.scenes:
        return w("script.verdict_empty")
    watches = sum(each.weight is not Weight.FINE for each in result.findings)
    return w("script.verdict_watch", n=watches) if watches else w("script.verdict_fine")


def lede_of(result: ScriptResult) -> str:
    """What the script comes to."""
    there = [each for each in result.scenes if not each.omitted]
    sung = sum(each.sung for each in there)
    heard = sum(bool(each.scenes) for each in result.characters)
    minutes = f"{result.minutes:.0f}"
    told = w("script.lede", n=len(there), pages=result.pages, minutes=minutes, characters=heard, sung=sung)
    return w("script.lede_draft", draft=result.draft, told=told) if result.draft else told


def strip_of(result: ScriptResult) -> Strip:
    """Characters by scenes; who says most stands first, and the rarest are left to the table."""
    heard = [each for each in result.characters if each.scenes]
    shown, scenes = heard[:_MOST_ROWS], [each for each in result.scenes if not each.omitted]
    most = max((voice.words for each in scenes for voice in (*each.speaks, *each.sings)), default=1) or 1
    rows = []
    for at, who in enumerate(shown):
        top = _TOP + at * _CELL_H
        marks = []
        for column, scene in enumerate(scenes):
            voices = [(each, False) for each in scene.speaks] + [(each, True) for each in scene.sings]
            own = [(each, sung) for each, sung in voices if each.character == who.id]
            wide = (_CELL_W - 8) / max(len(own), 1)  # a bar for words spoken, one for words sung
            for place, (voice, sung) in enumerate(own):
                # the area under a square root tells ten words from a hundred, and still shows one
                height = max(4.0, (_CELL_H - 6) * (voice.words / most) ** 0.5)
                said: dict[str, object] = {"who": who.name, "n": voice.words, "scene": scene.number}
                marks.append(
                    Mark(
                        x=round(_LEFT + column * _CELL_W + 4 + place * wide, 1),
                        y=round(top + _CELL_H - 3 - height, 1),
                        width=round(wide - 2, 1),
                        height=round(height, 1),
                        sung=sung,
                        told=w("script.sings" if sung else "script.speaks", **said),
                    )
                )
        rows.append(StripRow(who.name, top + _CELL_H - 8, tuple(marks)))
    heads = tuple(
        StripHead(each.number, _LEFT + at * _CELL_W + _CELL_W / 2, each.sung) for at, each in enumerate(scenes)
    )
    width, height = _LEFT + len(scenes) * _CELL_W + 8, _TOP + len(shown) * _CELL_H + 8
    return Strip(width, height, heads, tuple(rows), len(heard) - len(shown))


def _values(desk: Desk, visitor: Visitor) -> dict[str, Any]:
    plan = desk.plan()
    may_plan = visitor.may(Right.PLAN) and not desk.show.read_only and plan is not None
    if plan is None:
        return {
            "readable": False, "may_plan": False, "verdict": w("frame.unreadable"), "lede": w("frame.unreadable_lede"),
            "result": None, "changed": None,
        }  # fmt: skip
    state = script_page.state_of(desk.show)
    result = state.result
    values: dict[str, Any] = {
        "readable": True,
        "may_plan": may_plan,
        "revision": state.revision,
        "result": result,
        "verdict": verdict_of(result),
        "lede": lede_of(result) if result is not None and result.scenes else w("script.empty"),
        "changed": state.changed,
        "read_by": state.read_by,
    }
    return values | (_told(result, desk) if result is not None else {})


def _told(result: ScriptResult, desk: Desk) -> dict[str, Any]:
    sites = {each.id: each.name for each in desk.show.plan().sites}
    by_number = {each.number: each for each in reversed(result.scenes) if each.number}
    days = {each.id: each.name for each in result.days}
    return {
        "drawing": strip_of(result) if result.scenes else None,
        "weighing": weighing_of(result.findings, _NAMES_APART),
        "fine": [each.what for each in result.findings if each.weight is Weight.FINE],
        "by_number": {each.number.casefold(): each for each in by_number.values()},
        "day_names": days,
        "site_names": sites,
        "left": [each for each in result.scenes if not each.days and each.number and not each.omitted],
        "names": {each.id: each.name for each in result.characters},
        "who": {each.id: _voices(each.speaks, each.sings) for each in result.scenes},
        "heard": {each.id: list(dict.fromkeys(cue.kind for cue in each.cues)) for each in result.scenes},
    }


def _voices(speaks: Sequence[Any], sings: Sequence[Any]) -> list[tuple[str, int, bool, str]]:
    """Name, words, whether sung, and where off."""
    return [(each.name, each.words, False, each.off) for each in speaks] + [
        (each.name, each.words, True, each.off) for each in sings
    ]

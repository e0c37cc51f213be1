"""Takes: the day's rolls as they happen, written from any device, and what comes next on the slate."""

from __future__ import annotations

import json
from datetime import UTC
from typing import Any, Literal, get_args

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import daylog_page
from rollsound.actions.daylog_page import TakesState
from rollsound.log.daybook import LogBook
from rollsound.log.daylines import LogLine
from rollsound.log.entries import PAGE_CLOCK, TakeEntry, TakeKind
from rollsound.log.line_words import line_in_words, take_in_words
from rollsound.log.numbering import STYLES
from rollsound.timecode.rates import Rate
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.pages import page_of
from rollsound.web.pages.power_rows import weighing_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

PAGE = page_of("takes")
router = APIRouter(include_in_schema=False)
Part = Literal["answer", "state", "list"]
KINDS: tuple[TakeKind, ...] = get_args(TakeKind)
_QUICK = 6
_HOUR_MS = 3_600_000
_PARTS_MS = 100
"""Drop-frame stays within some milliseconds of the clock; other rates may part by seconds in an hour."""


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The whole page, of one day or of the one that is on."""
    return render(request, "takes.html", page=PAGE, **_values(desk, visitor, day))


@router.get("/pages/takes/part/{part}")
def part(request: Request, desk: TheDesk, visitor: TheVisitor, part: Part, day: str = "") -> Response:
    """The answer, the list, or what the scripts go by, as they are now."""
    return render(request, f"parts/takes_{part}.html", **_values(desk, visitor, day))


def _values(desk: Desk, visitor: Visitor, day: str) -> dict[str, Any]:
    state = daylog_page.takes_state(desk.show, day[:64])
    circled = sum(take.circled for _, take in state.takes)
    verdict = w("takes.verdict", n=len(state.takes), circled=circled) if state.takes else w("takes.none")
    if state.rolling is not None:
        verdict = w("takes.verdict_rolling", what=_what(state.rolling))
    return {
        "state": state,
        "data": json.dumps(_data(desk, state)),
        "may_log": visitor.may(Right.FLOOR) and not desk.show.read_only and bool(state.day),
        "verdict": verdict,
        "lede": w("takes.lede") if state.takes else w("takes.empty" if state.day else "takes.no_days"),
        "code": _code(state),
        "kinds": [(kind, w(f"takes.kind_{kind.replace(' ', '_')}")) for kind in KINDS],
        "quick": [w(f"takes.quick_{n}") for n in range(1, _QUICK + 1)],
        "styles": STYLES,
        "weighing": weighing_of(state.findings),
        "query": f"?day={state.day}",
        "clock": PAGE_CLOCK,
        "line_in_words": line_in_words,
    }


def _what(line: LogLine) -> str:
    entry = line.entry
    return take_in_words(entry) if isinstance(entry, TakeEntry) else ""


def _data(desk: Desk, state: TakesState) -> dict[str, Any]:
    """What the page's scripts go by."""
    ahead, rate = state.ahead, state.rate
    done = [(line, take) for line, take in state.takes if state.rolling is None or line.id != state.rolling.id]
    return {
        "day": state.day,
        "number": LogBook(desk.show.store).last_number(),
        "clock": PAGE_CLOCK,
        "rolling": None if state.rolling is None else _take(state.rolling),
        "last": _take(done[0][0]) if done else None,
        "ahead": {
            "scene": ahead.now.scene or (state.scenes[0] if state.scenes else ""),
            "slate": ahead.now.slate,
            "take": ahead.now.take,
            "roll": ahead.sound_roll,
            "takes": ahead.takes,
            "setups": ahead.setups,
            "wild": ahead.wild,
            "tone": ahead.tone,
        },
        "rate": {
            "numerator": rate.numerator,
            "denominator": rate.denominator,
            "nominal": rate.nominal,
            "drop": rate.drop,
            "name": str(rate),
        },
        "jam": None
        if state.jam is None
        else {"timecode": state.jam[1].timecode, "at_ms": round(state.jam[0].at.astimezone(UTC).timestamp() * 1000)},
    }


def _take(line: LogLine) -> dict[str, Any]:
    return {"id": line.id, "words": _what(line), "fields": line.fields, "changed": line.changed}


def _code(state: TakesState) -> str:
    """Where the running time code comes from."""
    if state.jam is not None:
        line, jam = state.jam
        source = w("takes.code_from", source=jam.source) if jam.source else ""
        return w("takes.code_jam", code=jam.timecode, at=f"{line.at:%H:%M}", source=source, rate=str(state.rate))
    drift = _drift_ms(state.rate)
    rate = w("takes.code_rate", rate=str(state.rate), drift=drift) if drift > _PARTS_MS else ""
    return " ".join(part for part in (w("takes.code_clock"), rate) if part)


def _drift_ms(rate: Rate) -> int:
    """How far labels part from the clock in an hour, in milliseconds; drop-frame keeps within some tens of them."""
    labels = rate.frames_per_day / 24
    return round(abs(labels / float(rate.fps) * 1000 - _HOUR_MS))

"""Song: which part of every song is on which take, what is still missing, and where playback was off speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import song_page
from rollsound.finding import Weight
from rollsound.quantities import count, signed
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.page import Badge
from rollsound.web.pages import page_of
from rollsound.web.pages.power_rows import weighing_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.song_model import SongMapResult, SongSpan, StretchRow

PAGE = page_of("song")
router = APIRouter(include_in_schema=False)
_NAMES_APART: frozenset[str] = frozenset()


def badge(desk: Desk) -> Badge | None:
    """What stops, else what deserves a look; none while nobody has looked."""
    result = song_page.known(desk.show) if desk.plan() is not None else None
    if result is None or result.weight is Weight.FINE:
        return None
    weight = result.weight
    number = sum(each.weight is weight for each in result.findings)
    return Badge(number, "stop" if weight is Weight.STOP else "watch")


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The whole page, with what is known; the rest of it is read once it is shown."""
    return render(request, "song.html", page=PAGE, **_values(desk, visitor, read=False))


@router.get("/pages/song/part/answer")
def answer(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The answer, with some more takes read; it asks again while any is left."""
    return render(request, "parts/song_answer.html", **_values(desk, visitor, read=True))


def verdict_of(result: SongMapResult | None, left: int) -> str:
    """The answer in one sentence."""
    if result is None:
        return w("song.verdict_empty")
    if left:
        return w("song.verdict_reading", n=left)
    if not result.takes:
        return w("song.verdict_no_takes")
    stops = sum(each.weight is Weight.STOP for each in result.findings)
    if stops:
        return w("song.verdict_stop", n=stops)
    open_ones = sum(song.covered_share is None or bool(song.missing) for song in result.songs)
    return w("song.verdict_missing", n=open_ones) if open_ones else w("song.verdict_fine", n=len(result.songs))


def lede_of(result: SongMapResult) -> str:
    """What was looked at."""
    return w(
        "song.lede", takes=count(result.takes, "take"), code=result.with_code, songs=count(len(result.songs), "song")
    )


def _values(desk: Desk, visitor: Visitor, *, read: bool) -> dict[str, Any]:
    plan = desk.plan()
    may_plan = visitor.may(Right.PLAN) and not desk.show.read_only and plan is not None
    if plan is None:
        return {
            "readable": False, "may_plan": False, "verdict": w("frame.unreadable"), "lede": w("frame.unreadable_lede"),
            "result": None, "left": 0,
        }  # fmt: skip
    state = song_page.state_of(desk.show, read=read)
    result = state.result
    values: dict[str, Any] = {
        "readable": True,
        "may_plan": may_plan,
        "result": result,
        "left": state.left,
        "verdict": verdict_of(result, state.left),
        "lede": lede_of(result) if result is not None else w("song.empty"),
    }
    return values | (_told(result) if result is not None else {})


def _told(result: SongMapResult) -> dict[str, Any]:
    return {
        "weighing": weighing_of(result.findings, _NAMES_APART),
        "fine": [each.what for each in result.findings if each.weight is Weight.FINE],
        "songs": [
            {
                "row": song,
                "told": song.sentence[:1].upper() + song.sentence[1:],
                "takes": [_take(each) for each in song.stretches],
                "missing": [_span(each) for each in song.missing],
            }
            for song in result.songs
        ],
        "charts": _pictures(result),
    }


def _span(span: SongSpan) -> dict[str, str]:
    return {
        "bars": w("song.from_to", start=span.start_bar, end=span.end_bar) if span.start_bar else "",
        "labels": w("song.from_to", start=span.start_timecode, end=span.end_timecode),
        "seconds": f"{span.end_s - span.start_s:.1f} s",
        "part": span.part,
    }


def _take(row: StretchRow) -> dict[str, Any]:
    """One pass as a row of the table."""
    only = row.speeds[0]
    if len(row.speeds) > 1:
        speed = w("song.speeds", n=len(row.speeds))
    elif only.kind == "unknown":
        speed = w("song.speed_unknown")
    else:
        speed = f"{signed(only.speed_ppm, 1)} ppm ±{max(only.uncertainty_ppm, 0.1):.1f}"
        if only.kind != "true":
            speed = w("song.speed_off", speed=speed, what=only.sentence)
    marks = [w("song.circled")] if row.circled else []
    if row.direction == "reverse":
        marks.append(w("song.backwards"))
    if row.slips:
        marks.append(w("song.slips", n=row.slips))
    if not row.in_song:
        marks.append(w("song.count_in"))
    return {
        "name": row.take,
        "scene": row.scene,
        "span": _span(row.span),
        "offset": f"{row.zero_sample:,.0f}".replace("-", "−"),
        "speed": speed,
        "right": row.right,
        "marks": ", ".join(marks),
    }


def _pictures(result: SongMapResult) -> list[dict[str, str]]:
    """Where the picture is fetched by day and by night, named by its content so that browsers keep it."""
    from rollsound.report.charts import ThemeName, content_key

    if not any(song.stretches for song in result.songs):
        return []
    chart = song_page.chart_of(result)
    themes: tuple[ThemeName, ...] = ("day", "night")
    return [
        {
            "theme": theme,
            "alt": chart.alt,
            "src": f"/api/v1/song/chart?theme={theme}&v={content_key(chart, 'svg', theme)}",
        }
        for theme in themes
    ]

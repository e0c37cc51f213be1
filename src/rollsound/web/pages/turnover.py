"""Turnover: whether a day can go to sound post, building its folder, its papers, and proving a folder."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.finding import Weight
from rollsound.web import loading
from rollsound.web.api.turnover import chart_of, papers_at
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.folders import findings_told, told_to
from rollsound.web.page import Badge
from rollsound.web.pages import page_of
from rollsound.web.pages.media_rows import job_rows
from rollsound.web.pages.turnover_words import answer_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.media_model import MediaDay
    from rollsound.report.charts import Chart

_KINDS = ("turnover", "verify")


def badge(desk: Desk) -> Badge | None:
    """What keeps the newest day from going; told once somebody has looked, since reading a day takes a moment."""
    plan = desk.plan()
    if plan is None or not plan.media or not loading.loaded():
        return None
    from rollsound.actions.turnover_check import known_blocking

    blocking = known_blocking(desk.show)
    return Badge(blocking, "stop") if blocking else None


PAGE = page_of("turnover")
router = APIRouter(include_in_schema=False)


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The whole page, on one day."""
    chosen = _chosen(desk, day)
    values = {**_check(desk, visitor, chosen), **_jobs(desk, visitor), **_papers(desk, chosen)}
    plan = desk.plan()
    planned = next((each for each in plan.media if each.id == chosen.id), None) if plan and chosen else None
    on = next((each for each in plan.schedule.days if planned and each.id == planned.day), None) if plan else None
    return render(
        request,
        "turnover.html",
        page=PAGE,
        at_machine=visitor.may(Right.MACHINE),
        planned=planned,
        usual={
            "day_name": chosen.label if chosen else "",
            "date": on.date.isoformat() if on and on.date else "",
            "mixer": next((each.name for each in plan.people if each.role == "mixer"), "") if plan else "",
        },
        **values,
    )


@router.get("/pages/turnover/part/check")
def check_part(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The answer and the checklist, as they are now."""
    return render(request, "parts/turnover_check.html", **_check(desk, visitor, _chosen(desk, day)))


@router.get("/pages/turnover/part/jobs")
def jobs_part(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """Building and proving, as it goes."""
    return render(request, "parts/turnover_jobs.html", **_jobs(desk, visitor))


@router.get("/pages/turnover/part/papers")
def papers_part(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "", make: bool = False) -> Response:
    """The papers; ``make`` makes the pictures of the newest one's pages first."""
    chosen = _chosen(desk, day)
    if make and chosen is not None:
        from rollsound.actions.turnover_papers import make_pictures

        for paper in papers_at(desk, chosen.id)[:1]:
            make_pictures(desk.show.folder, paper)
    return render(request, "parts/turnover_papers.html", **_papers(desk, chosen))


def _chosen(desk: Desk, day: str) -> MediaDay | None:
    loading.wait()
    from rollsound.actions.media import media_of

    if desk.plan() is None:
        return None
    index = media_of(desk.show)
    return index.day(day) or (index.days[-1] if index.days else None)


def _check(desk: Desk, visitor: Visitor, day: MediaDay | None) -> dict[str, Any]:
    if day is None:
        readable = desk.plan() is not None
        verdict = w("turnover.verdict_none") if readable else w("frame.unreadable")
        nothing = {"day": None, "days": (), "check": None, "tell": (), "charts": ()}
        return {**nothing, "verdict": verdict, "readable": readable}
    from rollsound.actions.media import media_of
    from rollsound.actions.turnover_check import turnover_check

    check = turnover_check(desk.show, day.id)
    assert check is not None
    told = {part: findings_told(visitor, getattr(check, part), desk.show.folder) for part in ("checks", "standing")}
    check = check.model_copy(update=told)
    wide, narrow = (chart_of(desk, day.id, narrow=each) for each in (False, True))
    charts: list[dict[str, str]] = []
    if wide is not None and narrow is not None and day.radio_tracks:
        charts = [_pictures(day.id, wide, narrow, "day"), _pictures(day.id, wide, narrow, "night")]
    return {
        "readable": True,
        "day": day,
        "days": media_of(desk.show).days,
        "check": check,
        "verdict": answer_of(check),
        "tell": sorted(
            (*(each for each in check.checks if each.weight.value == "watch"), *check.standing),
            key=lambda each: list(Weight).index(each.weight),
        ),
        "charts": charts,
    }


def _pictures(media_id: str, wide: Chart, narrow: Chart, theme: Literal["day", "night"]) -> dict[str, str]:
    """Where a theme's chart is fetched, named by its content so that browsers keep it."""
    from rollsound.report.charts import content_key

    address = f"/api/v1/turnover/{media_id}/chart?theme={theme}"
    return {
        "theme": theme,
        "alt": wide.alt,
        "wide": f"{address}&v={content_key(wide, 'svg', theme)}",
        "narrow": f"{address}&width=narrow&v={content_key(narrow, 'svg', theme)}",
    }


def _jobs(desk: Desk, visitor: Visitor) -> dict[str, Any]:
    every = desk.runner.jobs() if desk.runner is not None else []
    rows = [told_to(visitor, row) for row in every if row.kind in _KINDS]
    names = {row.id: row.arguments.get("day_name", "") for row in rows if row.kind == "turnover"}
    lines = tuple(
        replace(line, what=w("media.kind_of_job_turnover", what=names[line.id])) if names.get(line.id) else line
        for line in job_rows(rows)
    )
    places = {row.id: (row.result or {}).get("detail", {}) for row in rows}
    return {
        "jobs": lines,
        "details": places if visitor.may(Right.MACHINE) else {},
        "may_work": visitor.may(Right.PLAN) and desk.runner is not None,
    }


def _papers(desk: Desk, day: MediaDay | None) -> dict[str, Any]:
    return {"papers": papers_at(desk, day.id) if day is not None else (), "day": day}

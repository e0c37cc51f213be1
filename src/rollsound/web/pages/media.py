"""Media: what was recorded, what is wrong with it, what was rebuilt, and the work on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.facts import cautions
from rollsound.web import loading
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.folders import told_to
from rollsound.web.page import Badge
from rollsound.web.pages import page_of
from rollsound.web.pages.media_rows import (
    JobLine,
    answer_of,
    card_rows,
    day_rows,
    found_rows,
    job_rows,
    picture_of,
    span_rows,
    take_answer,
    track_rows,
)
from rollsound.web.problems import missing
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.media_model import MediaDay, MediaIndex


def _index(desk: Desk) -> MediaIndex:
    loading.wait()
    from rollsound.actions.media import media_of

    return media_of(desk.show)


def badge(desk: Desk) -> Badge | None:
    """Stops of all days. Signal code takes a second to load, so the first pages go without this figure."""
    plan = desk.plan()
    if plan is None or not plan.media or not loading.loaded():
        return None
    stops = _index(desk).stops
    return Badge(stops, "stop") if stops else None


PAGE = page_of("media")
router = APIRouter(include_in_schema=False)


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The whole page, on one day."""
    index = _index(desk)
    chosen = _chosen(index, day)
    plan = desk.plan()
    planned = {each.id: each for each in plan.media} if plan is not None else {}
    return render(
        request,
        "media.html",
        page=PAGE,
        days=index.days,
        day=chosen,
        rows=day_rows(chosen) if chosen else None,
        cards=card_rows(chosen) if chosen else (),
        answer=answer_of(chosen),
        planned=planned.get(chosen.id) if chosen else None,
        plan_days=plan.schedule.days if plan is not None else (),
        jobs=_jobs(desk, visitor),
        may_work=visitor.may(Right.PLAN) and desk.runner is not None,
        may_plan=visitor.may(Right.PLAN) and not desk.show.read_only,
        at_machine=visitor.may(Right.MACHINE),
        card_caution=cautions("media")[0].text,
    )


@router.get(PAGE.path + "/{take_id}")
def take(request: Request, desk: TheDesk, visitor: TheVisitor, take_id: str) -> Response:
    """One take: its waveforms, findings and figures."""
    index = _index(desk)
    found = index.take(take_id)
    if found is None:
        raise missing(w("media.no_such_take"))
    return render(
        request,
        "media_take.html",
        page=PAGE,
        take=found,
        day=index.day(found.day),
        answer=take_answer(found),
        found=found_rows(found),
        tracks=track_rows(found),
        picture=picture_of(found),
        spans=span_rows(found),
        other=index.take(found.other) if found.other else None,
        hearing=cautions("hearing")[0].text,
        may_work=visitor.may(Right.PLAN) and desk.runner is not None,
    )


@router.get("/pages/media/part/day")
def day_part(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The answer and the takes, as they are now."""
    index = _index(desk)
    chosen = _chosen(index, day)
    return render(
        request,
        "parts/media_day.html",
        days=index.days,
        day=chosen,
        rows=day_rows(chosen) if chosen else None,
        cards=card_rows(chosen) if chosen else (),
        answer=answer_of(chosen),
    )


@router.get("/pages/media/part/jobs")
def jobs_part(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The jobs, as they are now."""
    may_work = visitor.may(Right.PLAN) and desk.runner is not None
    return render(request, "parts/media_jobs.html", jobs=_jobs(desk, visitor), may_work=may_work)


def _jobs(desk: Desk, visitor: Visitor) -> tuple[JobLine, ...]:
    return job_rows([told_to(visitor, row) for row in desk.runner.jobs()]) if desk.runner is not None else ()


def _chosen(index: MediaIndex, day: str) -> MediaDay | None:
    return index.day(day) or (index.days[-1] if index.days else None)

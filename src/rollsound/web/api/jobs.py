"""Jobs: long work in processes of its own; started, watched, stopped and resumed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from fastapi import APIRouter, HTTPException
from pydantic import BaseModel, Field

from rollsound.actions.running import UNDER_WAY
from rollsound.log.model import JobRow
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.folders import progress_told, told_to
from rollsound.web.live import Live
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/jobs", tags=["jobs"], responses=PROBLEMS)


class JobOrder(BaseModel, extra="forbid"):
    """A job: on a day's media as the plan names it, or on paths, which only the machine itself may name."""

    kind: Literal["inspect", "offload", "conform", "turnover", "verify"]
    media: str = Field(default="", max_length=64, description="id of the plan's entry; then no arguments are needed")
    mode: Literal["mirror", "mend", "compare"] = "mirror"
    arguments: dict[str, Any] = Field(default_factory=dict)


class JobState(BaseModel):
    """One job as it is now."""

    id: str
    kind: str
    state: str
    person: str
    made: datetime
    changed: datetime
    progress: dict[str, Any]
    result: dict[str, Any] | None
    error: dict[str, Any] | None


class JobTold(BaseModel):
    """What became of an order."""

    id: str
    state: str
    sentence: str


@router.get("", response_model=list[JobState])
def jobs(desk: TheDesk, visitor: TheVisitor) -> Any:
    """Every job, newest first."""
    return [state_of(told_to(visitor, row)) for row in _runner(desk).jobs()]


@router.get("/{job_id}", response_model=JobState)
def job(desk: TheDesk, visitor: TheVisitor, job_id: str) -> Any:
    """One job as it is now."""
    return state_of(told_to(visitor, _known(desk, job_id)))


@router.post("", response_model=JobTold, dependencies=[needs(Right.PLAN)])
def start(desk: TheDesk, visitor: TheVisitor, order: JobOrder) -> Any:
    """Start a job. One runs at a time; the next one waits for it."""
    if order.media and not order.arguments:
        from rollsound.actions.media import day_order

        arguments = day_order(desk.show, order.kind, order.media, mode=order.mode)
    elif visitor.may(Right.MACHINE):
        arguments = _clean(order.arguments)
    else:
        raise HTTPException(403, w("doors.needs_machine"))
    started = _runner(desk).start(order.kind, arguments, visitor.author())
    row = _known(desk, started)
    return {"id": row.id, "state": row.state, "sentence": begun(desk, row)}


@router.post("/{job_id}/stop", response_model=JobTold, dependencies=[needs(Right.PLAN)])
def stop(desk: TheDesk, visitor: TheVisitor, job_id: str) -> Any:
    """Ask a job to stop at its next safe point; what it finished is kept."""
    _known(desk, job_id)
    row = _runner(desk).stop(job_id)
    return {"id": row.id, "state": row.state, "sentence": w(f"media.job_{row.state}")}


@router.post("/{job_id}/resume", response_model=JobTold, dependencies=[needs(Right.PLAN)])
def resume(desk: TheDesk, visitor: TheVisitor, job_id: str) -> Any:
    """Run a job that has ended once more; it goes on from what was finished."""
    _known(desk, job_id)
    row = _runner(desk).resume(job_id)
    return {"id": row.id, "state": row.state, "sentence": w(f"media.job_{row.state}")}


def begun(desk: Desk, row: JobRow) -> str:
    """What is told of a job that was just ordered: it begins at once unless another is under way."""
    busy = any(each.id != row.id and each.state in UNDER_WAY for each in _runner(desk).jobs())
    return w("turnover.job_starts") if row.state == "waiting" and not busy else w(f"media.job_{row.state}")


def state_of(row: JobRow) -> dict[str, Any]:
    """A job for those who watch it; its arguments are paths of this machine and stay here."""
    return {
        "id": row.id,
        "kind": row.kind,
        "state": str(row.state),
        "person": row.author.person,
        "made": row.made,
        "changed": row.changed,
        "progress": row.progress,
        "result": row.result,
        "error": row.error,
    }


def news_to(live: Live, folder: Path) -> Callable[[JobRow], None]:
    """What a runner tells goes to every browser; a job that ended may have changed the media, and what is ready."""

    def tell(row: JobRow) -> None:
        live.publish("jobs", {"id": row.id, "state": str(row.state), "progress": progress_told(row)})
        if row.state in ("done", "failed", "stopped"):
            from rollsound.actions.media import media_in

            media_in(folder).look_again()
            live.publish("media", {})
            live.publish("ready", {})

    return tell


def _runner(desk: Desk) -> Any:
    if desk.runner is None:
        raise HTTPException(409, w("media.no_runner"))
    return desk.runner


def _known(desk: Desk, job_id: str) -> JobRow:
    row: JobRow | None = _runner(desk).job(job_id)
    if row is None:
        raise missing(w("media.no_such_job"))
    return row


def _clean(arguments: dict[str, Any]) -> dict[str, Any]:
    """Forms send every field; one that was left empty was not given. Several places stand one a line."""
    given = {name: value for name, value in arguments.items() if value not in ("", [], None)}
    for name in ("destinations", "paths"):
        if isinstance(given.get(name), str):
            given[name] = [line.strip() for line in given[name].splitlines() if line.strip()]
    return given

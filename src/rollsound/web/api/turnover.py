"""Turnover: whether a day can go, building its folder, its papers and its chart; proving a folder."""

from __future__ import annotations

import os.path
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request, Response
from fastapi import Path as InPath
from pydantic import BaseModel, Field

from rollsound.web.api.jobs import JobTold, begun
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.folders import findings_told
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.statics import files
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.turnover_papers import Paper
    from rollsound.report.charts import Chart, Face

router = APIRouter(prefix="/api/v1", tags=["turnover"], responses=PROBLEMS)

MediaId = Annotated[str, InPath(max_length=64)]
Folder = Annotated[str, Field(max_length=4000, pattern=r"^[^\x00]*$")]
PaperId = Annotated[str, InPath(pattern="^[0-9a-f]{24}$")]
_FOR_GOOD = "private, max-age=31536000, immutable"
_TYPES = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf"}


class CheckShape(BaseModel):
    """One check or fault."""

    weight: str
    kind: str
    what: str
    why: str
    remedy: str
    source: str


class TurnoverState(BaseModel):
    """Whether a day can go."""

    day: str
    label: str
    sentence: str
    can_go: bool
    takes: int
    radio_tracks: int
    rebuilt_tracks: int
    checks: list[CheckShape] = Field(description="one for each check, whether it holds or not")
    standing: list[CheckShape] = Field(description="faults that no card mends; post is told of them")


class BuildGiven(BaseModel, extra="forbid"):
    """What is to be built; everything that is left empty, the plan says."""

    to: Folder = Field(default="", description="only from the machine itself")
    day_name: str = Field(default="", max_length=100)
    date: str = Field(default="", max_length=40)
    mixer: str = Field(default="", max_length=100)
    also_md5: bool = False


class VerifyGiven(BaseModel, extra="forbid"):
    """The folder to prove."""

    path: Folder = Field(min_length=1)


class PaperShape(BaseModel):
    """One PDF of a turnover; ``pages`` is null before its pictures were made."""

    id: str
    name: str
    size_bytes: int
    pages: int | None


@router.get("/turnover/{media_id}", response_model=TurnoverState)
def state(desk: TheDesk, visitor: TheVisitor, media_id: MediaId) -> Any:
    """Every check of a day before it goes."""
    from rollsound.actions.turnover_check import turnover_check
    from rollsound.web.pages.turnover_words import answer_of

    check = turnover_check(desk.show, media_id)
    if check is None:
        raise missing(w("turnover.no_such_day"))
    told = check.model_dump(mode="json", include={"day", "label", "takes", "radio_tracks", "rebuilt_tracks"})
    return {
        **told,
        "sentence": answer_of(check),
        "can_go": check.can_go,
        "checks": [each.model_dump(mode="json") for each in findings_told(visitor, check.checks, desk.show.folder)],
        "standing": [each.model_dump(mode="json") for each in findings_told(visitor, check.standing, desk.show.folder)],
    }


@router.post("/turnover/{media_id}", response_model=JobTold, dependencies=[needs(Right.PLAN)])
def build(desk: TheDesk, visitor: TheVisitor, media_id: MediaId, given: BuildGiven) -> Any:
    """Build a day's turnover as a job. A second one adds what is missing and never overwrites."""
    from rollsound.actions.turnover_check import turnover_order

    if given.to.strip() and not visitor.may(Right.MACHINE):
        raise HTTPException(403, w("doors.needs_machine"))
    order = turnover_order(desk.show, media_id, **given.model_dump())
    return _start(desk, visitor, "turnover", order)


@router.post("/verify", response_model=JobTold, dependencies=[needs(Right.MACHINE)])
def verify(desk: TheDesk, visitor: TheVisitor, given: VerifyGiven) -> Any:
    """Prove a folder by its manifests, as a job. Only from the machine that holds it."""
    return _start(desk, visitor, "verify", {"path": os.path.expanduser(given.path.strip())})


@router.get("/turnover/{media_id}/papers", response_model=list[PaperShape])
def papers(desk: TheDesk, visitor: TheVisitor, media_id: MediaId) -> Any:
    """The PDFs of a day's turnover, newest first."""
    return [
        {"id": each.id, "name": each.name, "size_bytes": each.size_bytes, "pages": each.pages}
        for each in papers_at(desk, media_id)
    ]


@router.get(
    "/turnover/{media_id}/papers/{paper_id}",
    response_model=None,
    responses={200: {"content": {"application/pdf": {}}, "description": "The PDF."}},
)
def paper(desk: TheDesk, visitor: TheVisitor, media_id: MediaId, paper_id: PaperId) -> Response:
    """A PDF as it lies in the turnover."""
    found = _paper(desk, media_id, paper_id)
    try:
        data = found.path.read_bytes()
    except OSError as error:
        raise missing(w("turnover.no_such_paper")) from error
    name = found.name.encode("ascii", "replace").decode().replace("?", "-").replace('"', "")
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-cache"}
    return Response(data, media_type="application/pdf", headers=headers)


@router.get(
    "/turnover/{media_id}/papers/{paper_id}/pages/{page}",
    response_model=None,
    responses={200: {"content": {"image/png": {}}, "description": "A page as a picture."}},
)
def page_picture(
    desk: TheDesk,
    visitor: TheVisitor,
    media_id: MediaId,
    paper_id: PaperId,
    page: Annotated[int, InPath(ge=1, le=400)],
) -> Response:
    """One page of a PDF as a picture, counted from 1."""
    from rollsound.actions.turnover_papers import make_pictures, picture_of_page

    found = _paper(desk, media_id, paper_id)
    make_pictures(desk.show.folder, found)
    picture = picture_of_page(desk.show.folder, found.id, page)
    if picture is None:
        raise missing(w("turnover.no_such_page"))
    return Response(picture, media_type="image/png", headers={"cache-control": _FOR_GOOD})


@router.get(
    "/turnover/{media_id}/chart",
    response_model=None,
    responses={
        200: {"content": {"image/svg+xml": {}, "image/png": {}, "application/pdf": {}}, "description": "Chart."}
    },
)
def chart(
    request: Request,
    desk: TheDesk,
    visitor: TheVisitor,
    media_id: MediaId,
    format: Literal["svg", "png", "pdf"] = "svg",
    theme: Literal["day", "night", "print"] = "day",
    width: Literal["wide", "narrow"] = "wide",
    v: Annotated[str, Query(max_length=64, description="the content's name: kept for good where it fits")] = "",
) -> Response:
    """The day's takes with their radio tracks: rebuilt, mended, as recorded, lost."""
    from rollsound.actions.chart_kept import chart_picture
    from rollsound.report.charts import content_key

    made = chart_of(desk, media_id, narrow=width == "narrow")
    if made is None:
        raise missing(w("turnover.no_such_day"))
    key = content_key(made, format, theme)
    headers = {"etag": f'"{key}"', "cache-control": _FOR_GOOD if v == key else "no-cache"}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    picture = chart_picture(desk.show.folder, made, format, theme, _faces())
    return Response(picture, media_type=_TYPES[format], headers=headers)


def chart_of(desk: Desk, media_id: str, *, narrow: bool) -> Chart | None:
    """The chart of a day; none when the plan has no such day."""
    from rollsound.actions.media import media_of
    from rollsound.actions.turnover_check import take_bars
    from rollsound.report.day_chart import day_chart

    day = media_of(desk.show).day(media_id)
    return None if day is None else day_chart(day.label, take_bars(day), narrow=narrow)


def papers_at(desk: Desk, media_id: str) -> tuple[Paper, ...]:
    """The papers of the turnover that was built last, or of the one that the plan names."""
    from rollsound.actions.turnover_papers import papers_in, papers_of

    for folder in _built_folders(desk, media_id):
        found = papers_in(desk.show.folder, folder)
        if found:
            return found
    return papers_of(desk.show, media_id)


def _built_folders(desk: Desk, media_id: str) -> list[Path]:
    """Where turnovers of this day were built by jobs of this show, newest first."""
    from rollsound.actions.turnover_check import turnover_order
    from rollsound.errors import RollsoundError

    if desk.runner is None:
        return []
    try:
        day = turnover_order(desk.show, media_id, to=str(desk.show.folder.resolve()))["day"]
    except RollsoundError:
        return []
    built = [row for row in desk.runner.jobs() if row.kind == "turnover" and row.arguments.get("day") == day]
    folders = [(row.result or {}).get("detail", {}).get("day_folder") for row in built]
    return [Path(each) for each in folders if each]


def _paper(desk: Desk, media_id: str, paper_id: str) -> Paper:
    found = next((each for each in papers_at(desk, media_id) if each.id == paper_id), None)
    if found is None:
        raise missing(w("turnover.no_such_paper"))
    return found


def _start(desk: Desk, visitor: Any, kind: str, arguments: dict[str, Any]) -> dict[str, Any]:
    if desk.runner is None:
        raise HTTPException(409, w("media.no_runner"))
    started = desk.runner.start(kind, arguments, visitor.author())
    row = desk.runner.job(started)
    return {"id": started, "state": str(row.state), "sentence": begun(desk, row)}


def _faces() -> tuple[Face, ...]:
    from rollsound.report.charts import Face

    return (Face(400, files()["fonts/next-latin-400.woff2"].body),)

"""The log of the day: read by all, written by the crew from any device, sent once however often it is asked."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Response
from fastapi import Path as InPath
from pydantic import BaseModel, Field

from rollsound.actions import daylog
from rollsound.actions.daylog_model import LogActRow, LogLineRow, LogListed, LogNow, LogWritten, SlateRow
from rollsound.log.daybook import LogBook, Written
from rollsound.log.entries import TakeKind
from rollsound.log.numbering import Style
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.once import TheKey
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/log", tags=["log"], responses=PROBLEMS)

Day = Annotated[str, Query(max_length=64, description="id of a day; the whole show when left out")]
ThatDay = Annotated[str, Query(max_length=64, description="id of a day; today's, or the last that has lines")]
LineId = Annotated[str, InPath(max_length=64)]
Kind = Literal["take", "wearing", "battery", "changeover", "jam", "temperature", "note", "promise"]
When = Annotated[
    str, Field(max_length=40, description="14:05 on that day, or a whole moment with its offset; now when left out")
]
Fields = Annotated[dict[Annotated[str, Field(max_length=80)], Any], Field(max_length=40)]


class LineGiven(BaseModel, extra="forbid"):
    """A line to write. ``id`` is given by a device that must know it before it is written."""

    kind: Kind
    fields: Fields = Field(default_factory=dict, description="by name, as `rollsound log add --help` lists them")
    day: str = Field(default="", max_length=64, description="id of the day; today's, or the last that has lines")
    at: When = ""
    id: str = Field(default="", max_length=64)


class LineChanged(BaseModel, extra="forbid"):
    """What changes of a line; fields that are left out stay, an empty value takes its field out."""

    fields: Fields = Field(default_factory=dict)
    seen: int | None = Field(
        default=None,
        ge=0,
        le=2**31,
        description="the line's `changed` as the writer saw it: what others changed since is told in `overlaps`",
    )
    day: str = Field(default="", max_length=64)
    at: When = ""


class StyleGiven(BaseModel, extra="forbid"):
    """How slates are numbered."""

    style: Style


class StyleSaved(BaseModel):
    """The style that is kept."""

    style: Style
    sentence: str


class LineTold(BaseModel):
    """A line and everything that was done to it, newest first."""

    line: LogLineRow
    acts: tuple[LogActRow, ...]


@router.get("/lines", response_model=LogListed)
def lines(desk: TheDesk, day: Day = "", kind: Kind | None = None) -> LogListed:
    """The log in the order in which it happened, and what is odd in it."""
    return daylog.list_of(desk.show, day=day, kind=kind or "")


@router.get("/now", response_model=LogNow)
def now(desk: TheDesk, day: ThatDay = "", at: Annotated[str, Query(max_length=40)] = "") -> LogNow:
    """Who wears what, batteries, changeovers, jams, open promises, the take that rolls, and the next slate."""
    found = daylog.day_of(desk.show, day)
    return daylog.now_of(desk.show, found, daylog.moment_of(at, desk.plan(), found))


@router.get("/next", response_model=SlateRow)
def next_slate(
    desk: TheDesk,
    day: ThatDay = "",
    kind: TakeKind = "take",
    scene: Annotated[str, Query(max_length=80)] = "",
    new_setup: bool = False,
) -> SlateRow:
    """What is likely to stand on the slate next."""
    found = daylog.day_of(desk.show, day)
    return daylog.next_slate(desk.show, found, kind=kind, scene=scene, new_setup=new_setup)


@router.get("/lines/{id}", response_model=LineTold)
def line(desk: TheDesk, id: LineId) -> LineTold:
    """One line and its history."""
    found = next((each for each in LogBook(desk.show.store).lines() if each.id == id), None)
    if found is None:
        raise missing(w("log.no_line"))
    return LineTold(line=LogLineRow.of(found), acts=daylog.acts_on(desk.show, id))


@router.post("/lines", response_model=LogWritten, dependencies=[needs(Right.FLOOR)])
def add_line(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: LineGiven) -> LogWritten:
    """Write a line. The same words from two devices are two lines."""
    day = daylog.day_of(desk.show, given.day)
    at = daylog.moment_of(given.at, desk.plan(), day)
    book = LogBook(desk.show.store)
    return told(desk, book.add(given.kind, given.fields, visitor.author(), day, key=key, at=at, id=given.id))


@router.put("/lines/{id}", response_model=LogWritten, dependencies=[needs(Right.FLOOR)])
def change_line(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: LineId, given: LineChanged) -> LogWritten:
    """Change fields of a line, merged with what others changed."""
    book = LogBook(desk.show.store)
    at = daylog.moment_of(given.at, desk.plan(), given.day or book.line(id).day) if given.at else None
    author = visitor.author()
    return told(desk, book.change(id, given.fields, author, key=key, seen=given.seen, day=given.day, at=at))


@router.delete("/lines/{id}", response_model=LogWritten, dependencies=[needs(Right.FLOOR)])
def drop_line(desk: TheDesk, visitor: TheVisitor, key: TheKey, id: LineId) -> LogWritten:
    """Take a line out; the history keeps it."""
    return told(desk, LogBook(desk.show.store).remove(id, visitor.author(), key=key))


@router.post("/undo", response_model=LogWritten, dependencies=[needs(Right.FLOOR)])
def undo(desk: TheDesk, visitor: TheVisitor, key: TheKey) -> LogWritten:
    """Take back the newest act in the log of the one who asks."""
    return told(desk, LogBook(desk.show.store).undo(visitor.author(), key=key))


@router.post("/redo", response_model=LogWritten, dependencies=[needs(Right.FLOOR)])
def redo(desk: TheDesk, visitor: TheVisitor, key: TheKey) -> LogWritten:
    """Do again what the one who asks took back last."""
    return told(desk, LogBook(desk.show.store).redo(visitor.author(), key=key))


@router.put("/style", response_model=StyleSaved, dependencies=[needs(Right.FLOOR)])
def put_style(desk: TheDesk, given: StyleGiven) -> StyleSaved:
    """Choose how slates are numbered."""
    daylog.keep_style(desk.show, given.style)
    desk.live.publish("log", {"style": given.style})
    return StyleSaved(style=given.style, sentence=w("log.style_saved", style=given.style))


@router.get(
    "/export",
    response_model=None,
    responses={
        200: {"content": {"application/pdf": {}, "text/csv": {}, "application/json": {}}, "description": "The log."}
    },
)
def export(
    desk: TheDesk, format: Literal["pdf", "csv", "json"] = "pdf", day: Day = "", all_lines: bool = False
) -> Response:
    """The log to be taken away."""
    from rollsound.actions.daylog_papers import exported

    listed = daylog.list_of(desk.show, day=day)
    if not listed.lines:
        raise missing(w("log.nothing"))
    data = exported(desk.show, listed, f".{format}", all_lines=all_lines)
    kind = {"pdf": "application/pdf", "csv": "text/csv; charset=utf-8", "json": "application/json"}[format]
    name = f"{_plain(desk.title())}-{_plain(day or 'log')}.{format}"
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-cache"}
    return Response(data, media_type=kind, headers=headers)


def told(desk: Desk, written: Written) -> LogWritten:
    """The answer to an act, after every browser was told of it."""
    desk.tell_logged(written)
    return LogWritten.of(written)


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:60] or "log"

"""Song: the song map as far as takes were read, and its picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field

from rollsound.actions import song_page
from rollsound.actions.song_model import SongMapResult
from rollsound.web.desk import TheDesk
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.statics import files
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.report.charts import Face

router = APIRouter(prefix="/api/v1/song", tags=["song"], responses=PROBLEMS)

_FOR_GOOD = "private, max-age=31536000, immutable"
_TYPES = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf"}


class SongsToday(BaseModel):
    """The songs as the plan and its media stand."""

    revision: int
    left: int = Field(description="takes that are still to be read; ask again")
    result: SongMapResult | None = Field(description="null when the plan has no songs")


@router.get("", response_model=SongsToday)
def songs(desk: TheDesk) -> Any:
    """Which part of every song is on which take. Some takes are read with every question, until none is left."""
    state = song_page.state_of(desk.show, read=True)
    return SongsToday(revision=state.revision, left=state.left, result=state.result)


@router.get(
    "/chart",
    response_model=None,
    responses={
        200: {"content": {"image/svg+xml": {}, "image/png": {}, "application/pdf": {}}, "description": "The picture."},
        304: {"description": "The one that is there still holds."},
    },
)
def chart(
    request: Request,
    desk: TheDesk,
    format: Literal["svg", "png", "pdf"] = "svg",
    theme: Literal["day", "night", "print"] = "day",
    width: Literal["wide", "narrow"] = "wide",
    v: Annotated[str, Query(max_length=64, description="the content's name: kept for good where it fits")] = "",
) -> Response:
    """Songs with the takes that cover them, as far as they were read."""
    from rollsound.actions.chart_kept import chart_picture
    from rollsound.report.charts import content_key

    result = song_page.state_of(desk.show).result
    if result is None or not any(song.stretches for song in result.songs):
        raise missing(w("song.no_chart"))
    made = song_page.chart_of(result, narrow=width == "narrow")
    key = content_key(made, format, theme)
    headers = {"etag": f'"{key}"', "cache-control": _FOR_GOOD if v == key else "no-cache"}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    picture = chart_picture(desk.show.folder, made, format, theme, _faces())
    return Response(picture, media_type=_TYPES[format], headers=headers)


def _faces() -> tuple[Face, ...]:
    from rollsound.report.charts import Face

    return (Face(400, files()["fonts/next-latin-400.woff2"].body),)

"""What is taken away from Radio and Reach: the crew's carrier plan, and charts as pictures. Everybody may."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query, Response

from rollsound.actions import radio_downloads
from rollsound.actions.chart_kept import chart_picture
from rollsound.actions.radio_page_reach import Tried
from rollsound.web.api.radio import Site
from rollsound.web.desk import TheDesk
from rollsound.web.problems import PROBLEMS

router = APIRouter(prefix="/api/v1", responses=PROBLEMS)

Form = Literal["png", "svg", "pdf"]
Ground = Annotated[str, Path(max_length=64, pattern=r"^[a-z0-9][a-z0-9-]*$")]
_TYPES = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf", "csv": "text/csv; charset=utf-8"}
_PICTURES: dict[str, Any] = {"content": {each: {} for each in ("image/png", "image/svg+xml", "application/pdf")}}
_PAPERS: dict[str, Any] = {"content": {each: {} for each in ("text/csv", "application/pdf")}}


@router.get(
    "/radio/paper", tags=["radio"], response_model=None, responses={200: {**_PAPERS, "description": "The plan."}}
)
def paper(desk: TheDesk, format: Literal["pdf", "csv"] = "pdf", site: Site = "") -> Response:
    """The carrier plan as it stands, for the whole crew."""
    return _file(radio_downloads.paper(desk.show, format, site), "carriers", site, format)


@router.get(
    "/radio/chart", tags=["radio"], response_model=None, responses={200: {**_PICTURES, "description": "The chart."}}
)
def carriers(
    desk: TheDesk, what: Literal["spectrum", "margins"] = "spectrum", format: Form = "svg", site: Site = ""
) -> Response:
    """The spectrum with its carriers, or the margin of every carrier."""
    chart = radio_downloads.carriers_chart(desk.show, what, site)
    return _file(chart_picture(desk.show.folder, chart, format, "print"), what, site, format)


@router.get(
    "/reach/{ground}/chart",
    tags=["reach"],
    response_model=None,
    responses={200: {**_PICTURES, "description": "The map."}},
)
def ground_map(
    desk: TheDesk,
    ground: Ground,
    format: Form = "svg",
    transmitter: Annotated[str, Query(max_length=64)] = "",
    layout: Annotated[str, Query(max_length=80)] = "",
) -> Response:
    """The ground with what is heard from everywhere on it, as the plan stands."""
    tried = Tried(ground, transmitter, layout)
    return _file(radio_downloads.ground_picture(desk.show, tried, format), "reach", ground, format)


@router.get(
    "/reach/{ground}/walk-chart",
    tags=["reach"],
    response_model=None,
    responses={200: {**_PICTURES, "description": "The chart."}},
)
def walked(desk: TheDesk, ground: Ground, format: Form = "svg") -> Response:
    """The readings of the walk test over what is computed, before the fit and after."""
    chart = radio_downloads.walk_chart(desk.show, ground)
    return _file(chart_picture(desk.show.folder, chart, format, "print"), "walk-test", ground, format)


def _file(body: bytes, what: str, of: str, form: str) -> Response:
    name = f"{what}-{of}.{form}" if of else f"{what}.{form}"
    safe = "".join(each if each.isascii() and (each.isalnum() or each in "-.") else "-" for each in name)
    headers = {"content-disposition": f'attachment; filename="{safe}"', "cache-control": "no-cache"}
    return Response(body, media_type=_TYPES[form], headers=headers)

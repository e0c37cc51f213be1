"""Ready: would anything stop the roll, and what deserves a look."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions.ready import ready, ready_without_media
from rollsound.errors import RollsoundError
from rollsound.finding import Finding, Weight
from rollsound.review.arithmetic import arithmetic
from rollsound.review.model import Place, Told, Verdict
from rollsound.review.ready import places_of
from rollsound.web import loading
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.page import Badge
from rollsound.web.pages import page_of, radio_ahead
from rollsound.web.rendering import render
from rollsound.web.words import w

MARGIN_SAMPLES = 48_000
SHOWN_AT_FIRST = 8
"""Findings of one weight that stand open; the rest of them one touch away."""
ROWS = {
    ("rig", "pieces"): "pieces",
    ("rig", "links"): "links",
    ("rig", "streams"): "streams",
    ("rig", "routes"): "routes",
    ("rig", "tracks"): "track",
    ("rig", "feeds"): "feed",
    ("rig", "changeovers"): "flip",
    ("power", "batteries"): "battery",
    ("power", "supplies"): "supply",
    ("power", "phases"): "phase",
    ("power", "sockets"): "socket",
    ("kit", "items"): "item",
    ("kit", "moves"): "move",
    ("script", "scenes"): "scene",
    ("schedule", "days"): "script",
}
"""What the row of an item is called on its page, with its id behind it, by the list of the plan that it stands in."""


def _reading(desk: Desk) -> bool:
    """Whether media or radio cannot be judged yet: their code takes a moment to load, and nobody waits for it."""
    plan = desk.plan()
    if plan is None:
        return False
    media = not plan.media or loading.loaded()
    radio = not plan.radio.transmitters or radio_ahead.loaded()
    return not (media and radio)


def badge(desk: Desk) -> Badge | None:
    """Stops, else what to watch; none while the media are being read."""
    if _reading(desk):
        return None
    try:
        verdict = ready(desk.show)
    except RollsoundError:
        return None
    if verdict.stops:
        return Badge(verdict.stops, "stop")
    return Badge(verdict.watches, "watch") if verdict.watches else None


PAGE = page_of("ready")
router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Row:
    """One finding as the page shows it."""

    finding: Finding
    where: str
    link: str
    link_words: str
    also: str
    figures: list[tuple[str, str]]


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The whole page."""
    return render(request, "ready.html", page=PAGE, **_values(desk))


@router.get("/pages/ready/part/verdict")
def part(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The answer as it is now."""
    return render(request, "parts/ready_verdict.html", **_values(desk))


def _values(desk: Desk) -> dict[str, Any]:
    reading = _reading(desk)
    try:
        verdict = ready_without_media(desk.show) if reading else ready(desk.show)
    except RollsoundError as error:  # a plan of another version, or a disk that is gone: the page still opens
        return {"problem": f"{error.sentence[:1].upper()}{error.sentence[1:]}."}
    return {
        "problem": "",
        "reading": reading,
        "verdict": verdict,
        "weighing": [
            group for group in (_group(verdict, weight) for weight in (Weight.STOP, Weight.WATCH)) if group[1]
        ],
        "shown": SHOWN_AT_FIRST,
        "checked": datetime.now().astimezone().strftime("%H:%M:%S"),
    }


def _group(verdict: Verdict, weight: Weight) -> tuple[str, list[Row]]:
    return weight.value, [_row(told) for told in verdict.findings if told.finding.weight is weight]


def _row(told: Told) -> Row:
    place = told.place
    return Row(
        finding=told.finding,
        where=place.name if place is not None else "",
        link=link_to(place) if place is not None else "",
        link_words=w(f"ready.open_{place.page}") if place is not None else "",
        also=places_of(told),
        figures=arithmetic(told.finding),
    )


def link_to(place: Place) -> str:
    """The address of a place."""
    if place.page == "plan":
        return f"/plan?{urlencode({'at': place.path}, quote_via=quote, safe='/')}" if place.path else "/plan"
    if place.page == "reach":
        return f"/reach?{urlencode({'site': place.id})}"
    if place.page in ("rig", "power", "kit", "script"):
        return _row_of(place)
    if place.page == "take":
        return f"/media/{quote(place.id)}{_spot(place)}"
    return f"/{place.page}?{urlencode({'day': place.id})}" if place.id else f"/{place.page}"


def _row_of(place: Place) -> str:
    """The row on its page that a place in the plan is written in; a failure is shown as it fails."""
    _, part, listed, id, *_ = (*place.path.split("/"), "", "", "", "")
    if place.page == "rig" and place.id:
        return f"/rig?{urlencode({'failed': place.id})}"
    if (part, listed) == ("rig", "sources") and id:
        return f"/rig?{urlencode({'source': id})}"
    row = ROWS.get((part, listed))
    return f"/{place.page}#{row}-{quote(id)}" if row and id else f"/{place.page}"


def _spot(place: Place) -> str:
    """A second before and after the spot, and the track in hand."""
    if not place.track:
        return ""
    if not place.length_samples:
        return f"#track={place.track}"
    begin, end = place.start_sample, place.start_sample + place.length_samples
    spread = {"from": max(begin - MARGIN_SAMPLES, 0), "to": end + MARGIN_SAMPLES, "at": begin, "track": place.track}
    return f"#{urlencode(spread)}"

"""What the plan's document itself can be asked: does all it names exist, is somebody the mixer, are the days complete.

Every check that ran answers, with a fine finding where it holds. Proofs of fields (carriers, power, reach) are theirs.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from typing import Any

from pydantic import BaseModel

from rollsound.finding import AboutPlan, Area, Finding, Weight
from rollsound.show.model import Plan
from rollsound.show.sentences import place_in_words
from rollsound.wrong import pointer

_finding = AboutPlan(Area.SIGNAL)
_MOST_UNKNOWN = 20


def proofs_of(plan: Plan, document: dict[str, Any]) -> list[Finding]:
    """Every proof over the document, each with at least one finding; ``refs`` are ``plan#`` and a JSON Pointer.

    Parameters
    ----------
    document
        what the plan was read from, for the names of places in it
    """
    checks = (
        ("mixer", "The plan names who mixes.", _mixer(plan)),
        ("day date", "Every day has its date.", _dates(plan)),
        ("day site", "Every day names a site that exists.", _sites(plan)),
        ("day twice", "No two days have one date or one number.", _days_twice(plan)),
        ("media day", "All media belong to a day that exists.", _media(plan)),
        ("track twice", "No two tracks have one number.", _tracks(plan)),
        ("unknown field", "Every field of the plan is known to this version.", _unknown(plan, document)),
    )
    result: list[Finding] = []
    for kind, holds, found in checks:
        findings = list(found)
        result += findings or [_finding(Weight.FINE, "the plan", kind, holds)]
    return result


def _mixer(plan: Plan) -> Iterator[Finding]:
    if not any(person.role == "mixer" for person in plan.people):
        yield _finding(
            Weight.WATCH,
            "people",
            "mixer",
            "Nobody in the plan has the role of mixer.",
            why="Reports and the turnover name the mixer, and only a mixer may change the plan from another device.",
            remedy="Give one of the people 'role: mixer'.",
            at=["people"],
        )


def _day_name(number: int | None, day_id: str) -> str:
    return f"Day {number}" if number is not None else f"Day {day_id}"


def _dates(plan: Plan) -> Iterator[Finding]:
    for day in plan.schedule.days:
        if day.date is None:
            name = _day_name(day.number, day.id)
            yield _finding(
                Weight.WATCH,
                name,
                "day date",
                f"{name} has no date.",
                why="Recordings are held against the date of their day.",
                remedy="Write its date, such as 2031-02-18.",
                at=["schedule", "days", day.id],
            )


def _sites(plan: Plan) -> Iterator[Finding]:
    known = {site.id for site in plan.sites}
    for day in plan.schedule.days:
        name = _day_name(day.number, day.id)
        at = ["schedule", "days", day.id]
        if not day.sites:
            yield _finding(
                Weight.WATCH,
                name,
                "day site",
                f"{name} has no site.",
                why="Reach and power are worked out for the place and its temperature.",
                remedy="Write the id of one of the sites.",
                at=at,
            )
        for field, sites in (("site", day.sites[:1] if day.site else ()), ("moves", day.moves)):
            for site in sites:
                if site not in known:
                    yield _finding(
                        Weight.STOP,
                        name,
                        "day site",
                        f"{name} names the site '{site}', which is not in the plan.",
                        why="Nothing can be worked out for a place that is not there.",
                        remedy=f"Add a site with the id '{site}', or correct the name. {_offer(sorted(known))}",
                        at=[*at, field],
                    )


def _days_twice(plan: Plan) -> Iterator[Finding]:
    seen: dict[tuple[str, object], str] = {}
    for day in plan.schedule.days:
        for field, value in (("number", day.number), ("date", day.date)):
            if value is None:
                continue
            first = seen.setdefault((field, value), day.id)
            if first != day.id:
                name = _day_name(day.number, day.id)
                yield _finding(
                    Weight.WATCH,
                    name,
                    "day twice",
                    f"{name} has the {field} {value}, as day '{first}' has.",
                    why="Takes and reports are sorted by day; two that look alike get mixed up.",
                    remedy="Correct one of them.",
                    at=["schedule", "days", day.id, field],
                )


def _media(plan: Plan) -> Iterator[Finding]:
    days = {day.id for day in plan.schedule.days}
    for media in plan.media:
        if media.day not in days:
            said = f"name the day '{media.day}', which is not in the schedule" if media.day else "name no day"
            yield _finding(
                Weight.WATCH,
                f"media {media.id}",
                "media day",
                f"The media '{media.id}' {said}.",
                why="They are shown and handed over under their day.",
                remedy=f"Write the id of a day. {_offer(sorted(days))}",
                at=["media", media.id, *(["day"] if media.day else [])],
                area=Area.MEDIA,
            )


def _tracks(plan: Plan) -> Iterator[Finding]:
    seen: dict[tuple[str, int], str] = {}
    for track in plan.rig.tracks:
        first = seen.setdefault((track.recorder, track.number), track.name)
        if first != track.name:
            yield _finding(
                Weight.STOP,
                track.name,
                "track twice",
                f"{track.name} is on track {track.number}, as {first} is.",
                why="Only one of them would be recorded.",
                remedy="Give one of them a free track.",
                at=["rig", "tracks", track.id, "number"],
            )


def _unknown(plan: Plan, document: dict[str, Any]) -> Iterator[Finding]:
    places = [place for place, _ in unknown_fields(plan)]
    for place in places[:_MOST_UNKNOWN]:
        name = place_in_words(pointer(place), document)
        yield _finding(
            Weight.WATCH,
            name,
            "unknown field",
            f"{name} is not known to this version; it is kept as it is.",
            why="A misspelt name is not looked at; one of a newer version means nothing here.",
            remedy="Correct its name if it is misspelt.",
            at=place,
        )
    if len(places) > _MOST_UNKNOWN:
        yield _finding(
            Weight.WATCH,
            "the plan",
            "unknown field",
            f"{len(places) - _MOST_UNKNOWN} more fields are not known to this version; they are kept as they are.",
        )


def unknown_fields(plan: Plan) -> list[tuple[tuple[str, ...], str]]:
    """Every field that this version does not know: its place by names and ids, and the field that was perhaps meant."""
    return list(_unknown_near(plan, ()))


def _unknown_near(part: BaseModel, at: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    known = [field.alias or name for name, field in type(part).model_fields.items()]
    for name in part.__pydantic_extra__ or {}:
        yield (*at, name), next(iter(difflib.get_close_matches(name, known, 1, 0.7)), "")
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        below = (*at, field.alias or name)
        if isinstance(value, BaseModel):
            yield from _unknown_near(value, below)
        elif isinstance(value, Sequence) and not isinstance(value, str):
            for number, each in enumerate(value):
                if isinstance(each, BaseModel):
                    yield from _unknown_near(each, (*below, str(getattr(each, "id", number))))


def _offer(ids: Sequence[str]) -> str:
    return f"There are: {', '.join(ids[:12])}." if ids else "There are none yet."

"""What a scene's heading says: inside or outside, where, and at what time of day."""

from __future__ import annotations

import re
from dataclasses import dataclass

from rollsound.script.model import Interior

_PREFIX = re.compile(
    r"(?P<both>INT\.?\s*/\s*EXT|EXT\.?\s*/\s*INT|I\s*/\s*E|E\s*/\s*I)(?:[. ]|$)|(?P<int>INT)(?:[. ]|$)"
    r"|(?P<ext>EXT|EST)(?:[. ]|$)",
    re.IGNORECASE,
)
_TIMES = (
    "magic hour", "golden hour", "midnight", "afternoon", "morning", "evening", "twilight", "sunrise", "sunset",
    "night", "dawn", "dusk", "noon", "midday", "day",
)  # fmt: skip
_AS_BEFORE = ("continuous", "moments later", "later", "same time", "same", "cont'd", "contd")
_OMITTED = re.compile(r"(?:scenes?\s+)?omit(?:ted)?\.?", re.IGNORECASE)
_DASH = re.compile(r"\s+[-–—]+\s+|\s*[–—]\s*")


@dataclass(frozen=True)
class Heading:
    """A heading taken apart; ``place`` is what lies between inside or outside and the time."""

    interior: Interior
    place: str
    time: str
    omitted: bool


def read_heading(text: str, time_before: str = "") -> Heading:
    """Take a heading apart. ``CONTINUOUS``, ``LATER`` and ``SAME`` are of the time of the scene before."""
    if _OMITTED.fullmatch(text.strip(" .-")):
        return Heading("", "", "", True)
    found = _PREFIX.match(text.strip())
    interior: Interior = ""
    rest = text.strip()
    if found is not None:
        interior = "both" if found["both"] else "interior" if found["int"] else "exterior"
        rest = rest[found.end() :].lstrip(" .")
    parts = [part.strip() for part in _DASH.split(rest) if part.strip()]
    time, place = "", parts
    for at in range(len(parts) - 1, 0 if len(parts) > 1 else -1, -1):
        told = _time(parts[at], time_before)
        if told:
            time, place = told, parts[:at]
            break
    return Heading(interior, " - ".join(place), time, False)


def _time(text: str, before: str) -> str:
    words = text.casefold()
    told = next((time for time in _TIMES if re.search(rf"\b{time}\b", words)), "")
    if told:
        return told
    if any(re.search(rf"\b{re.escape(word)}", words) for word in _AS_BEFORE):
        return before or "continuous"
    return ""

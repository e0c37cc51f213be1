"""Breakdowns as plain sheets: one row for each scene, with any headings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from rollsound.script.elements import Trouble
from rollsound.script.grid import Field, Row, read_grid
from rollsound.script.model import Interior, plain_number

FIELDS = (
    Field("number", ("scene", "scene number", "scene no", "scene #", "sc", "sc no", "no", "#"), needed=True),
    Field("heading", ("scene heading", "slug", "slugline", "set", "description of set")),
    Field("interior", ("int/ext", "i/e", "ie", "int", "interior/exterior")),
    Field("place", ("location", "set location")),
    Field("time", ("day/night", "d/n", "dn", "time of day", "day or night")),
    Field("eighths", ("8ths", "1/8", "page eighths")),
    Field("pages", ("page count", "length", "pgs", "pp", "page length")),
    Field("page", ("script page", "on page", "pg")),
    Field("synopsis", ("description", "summary", "action", "one line")),
    Field("speaks", ("characters", "cast", "speaking", "character", "who speaks", "dialogue")),
    Field("sings", ("singers", "singing", "who sings")),
    Field("dual", ("at once", "overlap")),
    Field("cues", ("sound", "sound cues", "sound notes", "fx", "playback")),
    Field("songs", ("song", "music")),
    Field("omitted", ("omit",)),
    Field("note", ("notes", "remarks", "comment", "comments")),
)
_INTERIOR: dict[str, Interior] = {
    "int": "interior", "interior": "interior", "i": "interior", "inside": "interior",
    "ext": "exterior", "exterior": "exterior", "e": "exterior", "outside": "exterior", "est": "exterior",
    "int/ext": "both", "i/e": "both", "ext/int": "both", "both": "both", "int./ext": "both",
}  # fmt: skip
_VOICE = re.compile(
    r"(.+?)\s*(?:\(\s*(\d{1,6})\s*(?:words?)?\s*\)|:\s*(\d{1,6})\s*(?:words?)?|\s(\d{1,6})\s*words?)", re.IGNORECASE
)
_PAGES = re.compile(r"(?:(\d{1,3})\s+)?(\d{1,2})\s*/\s*8(?:ths?)?|(\d{1,3}(?:[.,]\d{1,3})?)")
_YES = frozenset({"yes", "y", "x", "1", "true", "omitted", "omit"})
_OMITTED = re.compile(r"\bomitted\b", re.IGNORECASE)


@dataclass(frozen=True)
class SheetVoice:
    """A name as it is written, and the words that stand with it; 0 when none do."""

    name: str
    words: int = 0


@dataclass(frozen=True)
class SheetScene:
    """One row, names and songs as they are written."""

    line: int
    number: str
    heading: str = ""
    interior: Interior = ""
    place: str = ""
    time: str = ""
    eighths: int = 0
    page: int = 0
    synopsis: str = ""
    speaks: tuple[SheetVoice, ...] = ()
    sings: tuple[SheetVoice, ...] = ()
    dual: bool = False
    cues: tuple[str, ...] = ()
    songs: tuple[str, ...] = ()
    omitted: bool = False
    note: str = ""


@dataclass(frozen=True)
class Sheet:
    """A breakdown as it was read."""

    scenes: tuple[SheetScene, ...]
    troubles: tuple[Trouble, ...]
    used: Mapping[str, str]
    unused: tuple[str, ...]


def read_breakdown(text: str, name: str, columns: Mapping[str, str] | None = None) -> Sheet:
    """Read a breakdown. Rows that cannot be used are told with their line and left out; the rest is read.

    Raises
    ------
    InputError
        when it has no column for scene numbers, or the mapping ``columns`` (field to heading) fits nothing
    """
    grid = read_grid(text, name, FIELDS, columns)
    troubles: list[Trouble] = []
    scenes: dict[str, SheetScene] = {}
    for row in grid.rows:
        scene = _scene(row, troubles)
        if scene is None:
            continue
        key = plain_number(scene.number)
        if key in scenes:
            troubles.append(
                Trouble(
                    row.line, f"scene {scene.number} stands in line {scenes[key].line} already; the first one was kept"
                )
            )
            continue
        scenes[key] = scene
    if not scenes:
        troubles.append(Trouble(0, f"{name} has no scenes; write one row for each, with its number"))
    return Sheet(tuple(scenes.values()), tuple(troubles), grid.used, grid.unused)


def _scene(row: Row, troubles: list[Trouble]) -> SheetScene | None:
    number = row.text("number")
    if not plain_number(number):
        troubles.append(Trouble(row.line, "this row has no scene number and was left out; write it in the sheet"))
        return None
    if len(number) > 20 or not any(letter.isdigit() for letter in number):
        troubles.append(Trouble(row.line, f"'{number[:40]}' is no scene number, so this row was left out"))
        return None
    told = row.text("interior").casefold().rstrip(".").replace("./", "/").replace(" ", "")
    if told and told not in _INTERIOR:
        troubles.append(
            Trouble(row.line, f"'{row.text('interior')[:40]}' is neither interior nor exterior; write INT or EXT")
        )
    return SheetScene(
        line=row.line,
        number=number,
        heading=row.text("heading"),
        interior=_INTERIOR.get(told, ""),
        place=row.text("place"),
        time=row.text("time").casefold(),
        eighths=_eighths(row, troubles),
        page=_count(row, "page", troubles),
        synopsis=" ".join(row.text("synopsis").split()),
        speaks=tuple(_voice(each) for each in row.items("speaks")),
        sings=tuple(_voice(each) for each in row.items("sings")),
        dual=row.text("dual").casefold() in _YES,
        cues=row.items("cues"),
        songs=row.items("songs"),
        omitted=row.text("omitted").casefold() in _YES or bool(_OMITTED.fullmatch(row.text("heading").strip(" .-"))),
        note=row.text("note"),
    )


def _voice(text: str) -> SheetVoice:
    """A name, perhaps with its words: ``Runa (42)``, ``Runa: 42``, ``Runa 42 words``; ``Deckhand 2`` is a name."""
    found = _VOICE.fullmatch(text)
    return SheetVoice(found[1].strip(), int(found[2] or found[3] or found[4])) if found else SheetVoice(text)


def _count(row: Row, field: str, troubles: list[Trouble]) -> int:
    text = row.text(field)
    if not text:
        return 0
    if not re.fullmatch(r"\d{1,5}", text):
        troubles.append(Trouble(row.line, f"'{text[:40]}' is no whole number for '{field}'; it was left out"))
        return 0
    return int(text)


def _eighths(row: Row, troubles: list[Trouble]) -> int:
    """From a column of eighths, or from pages as ``2 3/8``, ``5/8``, ``1.5``."""
    if row.text("eighths"):
        found = _PAGES.fullmatch(row.text("eighths"))
        if found is None or found[2]:
            return _pages(row.text("eighths"), row.line, troubles)
        return _count(row, "eighths", troubles)
    return _pages(row.text("pages"), row.line, troubles)


def _pages(text: str, line: int, troubles: list[Trouble]) -> int:
    if not text:
        return 0
    found = _PAGES.fullmatch(text.strip())
    if found is None:
        troubles.append(Trouble(line, f"'{text[:40]}' is no length in pages; write it as 2 3/8"))
        return 0
    if found[2]:
        return 8 * int(found[1] or 0) + int(found[2])
    return max(1, round(8 * Fraction(found[3].replace(",", "."))))

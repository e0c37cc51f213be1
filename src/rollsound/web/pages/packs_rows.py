"""The pack plan as lanes: a day's packs and booms beside its scenes, and every character's packs day by day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rollsound.actions.packs_model import PackDayRow, PacksResult, RerigRow
from rollsound.web.words import w


@dataclass(frozen=True)
class Head:
    """A scene of a day, and what lies before it."""

    scene: str
    before: str
    sung: bool


@dataclass
class Cell:
    """Who is on a lane in a scene, and how he or she came there."""

    who: list[str] = field(default_factory=list)
    rerig: str = ""
    told: str = ""
    hurried: bool = False


@dataclass(frozen=True)
class Lane:
    """A pack, a boom or nobody, scene by scene."""

    name: str
    track: str
    cells: tuple[Cell, ...]
    bare: bool = False
    """Whether these are not covered."""


@dataclass(frozen=True)
class DayLanes:
    """One day."""

    id: str
    name: str
    heads: tuple[Head, ...]
    lanes: tuple[Lane, ...]
    rerigs: tuple[RerigRow, ...]
    free: int


@dataclass(frozen=True)
class Through:
    """A character through the show: what he or she has on each day, and whether that is new."""

    name: str
    days: tuple[tuple[str, bool], ...]
    packs: int


def day_lanes(day: PackDayRow) -> DayLanes:
    """A day's lanes: packs by track, then booms, then whom nothing covers."""
    number = len(day.scenes)
    packs: dict[tuple[int, str], list[Cell]] = {}
    booms: dict[tuple[int, str], list[Cell]] = {}
    nobody = [Cell() for _ in range(number)]
    ids: dict[tuple[int, str], str] = {}
    for n, row in enumerate(day.scenes):
        for cover in row.covers:
            for id, name, track in zip(cover.packs, cover.pack_names, cover.tracks, strict=True):
                ids[track, name] = id
                _lane(packs, (track, name), number)[n].who.append(cover.name)
            if cover.boom:
                _lane(booms, (cover.boom_track, cover.boom_name), number)[n].who.append(cover.name)
            elif not cover.packs:
                nobody[n].who.append(cover.name)
    at = {row.scene: n for n, row in reversed(list(enumerate(day.scenes)))}
    for key, cells in packs.items():
        for rerig in day.rerigs:
            if rerig.pack == ids[key]:
                _mark(cells, at.get(rerig.scene, 0), rerig)
    lanes = [
        *(
            Lane(name, w("packs.track", number=track) if track else "", tuple(packs[track, name]))
            for track, name in sorted(packs)
        ),
        *(
            Lane(name or w("packs.a_boom"), w("packs.track", number=track) if track else "", tuple(booms[track, name]))
            for track, name in sorted(booms)
        ),
    ]
    if any(cell.who for cell in nobody):
        lanes.append(Lane(w("packs.nobody"), "", tuple(nobody), bare=True))
    heads = tuple(Head(row.scene, _before(row.gap, row.gap_name), row.sung) for row in day.scenes)
    return DayLanes(day.id, day.name[:1].upper() + day.name[1:], heads, tuple(lanes), day.rerigs, day.packs - day.worn)


def _lane(lanes: dict[tuple[int, str], list[Cell]], key: tuple[int, str], number: int) -> list[Cell]:
    return lanes.setdefault(key, [Cell() for _ in range(number)])


def _mark(cells: Sequence[Cell], first: int, rerig: RerigRow) -> None:
    """The first scene, from where it is done, in which the pack is on whom it goes to."""
    for cell in cells[first:]:
        if rerig.to in cell.who and not cell.rerig:
            cell.rerig = w(f"packs.rerig_{rerig.when}", scene=rerig.scene)
            cell.told, cell.hurried = rerig.sentence, rerig.when == "between"
            return


def _before(gap: str, name: str) -> str:
    if gap in ("break", "move"):
        return name or w(f"packs.gap_{gap}")
    return ""


def through(result: PacksResult) -> list[Through]:
    """Every character's packs day by day, those with most of them first."""
    names: dict[str, str] = {}
    worn: dict[str, dict[str, list[str]]] = {}
    for day in result.days:
        for row in day.scenes:
            for cover in row.covers:
                names[cover.character] = cover.name
                mine = worn.setdefault(cover.character, {}).setdefault(day.id, [])
                told = cover.pack_names or (
                    (cover.boom_name or w("packs.a_boom"),) if cover.boom else (w("packs.nobody"),)
                )
                mine += [each for each in told if each not in mine]
    packs = {
        who: {
            pack
            for day in result.days
            for row in day.scenes
            for c in row.covers
            if c.character == who
            for pack in c.packs
        }
        for who in worn
    }
    found = []
    for who, days in worn.items():
        cells: list[tuple[str, bool]] = []
        last: list[str] = []
        for day in result.days:
            mine = days.get(day.id, [])
            cells.append((", ".join(mine), bool(mine and last and set(mine) != set(last))))
            last = mine or last
        found.append(Through(names[who], tuple(cells), len(packs[who])))
    return sorted(found, key=lambda each: (-each.packs, each.name.casefold()))

"""The track sheet for post: who is on which track of the recorder, day by day and scene by scene, as PDF or CSV."""

from __future__ import annotations

import csv as csv_module
import io
from pathlib import Path
from typing import Any

from rollsound.actions.packs import PacksAnswer
from rollsound.actions.packs_model import CoverRow, PackDayRow, PacksResult
from rollsound.errors import InputError
from rollsound.quantities import count
from rollsound.whole import write_whole

COLUMNS = ("day", "date", "scene", "track", "name", "pack or boom", "kind", "words", "sings", "re-rig before")


def refuse_target(path: Path | None) -> None:
    """Refuse a file whose kind cannot be written, before any work is done.

    Raises
    ------
    InputError
        when its name ends otherwise
    """
    if path is not None and path.suffix.lower() not in (".pdf", ".csv"):
        raise InputError(f"the track sheet is written as .pdf or .csv, not as {path.name}; choose one of them")


def write_track_sheet(answer: PacksAnswer, path: Path) -> PacksResult:
    """Write the sheet; answers with what was written.

    Raises
    ------
    InputError
        when its name ends otherwise
    StorageError
        when the disk fails
    """
    refuse_target(path)
    is_csv = path.suffix.lower() == ".csv"
    write_whole(path, track_sheet_csv(answer) if is_csv else track_sheet_pdf(answer))
    return answer.result.model_copy(update={"files": (*answer.result.files, str(path))})


def track_sheet_csv(answer: PacksAnswer) -> str:
    """One line a voice in a scene, in the order of the schedule; whom nothing covers has no track."""
    dates = {day.id: day.date for day in answer.read.plan.schedule.days}
    sheet = io.StringIO()
    writer = csv_module.writer(sheet, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for day in answer.result.days:
        date = dates.get(day.id)
        for row in day.scenes:
            changed = {each.to for each in day.rerigs if each.scene == row.scene}
            for cover in sorted(row.covers, key=_order):
                for track, pack in _tracks(cover):
                    writer.writerow(
                        [
                            _text(day.name),
                            date.isoformat() if date else "",
                            _text(row.scene),
                            track or "",
                            _text(cover.name),
                            _text(pack),
                            "pack" if cover.packs else "boom" if cover.boom else "not covered",
                            cover.words,
                            "yes" if cover.sings else "",
                            "yes" if cover.name in changed and cover.packs else "",
                        ]
                    )
    return "\ufeff" + sheet.getvalue()  # the mark by which spreadsheets know UTF-8


def _tracks(cover: CoverRow) -> list[tuple[int, str]]:
    return list(zip(cover.tracks, cover.pack_names, strict=True)) or [(cover.boom_track, cover.boom_name)]


def _order(cover: CoverRow) -> tuple[bool, int, str]:
    return not cover.packs, min(cover.tracks, default=0), cover.name


def _text(value: str) -> str:
    """What a spreadsheet would take for a formula gets a quote before it."""
    return f"'{value}" if value[:1] in "=+-@\t\r" and value else value


def track_sheet_pdf(answer: PacksAnswer) -> bytes:
    """The sheet typeset. The same plan gives the same bytes."""
    from rollsound.report.typesetting import typeset

    return typeset("packs_tracks", track_sheet_data(answer))


def track_sheet_data(answer: PacksAnswer) -> dict[str, Any]:
    """What the sheet's template prints, already in words: a table a day, tracks down and scenes across."""
    result = answer.result
    scenes = sum(len(day.scenes) for day in result.days)
    number = sum(len(day.rerigs) for day in result.days)
    bare = result.uncovered
    covered = "Everybody is covered." if not bare else f"{count(bare, 'voice')} in a scene not covered."
    dates = {day.id: day.date for day in answer.read.plan.schedule.days}
    return {
        "title": f"Track sheet, {result.name}",
        "foot": f"{result.name} · Track sheet",
        "strip": [result.name, "Track sheet"],
        "verdict": covered,
        "lede": f"{count(scenes, 'scene')} on {count(len(result.days), 'day')}, {count(number, 're-rig')} in the "
        "course of a day. A name stands on every track where its pack is worn; an arrow says that the pack was put on "
        "in the course of the day.",
        "days": [_typeset_day(day, dates.get(day.id)) for day in result.days],
        "cautions": list(result.cautions),
    }


def _typeset_day(day: PackDayRow, date: Any) -> dict[str, Any]:
    packs: dict[tuple[int, str], dict[int, str]] = {}
    booms: dict[tuple[int, str], dict[int, str]] = {}
    nobody = []
    for n, row in enumerate(day.scenes):
        changed = {(each.to, each.pack_name) for each in day.rerigs if each.scene == row.scene}
        for cover in row.covers:
            for track, pack in zip(cover.tracks, cover.pack_names, strict=True):
                arrow = "→ " if (cover.name, pack) in changed else ""
                packs.setdefault((track, pack), {})[n] = f"{arrow}{cover.name}{' (sings)' if cover.sings else ''}"
            if cover.boom:
                on = booms.setdefault((cover.boom_track, cover.boom_name or "Boom"), {})
                name = f"{cover.name}{' (sings)' if cover.sings else ''}"
                on[n] = ", ".join(each for each in (on.get(n, ""), name) if each)
        nobody.append(", ".join(cover.name for cover in row.covers if cover.told == "nobody"))
    rows = [
        [str(track or "–"), name, *(there.get(n, "") for n in range(len(day.scenes)))]
        for kind in (booms, packs)
        for (track, name), there in sorted(kind.items())
    ]
    if any(nobody):
        rows.append(["", "Not covered", *nobody])
    return {
        "name": day.name[:1].upper() + day.name[1:],
        "date": date.isoformat() if date else "",
        "scenes": [row.scene for row in day.scenes],
        "rows": rows,
        "bare": bool(any(nobody)),
        "rerigs": [each.sentence for each in day.rerigs],
    }

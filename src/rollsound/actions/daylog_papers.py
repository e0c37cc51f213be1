"""The log of a day on paper and for other programs: CSV of takes or of all lines, JSON of everything, PDF."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rollsound.actions.daylog import list_of, plan_of, planned_day
from rollsound.actions.daylog_model import LogExported, LogLineRow, LogListed
from rollsound.errors import InputError
from rollsound.finding import Finding, Weight
from rollsound.log.entries import TakeEntry, kept_entry
from rollsound.quantities import count
from rollsound.show.folder import Show
from rollsound.whole import write_whole

KINDS_OF_FILE = (".csv", ".json", ".pdf")
TAKE_COLUMNS = (
    "file", "scene", "slate", "take", "sound_roll", "circled", "kind", "timecode_in", "timecode_out", "note",
    "track_notes", "files", "day", "time", "id",
)  # fmt: skip
"""Those that a takes sheet has keep their names, so that what is written here is read as one."""
LINE_COLUMNS = ("day", "time", "kind", "words", "note", "person", "device", "id")


def export(folder: Path, out: Path, *, day: str = "", all_lines: bool = False) -> LogExported:
    """Write the log to a file whose ending says how: .csv, .json or .pdf.

    Parameters
    ----------
    all_lines
        CSV of every line, not of the takes alone

    Raises
    ------
    InputError
        when the ending is another, or there is nothing to write
    StorageError
        when the disk fails
    """
    ending = out.suffix.lower()
    if ending not in KINDS_OF_FILE:
        raise InputError(f"a log is written as .csv, .json or .pdf, not as {out.name}; choose one of them")
    with Show.open(folder, read_only=True) as show:
        result = list_of(show, day=day)
        if not result.lines:
            named = f"of {day} " if day else ""
            raise InputError(f"the log {named}in {folder} has no lines; there is nothing to write")
        data = exported(show, result, ending, all_lines=all_lines)
    write_whole(out, data)
    takes = sum(row.kind == "take" for row in result.lines)
    return LogExported(folder=str(folder), day=day, out=str(out), takes=takes, lines=len(result.lines))


def exported(show: Show, result: LogListed, ending: str, *, all_lines: bool = False) -> str | bytes:
    """What a file with this ending holds."""
    if ending == ".json":
        return result.model_dump_json(indent=2) + "\n"
    if ending == ".csv":
        return lines_csv(result) if all_lines else takes_csv(result)
    return day_pdf(show, result)


def takes_csv(result: LogListed) -> str:
    """The takes, a row each, in the columns of a takes sheet and some more."""
    sheet, writer = _sheet()
    writer.writerow(TAKE_COLUMNS)
    for row, take in takes_of(result):
        cells: dict[str, Any] = {
            "file": take.files[0] if take.files else "",
            "circled": "yes" if take.circled else "",
            "track_notes": "; ".join(f"{track}: {text}" for track, text in take.track_notes.items()),
            "files": ", ".join(take.files),
            "day": row.day,
            "time": row.local,
            "id": row.id,
        }
        writer.writerow([_cell(str(cells.get(name, getattr(take, name, "")))) for name in TAKE_COLUMNS])
    return sheet.getvalue()


def lines_csv(result: LogListed) -> str:
    """Every line, a row each."""
    sheet, writer = _sheet()
    writer.writerow(LINE_COLUMNS)
    for row in result.lines:
        note = row.fields.get("note", row.fields.get("text", ""))
        cells = (row.day, row.local, row.kind, row.words, note, row.person, row.device, row.id)
        writer.writerow([_cell(str(each)) for each in cells])
    return sheet.getvalue()


def day_pdf(show: Show, result: LogListed) -> bytes:
    """The day typeset. The same log gives the same bytes."""
    from rollsound.report.typesetting import typeset

    return typeset("day_log", pdf_data(show, result))


def pdf_data(show: Show, result: LogListed) -> dict[str, Any]:
    """What the template of the day prints, already in words."""
    plan = plan_of(show)
    planned = planned_day(plan, result.day)
    takes = takes_of(result)
    circled = sum(take.circled for _, take in takes)
    named = f"Day {planned.number}" if planned is not None and planned.number is not None else result.day
    date = planned.date.isoformat() if planned is not None and planned.date is not None else ""
    verdict = f"{count(len(takes), 'take')}, {circled} circled."
    flaws = [_flaw(each) for each in result.findings if each.weight is not Weight.FINE]
    others = [row for row in result.lines if row.kind != "take"]
    return {
        "title": f"Log of {named or 'every day'}, {result.title}",
        "foot": f"{result.title} · Log of {named or 'every day'}",
        "strip": [result.title, "Log of the day", named],
        "clock": date,
        "verdict": verdict,
        "lede": _lede(flaws, others),
        "takes": [_take_cells(row, take) for row, take in takes],
        "others": [[row.local, row.words, _note(row), row.person] for row in others],
        "flaws": flaws,
    }


def takes_of(result: LogListed) -> list[tuple[LogLineRow, TakeEntry]]:
    """The takes among the lines."""
    found = []
    for row in result.lines:
        entry = kept_entry(row.kind, row.fields)
        if isinstance(entry, TakeEntry):
            found.append((row, entry))
    return found


def _lede(flaws: Sequence[Any], others: Sequence[LogLineRow]) -> str:
    told = [f"{count(len(others), 'further line')}: packs, batteries, changeovers, jams and notes." if others else ""]
    told += [f"{count(len(flaws), 'thing')} to look at." if flaws else ""]
    return " ".join(each for each in told if each)


def _take_cells(row: LogLineRow, take: TakeEntry) -> dict[str, Any]:
    notes = [take.note, *(f"Track {track}: {text}" for track, text in take.track_notes.items())]
    return {
        "time": row.local,
        "roll": take.sound_roll,
        "scene": take.scene,
        "slate": take.slate,
        "take": take.take,
        "circled": take.circled,
        "kind": "" if take.kind == "take" else take.kind,
        "in": take.timecode_in,
        "out": take.timecode_out,
        "files": ", ".join(take.files),
        "note": " ".join(_ended(each) for each in notes if each),
    }


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _note(row: LogLineRow) -> str:
    if row.kind in ("note", "promise"):
        return str(row.fields.get("text", ""))
    return str(row.fields.get("note", ""))


def _flaw(finding: Finding) -> dict[str, str]:
    return {
        "weight": finding.weight.value,
        "what": finding.what,
        "why": finding.why,
        "remedy": finding.remedy,
        "where": "",
    }


def _sheet() -> tuple[io.StringIO, Any]:
    # the mark by which spreadsheets know UTF-8
    sheet = io.StringIO("\ufeff", newline="")
    sheet.seek(0, io.SEEK_END)
    return sheet, csv.writer(sheet, lineterminator="\r\n")


def _cell(words: str) -> str:
    """Words that a spreadsheet does not take for a formula."""
    return f"'{words}" if words[:1] in ("=", "+", "-", "@") else words

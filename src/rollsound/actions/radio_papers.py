"""The carrier plan for the whole crew: as CSV for devices and other programs, and typeset as PDF."""

from __future__ import annotations

import csv as csv_module
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rollsound.actions.radio_model import CarrierRow, PlanResult
from rollsound.actions.radio_read import Asked
from rollsound.errors import InputError, storage
from rollsound.finding import Weight
from rollsound.quantities import count
from rollsound.whole import write_whole

MOST_SPARES = 8
COLUMNS = (
    "transmitter",
    "id",
    "use",
    "for",
    "MHz",
    "margin kHz",
    "set by",
    "power mW",
    "heard by",
    "sites",
    "zone",
    "spare MHz",
    "note",
)
_MOST_FINDINGS = 12


def write_papers(asked: Asked, result: PlanResult, *, csv: Path | None = None, pdf: Path | None = None) -> PlanResult:
    """Write the plan where it is wanted; answers with what was written.

    Raises
    ------
    StorageError
        when the disk fails
    """
    written = []
    if csv is not None:
        write_whole(csv, plan_csv(result))
        written.append(str(csv))
    if pdf is not None:
        write_whole(pdf, plan_pdf(asked, result))
        written.append(str(pdf))
    return result.model_copy(update={"files": (*result.files, *written)}) if written else result


def refuse_targets(*targets: Path | None) -> None:
    """Raise InputError for a file that could not be written, before any work is done for it."""
    for target in targets:
        if target is None:
            continue
        with storage(target):
            if target.is_dir():
                raise InputError(f"{target} is a folder; name a file in it")
            if not target.absolute().parent.is_dir():
                raise InputError(f"{target.parent} is not there; make that folder first, or name another")


def plan_csv(result: PlanResult) -> str:
    """One line a transmitter, in the order of the plan, and the cautions at the end, behind a '#'."""
    sheet = io.StringIO()
    writer = csv_module.writer(sheet, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    why = {each.id: each.why for each in result.unplaced}
    for row in result.carriers:
        writer.writerow(
            [
                _text(row.name),
                row.id,
                row.use,
                _text(row.wearer),
                figure(row.mhz),
                "" if row.margin_khz is None else f"{row.margin_khz:g}",
                _text(row.set_by),
                "" if row.power_mw is None else f"{row.power_mw:g}",
                _text(", ".join(row.heard_by)),
                _text(", ".join(row.sites)),
                _text(row.zone),
                " ".join(figure(each) for each in row.spares_mhz),
                _text(_note(row) or why.get(row.id, "")),
            ]
        )
    for caution in result.cautions:
        writer.writerow([f"# {caution}"])
    return "\ufeff" + sheet.getvalue()  # the mark by which spreadsheets know UTF-8


def plan_pdf(asked: Asked, result: PlanResult) -> bytes:
    """The plan typeset. The same plan gives the same bytes."""
    from rollsound.report.typesetting import typeset

    return typeset("carrier_plan", page_data(asked, result))


def page_data(asked: Asked, result: PlanResult) -> dict[str, Any]:
    """What the template prints, already in words."""
    placed = len(result.assignments)
    told = [each for each in result.findings if each.weight is not Weight.FINE and each.kind != "carrier chosen"]
    told.sort(key=lambda each: list(Weight).index(each.weight))
    picture, alt = _picture(asked, result.carriers)
    head = f"Carrier plan, {result.name}"
    return {
        "title": head,
        "foot": head.replace(", ", " · ", 1),
        "strip": [result.name, "Carrier plan", ", ".join(asked.site_names.get(site, site) for site in asked.sites)],
        "clock": "" if asked.revision is None else f"revision {asked.revision}",
        "verdict": _verdict(result, placed),
        "lede": "Set each device to the frequency in its line, no other. A device that is not listed here stays off: "
        "switched on anywhere, it harms what is planned.",
        "facts": _facts(result, placed),
        "rows": [_row(row) for row in result.carriers],
        "unplaced": [
            {
                "weight": "stop",
                "what": f"{each.name or each.id} has no frequency.",
                "why": _begun(each.why),
                "remedy": _begun("; or ".join(relaxation.what for relaxation in each.relaxations[:2])),
                "where": "",
            }
            for each in result.unplaced
        ],
        "findings": [
            {"weight": each.weight.value, "what": each.what, "why": each.why, "remedy": each.remedy, "where": ""}
            for each in told[:_MOST_FINDINGS]
        ],
        "receivers": _receivers(asked, result.carriers),
        "picture": picture,
        "alt": alt,
        "notes": list(result.notes),
        "cautions": list(result.cautions),
    }


def _verdict(result: PlanResult, placed: int) -> str:
    total = len(result.carriers)
    if placed == total:
        head = f"{count(total, 'transmitter')}, every one with its frequency."
    else:
        off = total - placed
        head = (
            f"{placed} of {count(total, 'transmitter')} have a frequency; {off} {'stays' if off == 1 else 'stay'} off."
        )
    return head


def _facts(result: PlanResult, placed: int) -> list[dict[str, str]]:
    least = "none" if result.margin_khz is None else f"{result.margin_khz:g} kHz"
    spares = sum(len(row.mhz) for row in result.spares)
    return [
        {"name": "Frequencies", "value": f"{placed} of {len(result.carriers)}", "note": ""},
        {"name": "Least margin", "value": least, "note": "over what is asked"},
        {"name": "Spare frequencies", "value": str(spares), "note": "clear of all the rest"},
        {"name": "Moved", "value": str(len(result.moved)), "note": "from what they had"},
    ]


def _row(row: CarrierRow) -> dict[str, Any]:
    return {
        "name": row.name,
        "note": _note(row),
        "wearer": row.wearer,
        "mhz": figure(row.mhz),
        "margin": "" if row.margin_khz is None else f"{row.margin_khz:g}".replace("-", "−"),
        "broken": row.margin_khz is not None and row.margin_khz < 0,
        "set_by": row.set_by,
        "spares": [figure(each) for each in row.spares_mhz],
        "heard_by": ", ".join(row.heard_by),
        "power": "" if row.power_mw is None else f"{row.power_mw:g} mW",
    }


def _note(row: CarrierRow) -> str:
    words = [", ".join(row.sites), "fixed" if row.fixed else ""]
    if row.was_mhz is not None:
        words.append(f"was {figure(row.was_mhz)}")
    return "; ".join(word for word in words if word)


def _receivers(asked: Asked, rows: Sequence[CarrierRow]) -> list[dict[str, Any]]:
    by_id = {row.id: row for row in rows}
    return [
        {
            "name": receiver.name,
            "tuning": str(receiver.tuning_hz) if receiver.tuning_hz is not None else "",
            "channels": [
                {"name": by_id[id].wearer or by_id[id].name, "mhz": figure(by_id[id].mhz) or "none"}
                for id in receiver.hears
                if id in by_id
            ],
        }
        for receiver in asked.radio.receivers
    ]


def _picture(asked: Asked, rows: Sequence[CarrierRow]) -> tuple[str, str]:
    if not any(row.mhz is not None for row in rows):
        return "", ""
    from rollsound.actions.charts_apart import DRAUGHTSMAN
    from rollsound.actions.radio_pictures import spectrum_chart

    chart = spectrum_chart(asked, rows)
    return DRAUGHTSMAN.draw(chart, "svg", "print").decode(), chart.alt


def _begun(words: str) -> str:
    """A sentence: with a capital and an end."""
    return f"{words[:1].upper()}{words[1:].removesuffix('.')}." if words else ""


def figure(mhz: float | None) -> str:
    """A frequency in MHz with three decimals, or as many as it needs."""
    if mhz is None:
        return ""
    text = f"{mhz:.6f}"
    return text[:-3] if text.endswith("000") else text.rstrip("0")


def _text(words: str) -> str:
    """Words that a spreadsheet does not take for a formula."""
    return f"'{words}" if words[:1] in ("=", "+", "-", "@") else words

"""The kit on paper: the list for customs as PDF or CSV, and labels that bring a lost piece home."""

from __future__ import annotations

import csv as csv_module
import io
from pathlib import Path
from typing import Any

from rollsound.actions.kit_model import CustomsList, CustomsRow, KitResult
from rollsound.actions.plan_read import PlanRead
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.kit import carnet
from rollsound.kit.model import KitItem
from rollsound.quantities import count
from rollsound.whole import write_whole

MOST_LABELS = 3000


def check_places(carnet_file: Path | None, labels_file: Path | None) -> None:
    """Refuse a file whose kind cannot be written, before any work is done.

    Raises
    ------
    InputError
        when a name ends otherwise, or both are one file
    """
    if carnet_file is not None and carnet_file.suffix.lower() not in (".pdf", ".csv"):
        raise InputError(f"the customs' list is written as .pdf or .csv, not as {carnet_file.name}; choose one of them")
    if labels_file is not None and labels_file.suffix.lower() != ".pdf":
        raise InputError(f"labels are written as .pdf, not as {labels_file.name}; choose another name")
    if carnet_file is not None and carnet_file == labels_file:
        raise InputError(f"list and labels cannot both be {carnet_file.name}; give each a name of its own")


def write_papers(
    read: PlanRead, result: KitResult, *, carnet_file: Path | None = None, labels_file: Path | None = None
) -> KitResult:
    """Write what is wanted; answers with what was written.

    Raises
    ------
    InputError
        when there is nothing to write
    StorageError
        when the disk fails
    """
    check_places(carnet_file, labels_file)
    written = []
    drawn = 0
    if carnet_file is not None:
        if result.customs is None or not result.customs.lines:
            raise InputError(f"{read.path} has nothing that customs list; every item is used up or counts 0")
        is_csv = carnet_file.suffix.lower() == ".csv"
        write_whole(carnet_file, carnet_csv(result) if is_csv else carnet_pdf(result))
        written.append(str(carnet_file))
    if labels_file is not None:
        labels = label_rows(read)
        write_whole(labels_file, labels_pdf(read, labels))
        written.append(str(labels_file))
        drawn = len(labels)
    return result.model_copy(update={"files": tuple(written), "labels": drawn})


def carnet_csv(result: KitResult) -> str:
    """The list, one line a row, and its sums; a draft says behind a '#' what would be refused."""
    customs = _customs(result)
    sheet = io.StringIO()
    writer = csv_module.writer(sheet, lineterminator="\r\n")
    writer.writerow(carnet.columns())
    for line in customs.lines:
        writer.writerow([_text(cell) for cell in _cells(line, customs.currency)])
    writer.writerow(
        ["", "Total", str(customs.pieces), f"{customs.mass_kg:.3f} kg", _money(customs.value, customs.currency), "", ""]
    )
    refused = [flaw for flaw in _flaws(result) if flaw["weight"] == Weight.STOP.value]
    for flaw in refused:
        writer.writerow([f"# A draft: {flaw['what']} {flaw['remedy']}"])
    return "\ufeff" + sheet.getvalue()  # the mark by which spreadsheets know UTF-8


def carnet_pdf(result: KitResult) -> bytes:
    """The list typeset. The same kit gives the same bytes."""
    from rollsound.report.typesetting import typeset

    return typeset("kit_carnet", carnet_data(result))


def carnet_data(result: KitResult) -> dict[str, Any]:
    """What the list's template prints, already in words."""
    customs = _customs(result)
    flaws = _flaws(result)
    stops = sum(flaw["weight"] == Weight.STOP.value for flaw in flaws)
    verdict = f"{count(len(customs.lines), 'line')}, {count(customs.pieces, 'piece')}."
    if stops:
        verdict = f"A draft: {count(stops, 'thing')} would be refused."
    return {
        "title": f"General list, {result.name}",
        "foot": f"{result.name} · General list of a carnet",
        "strip": [result.name, "General list"],
        "clock": "" if result.travel_date is None else result.travel_date.isoformat(),
        "verdict": verdict,
        "lede": "All that is listed returns unchanged. What is used up on the journey is not listed. Value: what each "
        "costs in a shop, or to replace.",
        "columns": list(carnet.columns()),
        "rows": [_typeset(line) for line in customs.lines],
        "total": ["", "Total", f"{customs.pieces:,}", f"{customs.mass_kg:,.3f}", f"{customs.value:,.2f}"],
        "currency": customs.currency,
        "flaws": flaws,
        "notes": [*carnet.notes(), f"Source: {carnet.list_source()}."],
    }


def label_rows(read: PlanRead) -> list[dict[str, str]]:
    """A label for each piece that is not used up, in the kit's order.

    Raises
    ------
    InputError
        when there are none, or far too many
    """
    items = [item for item in read.plan.kit.items if item.count and not item.consumable]
    if not items:
        raise InputError(f"{read.path} has nothing to label; write items under 'kit'")
    number = sum(item.count for item in items)
    if number > MOST_LABELS:
        raise InputError(f"{read.path} would want {number:,} labels; {MOST_LABELS:,} are the most at a time")
    return [_label(read, item, at) for item in items for at in range(item.count)]


def labels_pdf(read: PlanRead, labels: list[dict[str, str]]) -> bytes:
    """Labels of 24 to a page, to print and cut. The same kit gives the same bytes."""
    from rollsound.report.typesetting import typeset

    return typeset("kit_labels", {"title": f"Labels, {read.name}", "labels": labels})


def _label(read: PlanRead, item: KitItem, at: int) -> dict[str, str]:
    show = read.plan.show
    owner = ", ".join(part for part in (show.title, show.production) if part)
    piece = f"{at + 1} of {item.count}" if item.count > 1 else ""
    serial = item.serials[at] if at < len(item.serials) and len(item.serials) == item.count else ""
    serial = "" if carnet.is_no_serial(serial) else serial
    lines = [owner, item.name, f"{item.id} {piece}".strip(), f"S/N {serial}" if serial else ""]
    return {
        "name": item.name,
        "id": item.id,
        "piece": piece,
        "serial": serial,
        "owner": owner,
        "code": _code("\n".join(each for each in lines if each)),
    }


def _code(words: str) -> str:
    """A picture that a camera reads the words from, without any other program."""
    import segno

    drawn = io.BytesIO()
    made = segno.make(words[:600], error="m", micro=False)
    made.save(drawn, kind="svg", border=2, dark="#000", light="#fff", xmldecl=False)
    return drawn.getvalue().decode("utf-8")


def _cells(line: CustomsRow, currency: str) -> list[str]:
    return [
        str(line.number),
        line.description,
        str(line.pieces),
        "" if line.mass_kg is None else _mass(line.mass_kg),
        "" if line.value is None else _money(line.value, currency),
        line.origin,
        "",
    ]


def _typeset(line: CustomsRow) -> list[str]:
    """The cells on paper, where units stand in the head."""
    return [
        str(line.number),
        line.description,
        f"{line.pieces:,}",
        "" if line.mass_kg is None else f"{line.mass_kg:,.3f}",
        "" if line.value is None else f"{line.value:,.2f}",
        line.origin,
    ]


def _mass(mass_kg: float) -> str:
    return f"{mass_kg:.3f} kg"


def _money(value: float, currency: str) -> str:
    return f"{value:.2f} {currency}".strip()


def _flaws(result: KitResult) -> list[dict[str, str]]:
    found = [each for each in result.findings if each.kind == "customs list" and each.weight is not Weight.FINE]
    found.sort(key=lambda each: list(Weight).index(each.weight))
    return [
        {"weight": each.weight.value, "what": each.what, "why": each.why, "remedy": each.remedy, "where": ""}
        for each in found
    ]


def _customs(result: KitResult) -> CustomsList:
    if result.customs is None:
        raise InputError(f"{result.path} has no list for customs")
    return result.customs


def _text(words: str) -> str:
    """Words that a spreadsheet does not take for a formula."""
    return f"'{words}" if words[:1] in ("=", "+", "-", "@") else words

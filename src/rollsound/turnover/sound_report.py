"""The sound report of a day: one line a take for people (PDF) and for programs (CSV)."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from rollsound.finding import Finding, Weight
from rollsound.report import typeset
from rollsound.turnover.model import DayMaterial, Rebuilt, Take

COLUMNS = (
    "sound_roll",
    "scene",
    "slate",
    "take",
    "kind",
    "circled",
    "timecode_in",
    "timecode_out",
    "length",
    "length_samples",
    "sample_rate_hz",
    "sample_format",
    "frame_rate",
    "files",
    "tracks",
    "from_cards",
    "note",
    "findings",
)
FINDING_COLUMNS = (
    "weight",
    "sound_roll",
    "scene",
    "slate",
    "take",
    "subject",
    "kind",
    "what",
    "why",
    "remedy",
    "source",
)
# So many findings open the report; the rest stand in the lines of their takes and in the findings sheet.
FIRST_FINDINGS = 8
FINDINGS_A_TAKE = 3
_HEAVIEST_FIRST = {Weight.STOP: 0, Weight.WATCH: 1, Weight.FINE: 2}
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")

Names = Mapping[Path, str]


def report_csv(material: DayMaterial, names: Names) -> bytes:
    """One line a take, in order; UTF-8 with a mark, which spreadsheets need to show every letter.

    ``names`` maps a file to its path in the turnover; a file that is not in it stands under its own name.
    """
    rows = [
        (
            take.sound_roll,
            take.scene,
            take.slate,
            take.take,
            take.kind,
            "yes" if take.circled else "no",
            take.timecode_in,
            take.timecode_out,
            length_text(take),
            take.frames,
            take.sample_rate_hz,
            take.sample_format,
            take.frame_rate,
            "; ".join(_name(path, names) for path in take.files),
            "; ".join(f"{track.index} {track.name}" for track in take.tracks),
            "; ".join(_rebuilt_text(item, names) for item in take.rebuilt),
            take.note,
            "; ".join(f"{finding.weight}: {finding.what}" for finding in _telling(take.findings)),
        )
        for take in in_order(material.takes)
    ]
    return _csv(COLUMNS, rows)


def findings_csv(material: DayMaterial) -> bytes:
    """Every finding of the day and of every take, heaviest first."""
    rows: list[tuple[object, ...]] = []
    for finding, take in _all_findings(material):
        place = (take.sound_roll, take.scene, take.slate, take.take) if take else ("", "", "", "")
        told = (finding.subject, finding.kind, finding.what, finding.why, finding.remedy, finding.source)
        rows.append((finding.weight.value, *place, *told))
    return _csv(FINDING_COLUMNS, rows)


def report_pdf(material: DayMaterial, names: Names) -> bytes:
    """The typeset sound report. The same material gives the same bytes."""
    return typeset("sound_report", page_data(material, names))


def in_order(takes: Sequence[Take]) -> list[Take]:
    """By sound roll and then by time code, as they were recorded."""
    return sorted(takes, key=lambda take: (take.sound_roll, take.timecode_in, [path.name for path in take.files]))


def length_text(take: Take) -> str:
    """Hours, minutes and seconds, rounded to the second."""
    seconds = round(take.seconds)
    return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def _csv(columns: Sequence[str], rows: Sequence[Sequence[object]]) -> bytes:
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow(columns)
    writer.writerows(rows)
    return b"\xef\xbb\xbf" + sheet.getvalue().encode("utf-8", "replace")


def _name(path: Path, names: Names) -> str:
    return names.get(path, path.name)


def _rebuilt_text(item: Rebuilt, names: Names) -> str:
    text = f"{item.track}: {item.kind}"
    return f"{text} {_name(item.file, names)}" if item.file else text


def _telling(findings: Sequence[Finding]) -> list[Finding]:
    """What is not fine, heaviest first, each sentence once."""
    told: dict[str, Finding] = {}
    for finding in findings:
        if finding.weight is not Weight.FINE:
            told.setdefault(finding.what, finding)
    return sorted(told.values(), key=lambda finding: _HEAVIEST_FIRST[finding.weight])


def _all_findings(material: DayMaterial) -> list[tuple[Finding, Take | None]]:
    rows: list[tuple[Finding, Take | None]] = [(finding, None) for finding in material.checks]
    rows += [(finding, take) for take in in_order(material.takes) for finding in take.findings]
    return sorted(rows, key=lambda row: _HEAVIEST_FIRST[row[0].weight])


# ---- the page --------------------------------------------------------------------------------------------------------


def page_data(material: DayMaterial, names: Names) -> dict[str, Any]:
    """What the template prints, already in words."""
    takes = in_order(material.takes)
    told: list[tuple[Finding, Take | None]] = [(finding, None) for finding in _telling(material.checks)]
    told += [(finding, take) for take in takes for finding in _telling(take.findings)]
    told.sort(key=lambda row: _HEAVIEST_FIRST[row[0].weight])
    first = told[:FIRST_FINDINGS]
    more = len(told) - len(first)
    head = ", ".join(part for part in (material.show, material.day, material.date) if part)
    return {
        "title": f"Sound report, {head}" if head else "Sound report",
        "foot": f"Sound report · {head}" if head else "Sound report",
        "strip": [material.show or "Sound report", material.day, material.date, material.mixer],
        "clock": takes[0].timecode_in if takes else "",
        "verdict": _verdict(material, told),
        "lede": _lede(material, takes),
        "facts": _facts(material, told),
        "findings": [_finding_row(finding, take) for finding, take in first],
        "more_findings": f"{_count(more, 'more finding')} in the lines below and in findings.csv." if more else "",
        "rolls": [_roll(name, takes, names) for name in dict.fromkeys(take.sound_roll for take in takes)],
        "apart": [_take_row(take, _shared(take.sound_roll, takes), names) for take in takes if take.is_apart],
        "mirrors": [
            {
                "take": _slate_text(take) or take.files[0].stem,
                "track": item.track,
                "kind": item.kind,
                "card": item.card,
                "text": item.text,
                "file": _name(item.file, names) if item.file else "",
            }
            for take in takes
            for item in take.rebuilt
        ],
        "checks": [{"weight": c.weight.value, "what": c.what, "why": c.why} for c in material.checks],
        "closing": material.note,
    }


def _word(number: int) -> str:
    return ("none" if number == 0 else _NUMBERS[number]) if number < len(_NUMBERS) else str(number)


def _count(number: int, noun: str) -> str:
    word = "no" if number == 0 else _word(number)
    return f"{word.capitalize()} {noun}{'' if number == 1 else 's'}"


def _verdict(material: DayMaterial, told: Sequence[tuple[Finding, Take | None]]) -> str:
    takes = sum(not take.is_apart for take in material.takes)
    circled = sum(take.circled for take in material.takes if not take.is_apart)
    start = _count(takes, "take")
    if takes:
        start += f", {_word(circled)} circled"
    stops = sum(finding.weight is Weight.STOP for finding, _ in told)
    watches = len(told) - stops
    if stops:
        return f"{start}. {_count(stops, 'thing')} to settle before the cut."
    if watches:
        return f"{start}. {_count(watches, 'thing')} to know, nothing that stops."
    return f"{start}. Nothing against them."


def _lede(material: DayMaterial, takes: Sequence[Take]) -> str:
    rolls = [roll for roll in dict.fromkeys(take.sound_roll for take in takes) if roll]
    text = f"Sound {'roll' if len(rolls) == 1 else 'rolls'} {', '.join(rolls)}. " if rolls else ""
    if takes:
        text += f"First time code {takes[0].timecode_in or 'none'}, last {takes[-1].timecode_out or 'none'}. "
    return text + "Every file of this folder stands in its manifest and can be proven with verify, anywhere."


def _facts(material: DayMaterial, told: Sequence[tuple[Finding, Take | None]]) -> list[dict[str, str]]:
    with_picture = [take for take in material.takes if not take.is_apart]
    apart = [take for take in material.takes if take.is_apart]
    circled = sum(take.circled for take in with_picture)
    seconds = round(sum(take.seconds for take in material.takes))
    formats = Counter(_format_text(take) for take in material.takes)
    rates = sorted({take.frame_rate for take in material.takes if take.frame_rate})
    rebuilt = [item for take in material.takes for item in take.rebuilt]
    made = sum(item.file is not None for item in rebuilt)
    stops = sum(finding.weight is Weight.STOP for finding, _ in told)
    common = formats.most_common(1)[0][0] if formats else ""
    return [
        {"name": "Takes", "value": str(len(with_picture)), "note": f"{circled} circled"},
        {"name": "Wild tracks, room tones", "value": str(len(apart)), "note": "listed apart"},
        {"name": "Sound", "value": _span(seconds), "note": "all takes together"},
        {
            "name": "Format",
            "value": common.split(", ")[0] if common else "unknown",
            "note": ", ".join([*common.split(", ")[1:], *rates]) + (" and others" if len(formats) > 1 else ""),
        },
        {"name": "From cards", "value": str(made), "note": f"of {len(rebuilt)} tracks looked for"},
        {"name": "Post should know", "value": str(len(told)), "note": f"{stops} stop, {len(told) - stops} watch"},
    ]


def _span(seconds: int) -> str:
    if seconds < 3600:
        return f"{seconds // 60} min {seconds % 60:02d} s"
    return f"{seconds // 3600} h {seconds // 60 % 60:02d} min"


def _format_text(take: Take) -> str:
    rate = f"{take.sample_rate_hz / 1000:g} kHz"
    return f"{rate}, {take.sample_format}" if take.sample_format else rate


def _slate_text(take: Take) -> str:
    where = " / ".join(part for part in (take.slate or take.scene, take.take) if part)
    return where if where else ""


def _finding_row(finding: Finding, take: Take | None) -> dict[str, str]:
    where = _slate_text(take) if take else ""
    clock = next((ref.timecode for ref in finding.refs if ref.timecode), "")
    return {
        "weight": finding.weight.value,
        "what": finding.what,
        "why": finding.why,
        "remedy": finding.remedy,
        "where": "  ".join(part for part in (where, clock) if part),
    }


def _track_list(take: Take) -> tuple[tuple[str, str], ...]:
    rows = []
    for track in take.tracks:
        who = ", ".join(part for part in (track.character, track.performer) if part and part != track.name)
        rows.append((str(track.index), f"{track.name} ({who})" if who else track.name))
    return tuple(rows)


def _shared(roll: str, takes: Sequence[Take]) -> tuple[tuple[str, str], ...]:
    lists = Counter(_track_list(take) for take in takes if take.sound_roll == roll)
    return lists.most_common(1)[0][0]


def _roll(name: str, takes: Sequence[Take], names: Names) -> dict[str, Any]:
    """A sound roll: what most of its takes share is said once, above them."""
    own = [take for take in takes if take.sound_roll == name]
    shared = _shared(name, takes)
    formats = Counter(_format_text(take) for take in own)
    rates = Counter(take.frame_rate for take in own if take.frame_rate)
    text = ", ".join(
        [*(f for f, _ in formats.most_common()), *(f"{r} frames a second" for r, _ in rates.most_common())]
    )
    return {
        "name": name or "without a name",
        "format": text,
        "tracks": [{"index": index, "name": track} for index, track in shared],
        "takes": [_take_row(take, shared, names) for take in own if not take.is_apart],
    }


def _kind_text(take: Take) -> str:
    if take.kind == "take":
        return ""
    roll = f", roll {take.sound_roll}" if take.is_apart and take.sound_roll else ""
    return take.kind.capitalize() + roll


def _take_row(take: Take, shared: tuple[tuple[str, str], ...], names: Names) -> dict[str, Any]:
    own = _track_list(take)
    told = _telling(take.findings)
    rows = [{"weight": f.weight.value, "what": f.what} for f in told[:FINDINGS_A_TAKE]]
    if len(told) > FINDINGS_A_TAKE:
        rest = told[FINDINGS_A_TAKE:]
        rows.append({"weight": rest[0].weight.value, "what": f"{_count(len(rest), 'more finding')} in findings.csv."})
    return {
        "scene": take.scene,
        "slate": take.slate,
        "take": take.take,
        "circled": take.circled,
        "kind": _kind_text(take),
        "tc_in": take.timecode_in,
        "tc_out": take.timecode_out,
        "length": length_text(take),
        "note": take.note,
        "files": "  ".join(_name(path, names) for path in take.files),
        "tracks": "" if own == shared else "Tracks: " + " · ".join(f"{index} {track}" for index, track in own),
        "findings": rows,
    }

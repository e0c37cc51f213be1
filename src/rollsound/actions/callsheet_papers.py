"""The sound crew's call sheet typeset as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rollsound.actions.callsheet import by_mhz, headline
from rollsound.actions.callsheet_model import CallsheetResult, SceneRow
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.quantities import count, true_minus
from rollsound.whole import write_whole


def check_place(path: Path) -> None:
    """Refuse a name that no sheet is written to, before any work is done. Raises InputError."""
    if path.suffix.lower() != ".pdf":
        raise InputError(f"a call sheet is written as .pdf, not as {path.name}; choose another name")


def write_sheet(result: CallsheetResult, path: Path) -> CallsheetResult:
    """Write the PDF; answers with where it is.

    Raises
    ------
    InputError
        when the name ends otherwise
    StorageError
        when the disk fails
    """
    check_place(path)
    write_whole(path, sheet_pdf(result))
    return result.model_copy(update={"file": str(path)})


def sheet_pdf(result: CallsheetResult) -> bytes:
    """The sheet typeset. The same plan gives the same bytes."""
    from rollsound.report.typesetting import typeset

    return typeset("callsheet", sheet_data(result))


def sheet_data(result: CallsheetResult) -> dict[str, Any]:
    """What the template prints, already in words."""
    head = f"Sound call sheet, {result.name}, {result.day_name}"
    return {
        "title": head,
        "foot": f"{result.name} · Sound call sheet · {result.day_name}",
        "strip": [result.name, f"Sound call sheet, {result.day_name}", result.date, result.unit],
        "clock": f"{result.call}–{result.wrap}",
        "verdict": headline(result),
        "lede": " ".join(part for part in (_note(result.note), _format(result)) if part),
        "facts": _facts(result),
        "places": [[each.name, each.temperature, each.address, each.sound, each.note] for each in result.places],
        "scenes": [_scene(each) for each in result.scenes],
        "by_scene": result.by_scene,
        "packs": [
            {
                "name": each.name,
                "use": "" if each.use == "body pack" else each.use,
                "wearers": "; ".join(each.wearers),
                "worn": each.worn,
                "mhz": by_mhz(each.mhz),
                "spares": ", ".join(by_mhz(mhz) for mhz in each.spares_mhz),
                "power": "" if each.power_mw is None else f"{each.power_mw:g} mW",
                "track": each.track,
                "heard_by": ", ".join(each.heard_by),
            }
            for each in result.packs
        ],
        "batteries": [
            [each.told, "; ".join(each.what), "" if each.in_break else "while working"] for each in result.batteries
        ],
        "missing": list(result.missing_batteries),
        "jams": [
            [each.device, each.source, "; ".join(each.told[:4]) + (" …" if len(each.told) > 4 else "")]
            for each in result.jams
        ],
        "playback": [
            [
                each.title,
                ", ".join(each.scenes),
                each.start_timecode,
                _tracks(each.ltc_track, each.guide_track),
                each.note,
            ]
            for each in result.playback
        ],
        "monitors": [
            [each.listener, each.hears, each.at, each.gain, "" if each.hours is None else f"{each.hours:g} h"]
            for each in result.monitors
        ],
        "changeovers": [
            [each.name, "; ".join(part for part in (" or ".join(each.positions), each.note) if part)]
            for each in result.changeovers
        ],
        "crew": [
            [each.name, "; ".join(part for part in (each.job, each.note) if part), each.contact] for each in result.crew
        ],
        "findings": [
            {"weight": each.weight.value, "what": each.what, "why": each.why, "remedy": each.remedy, "where": ""}
            for each in sorted(result.findings, key=lambda each: list(Weight).index(each.weight))
        ],
        "not_planned": list(result.not_planned),
        "cautions": list(result.cautions),
    }


def _note(words: str) -> str:
    return f"{words.rstrip('.')}." if words else ""


def _format(result: CallsheetResult) -> str:
    rate = f"{result.sample_rate_hz / 1000:g} kHz"
    breaks = f" Breaks: {', '.join(result.breaks)}." if result.breaks else ""
    return f"{result.frame_rate} frames, {rate}, {result.sample_format}.{breaks}"


def _facts(result: CallsheetResult) -> list[dict[str, str]]:
    speaks = {name.rsplit(" ", 1)[0] for scene in result.scenes for name in (*scene.speaks, *scene.sings)}
    changes = str(len(result.batteries)) if result.power_planned else "not known"
    cold = "not known" if result.coldest_c is None else true_minus(f"{result.coldest_c:g} °C")
    return [
        {"name": "Call and wrap", "value": f"{result.call}–{result.wrap}", "note": result.date or "no date yet"},
        {"name": "Coldest", "value": cold, "note": "of the day's sites"},
        {"name": "Heard", "value": str(len(speaks)), "note": "characters, by the script"},
        {"name": "Transmitters", "value": str(len(result.packs)), "note": "on the day's sites"},
        {"name": "Battery changes", "value": changes, "note": "times of the day"},
        {"name": "Monitor feeds", "value": str(len(result.monitors)), "note": ""},
    ]


def _scene(scene: SceneRow) -> dict[str, Any]:
    length = f"{scene.eighths // 8 or ''}{' ' if scene.eighths >= 8 and scene.eighths % 8 else ''}"
    length += f"{scene.eighths % 8}/8" if scene.eighths % 8 else ""
    notes = [scene.note, "two speak at once" if scene.dual else "", _list("listen for", scene.cues)]
    return {
        "number": scene.number,
        "heading": scene.heading or ("" if scene.in_script else "not in the script part"),
        "synopsis": scene.synopsis,
        "length": length.strip(),
        "speaks": ", ".join(scene.speaks),
        "sings": ", ".join(scene.sings),
        "songs": ", ".join(scene.songs),
        "wired": ", ".join(scene.wired),
        "booms": ", ".join(scene.booms),
        "without": ", ".join(scene.without),
        "notes": "; ".join(each for each in notes if each),
    }


def _list(head: str, words: Sequence[str]) -> str:
    return f"{head} {', '.join(words)}" if words else ""


def _tracks(ltc: str, guide: str) -> str:
    parts = [f"time code on track {ltc}" if ltc else "", f"guide on track {guide}" if guide else ""]
    return ", ".join(part for part in parts if part)


def told_of(result: CallsheetResult) -> str:
    """The sheet in one line, for a screen."""
    missing = f"; {count(len(result.not_planned), 'thing')} not planned yet" if result.not_planned else ""
    when = ", ".join(part for part in (result.day_name, result.date, f"{result.call} to {result.wrap}") if part)
    return f"{result.name}, {when}: {headline(result)[:-1]}{missing}."

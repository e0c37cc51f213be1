"""Turnover: from a day's folder to the folder for sound post, with reports and a manifest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from pydantic import ValidationError

from rollsound.actions.conform_result import OTIO_NAME, RESULT_NAME, SHEETS, ConformResult, ConformTrack
from rollsound.actions.day import DayFolder, day_folder, row_of
from rollsound.actions.inspect import FileReport, inspect
from rollsound.actions.media_settled import settled
from rollsound.errors import InputError, storage
from rollsound.finding import Area, Finding, Weight
from rollsound.log import TakeRow
from rollsound.progress import Progress
from rollsound.quantities import count, show_ppm
from rollsound.turnover.folder import TurnoverResult, build
from rollsound.turnover.gathering import take_of
from rollsound.turnover.model import DayMaterial, Rebuilt, Take
from rollsound.turnover.proofs import day_checks
from rollsound.wave import WaveInfo, read_info

__all__ = ["TurnoverResult", "turnover"]


def turnover(
    day: Path,
    to: Path,
    *,
    conformed: Sequence[Path] = (),
    takes_sheet: Path | None = None,
    wearers_sheet: Path | None = None,
    index: Path | None = None,
    show: str = "",
    day_name: str = "",
    date: str = "",
    mixer: str = "",
    algorithm: str = "xxh64",
    also_md5: bool = False,
    progress: Progress | None = None,
) -> TurnoverResult:
    """Put a day together for sound post.

    Parameters
    ----------
    day
        the day's folder: recorder files, what conform made, sheets (see ``rollsound.actions.day``)
    to
        where the turnover goes; days may share it
    conformed
        folders elsewhere that conform wrote, where the day's folder does not hold them
    index
        results of an earlier inspection, so that nothing is measured twice

    Raises
    ------
    InputError, StorageError, Halted
        in one sentence; what was proven by then is kept
    """
    progress = progress or Progress()
    parts = day_folder(day, conformed=conformed, takes_sheet=takes_sheet, wearers_sheet=wearers_sheet)
    if to.resolve() == day.resolve() or day.resolve() in to.resolve().parents:
        raise InputError(f"{to} lies inside the day's own folder; name a place outside it")
    inspected = inspect([path for files in parts.takes for path in files], index=index, progress=progress)
    if inspected.problems:
        more = f" (and {count(len(inspected.problems) - 1, 'file')} more)" if len(inspected.problems) > 1 else ""
        raise InputError(
            f"{inspected.problems[0]}{more}; for the turnover, move what cannot be read out of {day} and run the same "
            "command again"
        )
    reports = {report.path: report for report in inspected.files}
    results = [_read(folder / RESULT_NAME) for folder in parts.conformed]
    takes, infos = _takes(parts, reports, results)
    pairs = list(zip(takes, infos, strict=True))
    checks = [*day_checks(pairs, parts.take_rows, _without_file(parts)), *_rebuilt_check(takes, results)]
    material = DayMaterial(
        show=show or next((info.project for found in infos for info in found if info.project), ""),
        day=day_name or _day_name(day),
        date=date or _date(infos),
        mixer=mixer,
        takes=tuple(takes),
        checks=tuple(checks),
        lists=_lists(parts.conformed),
    )
    return build(material, to, algorithm=algorithm, also_md5=also_md5, progress=progress)


def _takes(
    parts: DayFolder, reports: dict[str, FileReport], results: Sequence[ConformResult]
) -> tuple[list[Take], list[list[WaveInfo]]]:
    wearers = {row.track: (row.character, row.performer) for row in parts.wearer_rows}
    takes, all_infos = [], []
    for files in parts.takes:
        found = [read_info(path) for path in files]
        rebuilt = _rebuilt(files, results)
        made = {item.track: item for item in rebuilt if item.file is not None}
        findings = [
            settled(finding, _tracks_of(finding, found), made)
            for path in files
            for finding in reports[str(path)].all_findings
            if finding.weight is not Weight.FINE
        ]
        row = row_of(files, parts.take_rows)
        takes.append(take_of(found, row, wearers=wearers, findings=findings, rebuilt=rebuilt))
        all_infos.append(found)
    return takes, all_infos


def _read(path: Path) -> ConformResult:
    with storage(path):
        text = path.read_bytes()
    try:
        return ConformResult.model_validate_json(text)
    except ValidationError as error:
        raise InputError(f"{path} is not what conform writes; run conform again, or move it away") from error


def _rebuilt(files: Sequence[Path], results: Iterable[ConformResult]) -> list[Rebuilt]:
    """What became of each track that a card was looked for: with the file that holds it, if one was made."""
    names = {path.name for path in files}
    found = []
    for result in results:
        for take in result.takes:
            if not names & {Path(name).name for name in take.recorder}:
                continue
            for track in take.tracks:
                if track.outcome == "no card" and not track.card:
                    continue
                made = track.action in ("replace", "mend") and take.output
                file = _file_of(take.output, track.index) if made else None
                kind = result.mode if made else track.outcome
                found.append(Rebuilt(track=track.name, kind=kind, card=track.card, text=_text(track), file=file))
    return found


def _tracks_of(finding: Finding, infos: Sequence[WaveInfo]) -> set[str]:
    """The names of the tracks that a finding is about."""
    return {
        info.track_names[ref.track - 1]
        for ref in finding.refs
        for info in infos
        if str(info.path) == ref.path and ref.track
    }


def _file_of(outputs: Sequence[str], index: int) -> Path:
    """The one file, or the track's own in a set of monos."""
    return Path(outputs[0] if len(outputs) == 1 else outputs[min(index, len(outputs)) - 1])


def _text(track: ConformTrack) -> str:
    if track.offset_samples is None or track.rate_ppm is None:
        return track.reason
    spans = len(track.spans)
    damage = "no damage found" if not spans else "1 damaged span" if spans == 1 else f"{spans} damaged spans"
    return f"{track.outcome}, clock {show_ppm(track.rate_ppm)}, {damage}"


def _rebuilt_check(takes: Sequence[Take], results: Sequence[ConformResult]) -> list[Finding]:
    if not results:
        return []
    rebuilt = [item for take in takes for item in take.rebuilt]
    made = sum(item.file is not None for item in rebuilt)
    refused = sorted({f"{item.track} ({item.kind})" for item in rebuilt if item.file is None})
    tail = f"; as recorded stay: {', '.join(refused[:8])}" if refused else ""
    return [
        Finding(
            area=Area.MEDIA,
            weight=Weight.FINE,
            subject="Day",
            kind="rebuilt from cards",
            what=f"{made} tracks were rebuilt from cards{tail}.",
            source="measured on these files",
            numbers={"rebuilt": float(made), "left": float(len(rebuilt) - made)},
        )
    ]


def _lists(folders: Iterable[Path]) -> tuple[Path, ...]:
    names = (*SHEETS, OTIO_NAME)
    return tuple(folder / name for folder in folders for name in names if (folder / name).is_file())


def _day_name(day: Path) -> str:
    return day.resolve().name.replace("-", " ").replace("_", " ").strip().capitalize() or "Day"


def _date(infos: Sequence[Sequence[WaveInfo]]) -> str:
    dates = {info.bext.origination_date for found in infos for info in found if info.bext}
    return next(iter(dates)) if len(dates) == 1 else ""


def _without_file(parts: DayFolder) -> list[TakeRow]:
    """Lines of the takes sheet that no file was found for."""
    used = {row.file for files in parts.takes if (row := row_of(files, parts.take_rows))}
    return [row for row in parts.take_rows if row.file not in used]

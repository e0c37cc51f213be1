"""Whether a day can go to sound post: every check that can be made before the turnover is built, and its order."""

from __future__ import annotations

import os.path
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.day import CONFORMED, row_of
from rollsound.actions.kept import index_folder
from rollsound.actions.media import OpenShow, media_of, place_of
from rollsound.actions.media_model import MediaDay, MediaTake
from rollsound.errors import InputError, RollsoundError
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.log import TakeRow, read_takes, read_wearers
from rollsound.quantities import count
from rollsound.report.day_chart import TakeBar
from rollsound.turnover.gathering import take_of
from rollsound.turnover.mhl import FOLDER, has_history, read_history
from rollsound.turnover.model import Take
from rollsound.turnover.proofs import PRACTICE, day_checks
from rollsound.wave import WaveInfo, read_info

RowT = TypeVar("RowT")
_MOST_NAMES = 5
_STANDARD = "ASC MHL Specification 1.0"


class TurnoverCheck(BaseModel):
    """What is known of a day before its turnover is built."""

    model_config = ConfigDict(frozen=True)

    day: str = Field(description="the plan's id of the day's media")
    label: str
    takes: int
    radio_tracks: int
    rebuilt_tracks: int
    mode: str = Field(description="mirror, mend or compare; empty before conform has run")
    checks: tuple[Finding, ...] = Field(description="one for each check, whether it holds or not; heaviest first")
    standing: tuple[Finding, ...] = Field(description="faults of takes that would lose or spoil work and stay")

    lighter: int = Field(description="further findings of single takes that deserve a look; the report tells them")

    @property
    def can_go(self) -> bool:
        """Nothing keeps the folder from being built whole."""
        return self.takes > 0 and not self.blocking

    @property
    def blocking(self) -> int:
        """Checks that must be settled first."""
        return sum(check.weight is Weight.STOP for check in self.checks)

    @property
    def to_tell(self) -> int:
        """What post should know: checks that deserve a look, and the faults that stay."""
        return sum(check.weight is Weight.WATCH for check in self.checks) + len(self.standing)


def turnover_check(show: OpenShow, media_id: str) -> TurnoverCheck | None:
    """Every check of a day; none when the plan has no media of that id."""
    day = media_of(show).day(media_id)
    if day is None:
        return None
    folder = show.folder
    planned = {name: place_of(folder, text) for name, text in day.folders.items()}
    recorder = planned.get("recorder")
    sheets = [planned.get(name) for name in ("takes_sheet", "wearers_sheet")]
    stamps = tuple(_stamp(path) for path in (*sheets, *(root / FOLDER for root in _manifest_roots(recorder))))
    key = (str(folder), media_id)
    kept = _kept.get(key)
    # The media index is made anew when anything in it has changed, so the very same day means the same files.
    if kept is not None and kept[0] is day and kept[1] == stamps:
        return kept[2]
    made = _checked(day, planned)
    _kept[key] = (day, stamps, made)
    return made


def known_blocking(show: OpenShow) -> int:
    """What keeps the newest day from going, as far as it was looked at already; 0 when nobody has."""
    days = media_of(show).days
    kept = _kept.get((str(show.folder), days[-1].id)) if days else None
    return kept[2].blocking if kept is not None and kept[0] is days[-1] else 0


_kept: dict[tuple[str, str], tuple[MediaDay, object, TurnoverCheck]] = {}


def take_bars(day: MediaDay) -> tuple[TakeBar, ...]:
    """What became of the radio tracks of each take, for the day's chart."""
    bars = []
    for take in day.recorded:
        radio = [track for track in take.tracks if track.looked_for]
        made = sum(track.rebuilt for track in radio)
        left = [track for track in radio if not track.rebuilt]
        lost = sum(track.weight is Weight.STOP for track in left)
        mended = day.mode == "mend"
        bars.append(
            TakeBar(
                name=take.name.removesuffix(".wav"),
                rebuilt=0 if mended else made,
                mended=made if mended else 0,
                recorded=len(left) - lost,
                lost=lost,
            )
        )
    return tuple(bars)


def turnover_order(
    show: OpenShow,
    media_id: str,
    *,
    to: str = "",
    day_name: str = "",
    date: str = "",
    mixer: str = "",
    also_md5: bool = False,
) -> dict[str, Any]:
    """The arguments of the job that builds a day's turnover; what is not given, the plan says.

    Raises
    ------
    InputError
        when the plan has no such media, or does not say where its files lie or go
    """
    plan = show.plan()
    planned = next((each for each in plan.media if each.id == media_id), None)
    if planned is None:
        raise InputError("the plan has no media of that name; look at the list of days again")
    recorder, conformed, turnover, takes_sheet, wearers_sheet = (
        place_of(show.folder, getattr(planned, name))
        for name in ("recorder", "conformed", "turnover", "takes_sheet", "wearers_sheet")
    )
    target = Path(os.path.expanduser(to)) if to.strip() else turnover
    if recorder is None:
        raise InputError(f"the plan does not say where the recorder's files of '{media_id}' lie; write it in first")
    if target is None:
        raise InputError("the plan does not say where the turnover goes; name a folder, or write it into the plan")
    if not target.is_absolute():
        raise InputError(f"'{to}' is no whole path; write it from the root of its drive")
    day = next((each for each in plan.schedule.days if each.id == planned.day), None)
    label = f"Day {day.number}" if day is not None and day.number is not None else planned.day or media_id
    person = next((each.name for each in plan.people if each.role == "mixer"), "")
    return {
        "day": str(recorder),
        "conformed": [str(conformed)] if conformed is not None and (conformed / CONFORMED).is_file() else [],
        "to": str(target),
        "takes_sheet": None if takes_sheet is None else str(takes_sheet),
        "wearers_sheet": None if wearers_sheet is None else str(wearers_sheet),
        "index": str(index_folder(show.folder)),
        "show": plan.show.title,
        "day_name": day_name.strip() or label,
        "date": date.strip() or (day.date.isoformat() if day is not None and day.date else ""),
        "mixer": mixer.strip() or person,
        "also_md5": also_md5,
    }


# ---- the checks ------------------------------------------------------------------------------------------------------


def _checked(day: MediaDay, planned: dict[str, Path | None]) -> TurnoverCheck:
    rows, checks = _sheets(planned)
    pairs, used = _takes(day.recorded, rows)
    unused = [row for row in rows if row.file not in used]
    checks += [_read(day), *([_measured(day)] if day.recorded else []), *_unreadable_results(day)]
    if pairs:
        checks += day_checks(pairs, rows, unused)
        checks.append(_slated([take for take, _ in pairs]))
        checks.append(_copies([path for take, _ in pairs for path in take.files], planned.get("recorder")))
    checks.append(_cards(day, planned.get("cards")))
    order = list(Weight)
    return TurnoverCheck(
        day=day.id,
        label=day.label,
        takes=len(day.recorded),
        radio_tracks=day.radio_tracks,
        rebuilt_tracks=day.rebuilt_tracks,
        mode=day.mode,
        checks=tuple(sorted(checks, key=lambda check: order.index(check.weight))),
        lighter=sum(
            len({finding.what for finding in take.findings if finding.weight is Weight.WATCH}) for take in day.recorded
        ),
        standing=tuple(finding for finding in day.standing if finding.weight is Weight.STOP),
    )


def _check(
    kind: str, weight: Weight, what: str, remedy: str = "", *, source: str = PRACTICE, path: str = ""
) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=weight,
        subject="Day",
        kind=kind,
        what=what,
        remedy=remedy,
        source=source,
        refs=(Ref(path=path),) if path else (),
    )


def _names(names: Sequence[str]) -> str:
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return ", ".join(names[:_MOST_NAMES]) + more


def _sheets(planned: dict[str, Path | None]) -> tuple[list[TakeRow], list[Finding]]:
    rows, checks = _sheet("takes sheet", planned.get("takes_sheet"), read_takes, "slates, circled takes and notes")
    _, more = _sheet("wearers sheet", planned.get("wearers_sheet"), read_wearers, "who wore which pack")
    return rows, [*checks, *more]


def _sheet(
    name: str, path: Path | None, read: Callable[[Path], list[RowT]], holds: str
) -> tuple[list[RowT], list[Finding]]:
    if path is None:
        remedy = f"Name it in the plan; without it post gets no {holds} beyond what the files say."
        return [], [_check(name, Weight.WATCH, f"The plan names no {name}.", remedy)]
    if not path.is_file():
        remedy = "Put it back, or name the right one in the plan."
        return [], [_check(name, Weight.STOP, f"The {name} {path.name} is not there.", remedy, path=str(path))]
    try:
        rows = read(path)
    except RollsoundError as error:
        return [], [_check(name, Weight.STOP, _sentence(error), "Correct the sheet.", path=str(path))]
    return rows, [_check(name, Weight.FINE, f"The {name} has {count(len(rows), 'line')}.")]


def _takes(takes: Sequence[MediaTake], rows: Sequence[TakeRow]) -> tuple[list[tuple[Take, list[WaveInfo]]], set[str]]:
    """Takes that can be read, with what their files say; and the lines of the sheet that they used."""
    pairs: list[tuple[Take, list[WaveInfo]]] = []
    used: set[str] = set()
    for take in takes:
        paths = [member.path for member in take.members]
        row = row_of(paths, rows)
        if row is not None:
            used.add(row.file)
        if take.problem:
            continue
        try:
            infos = [read_info(path) for path in paths]
        except RollsoundError:  # the index tells of it as soon as it looks again
            continue
        pairs.append((take_of(infos, row), infos))
    return pairs, used


def _read(day: MediaDay) -> Finding:
    if not day.recorded:
        return _check("files read", Weight.STOP, "There is no take.", "Name the folder of the recorder's files.")
    lost = [take for take in day.recorded if take.problem]
    if lost:
        remedy = "Bring the files back from another copy, or take them out of the folder."
        return _check("files read", Weight.STOP, f"Not to be read: {_names([take.name for take in lost])}.", remedy)
    files = sum(len(take.members) for take in day.recorded)
    return _check(
        "files read", Weight.FINE, f"{count(files, 'file')} of {count(len(day.recorded), 'take')} can be read."
    )


def _measured(day: MediaDay) -> Finding:
    waiting = [take.name for take in day.recorded if not take.measured and not take.problem]
    if waiting:
        remedy = "Have the day measured on the page Media; building the turnover measures what is left."
        return _check("files measured", Weight.WATCH, f"Not measured yet: {_names(waiting)}.", remedy)
    changed = [take.name for take in day.recorded if any(member.changed for member in take.members)]
    if changed:
        remedy = "Find out why a recorder file changed, and have it measured again."
        return _check("files measured", Weight.STOP, f"Changed since measured: {_names(changed)}.", remedy)
    return _check("files measured", Weight.FINE, "Every track of every take was measured.")


def _unreadable_results(day: MediaDay) -> list[Finding]:
    return [_check("results read", Weight.STOP, problem, "Settle this first.") for problem in day.problems]


def _slated(takes: Sequence[Take]) -> Finding:
    bare = [
        take.files[0].stem for take in takes if not take.is_apart and not ((take.slate or take.scene) and take.take)
    ]
    if bare:
        remedy = "Write scene, slate and take into the takes sheet."
        return _check(
            "takes slated", Weight.WATCH, f"Without scene or slate, or without a take: {_names(bare)}.", remedy
        )
    return _check("takes slated", Weight.FINE, "Every take has its scene or slate, and its number.")


def _manifest_roots(recorder: Path | None) -> list[Path]:
    return [] if recorder is None else [recorder, *list(recorder.parents)[:2]]


def _copies(files: Sequence[Path], recorder: Path | None) -> Finding:
    """Whether a manifest lists the recorder's files with their sizes: in their folder or one of the two around it.

    That is no proof of their bytes: verify and the building of the turnover read them again.
    """
    root = next((each for each in _manifest_roots(recorder) if has_history(each)), None)
    if root is None:
        remedy = "Copy the recorder's drive with offload, which proves every copy and writes the manifest."
        return _check("copies listed", Weight.WATCH, "No manifest stands for the recorder's files.", remedy)
    try:
        history = read_history(root)
    except RollsoundError as error:
        remedy = "Verify the folder, and take the copy from another drive."
        return _check("copies listed", Weight.STOP, _sentence(error), remedy, source=_STANDARD, path=str(root))
    sizes = {record.path: record.size for each in history.generations for record in each.records.values()}
    without = [path.name for path in files if path.relative_to(root).as_posix() not in history.paths]
    if without:
        remedy = "Copy them with offload, so that every copy is proven."
        return _check("copies listed", Weight.WATCH, f"In no manifest: {_names(without)}.", remedy, source=_STANDARD)
    listed = {path: sizes.get(path.relative_to(root).as_posix()) for path in files}
    other = [path.name for path, size in listed.items() if size is not None and size != _size_of(path)]
    if other:
        remedy = "Verify the folder, and take these files from another copy."
        said = f"Not as long as their manifest has them: {_names(other)}."
        return _check("copies listed", Weight.STOP, said, remedy, source=_STANDARD, path=str(root))
    files_told = count(len(files), "recorder file")
    said = f"A manifest lists all {files_told} with their sizes; their bytes were not read again here."
    return _check("copies listed", Weight.FINE, said, source=_STANDARD)


def _size_of(path: Path) -> int | None:
    stamp = _stamp(path)
    return None if stamp is None else stamp[0]


def _cards(day: MediaDay, cards: Path | None) -> Finding:
    left = day.radio_tracks - day.rebuilt_tracks
    if day.mode in ("mirror", "mend"):
        done = "rebuilt" if day.mode == "mirror" else "mended"
        tracks = count(day.radio_tracks, "radio track")
        said = f"{day.rebuilt_tracks} of {tracks} are {done} from cards"
        if not left:
            return _check("cards used", Weight.FINE, f"{said}.")
        stays = "1 stays" if left == 1 else f"{left} stay"
        remedy = "See on the page Media why; listen to those tracks, and look for their cards."
        return _check("cards used", Weight.WATCH, f"{said}; {stays} as recorded.", remedy)
    if cards is None:
        return _check("cards used", Weight.FINE, "The plan names no cards; radio tracks go as recorded.")
    remedy = "Rebuild or mend from cards on the page Media first."
    return _check("cards used", Weight.WATCH, "There are cards, and nothing was rebuilt from them.", remedy)


def _sentence(error: RollsoundError) -> str:
    text = error.sentence.rstrip(".")
    first = text.partition(" ")[0]  # a name of a file or folder is told as it is written
    return f"{text}." if any(sign in first for sign in "./\\") else f"{text[:1].upper()}{text[1:]}."


def _stamp(path: Path | None) -> tuple[int, int] | None:
    try:
        info = path.stat() if path is not None else None
    except OSError:
        return None
    return (info.st_size, info.st_mtime_ns) if info is not None else None

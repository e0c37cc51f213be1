"""The turnover folder: a day's files by sound roll, what was rebuilt from cards, reports, lists, and the manifest.

    <day>/<sound roll>/            the recorder's files, as recorded
    <day>/<sound roll>/mirrors/    rebuilt from cards
    <day>/<sound roll>/mends/      the recorder's files with damaged spans replaced
    <day>/lists/                   conform lists
    <day>/sound report.pdf, sound report.csv, findings.csv
    ascmhl/                        the manifests that prove all of it

Several days may go into one folder; each run adds a generation to its history.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from rollsound.errors import Halted, InputError, StorageError, storage
from rollsound.finding import Area, Finding, Ref, Weight, heaviest
from rollsound.progress import Progress
from rollsound.turnover.copying import copy_files
from rollsound.turnover.hashing import digest_of
from rollsound.turnover.mhl import Entry
from rollsound.turnover.model import DayMaterial
from rollsound.turnover.names import distinct, safe_name
from rollsound.turnover.place import CopyJob, Place, check_space, only_one
from rollsound.turnover.sealing import seal
from rollsound.turnover.sound_report import findings_csv, report_csv, report_pdf
from rollsound.wave.disk import discard, part_name, publish

REPORT_NAMES = ("sound report.pdf", "sound report.csv", "findings.csv")


class TurnoverResult(BaseModel):
    """What was put together."""

    model_config = ConfigDict(frozen=True)

    root: str
    day_folder: str
    files: tuple[str, ...] = Field((), description="every file of this day, relative to the root")
    copied: tuple[str, ...] = Field((), description="files written and read back now; the rest were there")
    reports: tuple[str, ...] = ()
    problems: dict[str, str] = Field(default_factory=dict, description="path to the sentence that says why not")
    manifest: str = Field("", description="the manifest written now; empty when nothing was new")
    size_bytes: int = Field(0, description="of all files of this day")
    stops: int = Field(0, description="findings told in the reports that would lose or spoil work")
    watches: int = Field(0, description="findings told in the reports that deserve a look")

    @property
    def complete(self) -> bool:
        """Every file asked for is in the folder and proven."""
        return not self.problems

    @property
    def weight(self) -> Weight:
        """The worst weight found."""
        return heaviest(self.findings)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What keeps the folder from being whole."""
        return tuple(_missing(path, sentence) for path, sentence in self.problems.items())


def _missing(path: str, sentence: str) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.STOP,
        subject=path,
        kind="not in the turnover",
        what=sentence,
        remedy="Run turnover again when this is settled; it adds what is missing.",
        source="common practice, no source",
        refs=(Ref(path=path),),
    )


def build(
    material: DayMaterial,
    out: Path,
    *,
    algorithm: str = "xxh64",
    also_md5: bool = False,
    progress: Progress | None = None,
) -> TurnoverResult:
    """Put a day's turnover together below ``out``. Never overwrites; a second run adds what is missing.

    A report that differs from one that is there already gets a number (``sound report (2).pdf``).

    Raises
    ------
    InputError
        when there are no takes
    StorageError
        when there is not enough room, or nothing more can be written; single files that fail are told in the result
    BrokenFileError
        when a manifest that lies there already was changed or cut off
    Halted
        when the person asked to stop; what was proven by then has its name and its manifest
    """
    if not material.takes:
        raise InputError("there are no takes to hand over; name the recorder's folder of the day")
    progress = progress or Progress()
    started = datetime.now(UTC)
    day = safe_name(material.day, "day")
    names = _names(material, day)
    algorithms = tuple(dict.fromkeys((algorithm, *(("md5",) if also_md5 else ()))))
    jobs, problems = _jobs(names)
    place = Place.open(out)
    with only_one(out):
        check_space([place], jobs)
        place.tidy(jobs)
        outcome = copy_files(jobs, [place], lambda job: _known_by(place, job.path, algorithms), progress, "turnover")
        problems |= outcome.unreadable | place.problems
        reports = [] if outcome.halted or place.lost else _reports(place, material, day, names, algorithms, problems)
        with suppress(StorageError) if place.lost else storage(out):
            manifest = seal(place, started)
    if outcome.halted:
        raise Halted("Stopped as you asked; what was finished is kept, and the same command goes on from there.")
    if place.lost:
        raise StorageError(place.lost)
    files = sorted({*(job.path for job in jobs), *reports} - problems.keys())
    told = [finding for take in material.takes for finding in take.findings] + list(material.checks)
    return TurnoverResult(
        root=str(out),
        day_folder=str(out / day),
        files=tuple(files),
        copied=tuple(sorted(place.copied)),
        reports=tuple(reports),
        problems=problems,
        manifest=manifest,
        size_bytes=sum((out / path).stat().st_size for path in files if (out / path).exists()),
        stops=sum(finding.weight is Weight.STOP for finding in told),
        watches=sum(finding.weight is Weight.WATCH for finding in told),
    )


def _names(material: DayMaterial, day: str) -> dict[Path, str]:
    """Where every file goes, relative to the root. Files keep their names wherever every system can store them."""
    names: dict[Path, str] = {}
    taken: dict[str, set[str]] = {}

    def put(path: Path, folder: str) -> None:
        if path not in names:
            used = taken.setdefault(folder.casefold(), set())
            names[path] = f"{folder}/{distinct(safe_name(path.name), used)}"

    for take in material.takes:
        roll = f"{day}/{safe_name(take.sound_roll, 'no sound roll')}"
        for path in take.files:
            put(path, roll)
        for item in take.rebuilt:
            if item.file is not None:
                put(item.file, f"{roll}/{safe_name(item.kind)}s")
    for path in material.lists:
        put(path, f"{day}/lists")
    return names


def _jobs(names: Mapping[Path, str]) -> tuple[list[CopyJob], dict[str, str]]:
    jobs, problems = [], {}
    for path, name in names.items():
        try:
            with storage(path):
                info = path.stat()
            jobs.append(CopyJob(path, name, info.st_size, info.st_mtime_ns))
        except StorageError as error:
            problems[name] = error.sentence
    return jobs, problems


def _known_by(place: Place, path: str, algorithms: tuple[str, ...]) -> tuple[str, ...]:
    known = place.history.digests(path)
    if known and not known.keys() & set(algorithms):
        return (*algorithms, place.history.quickest(path))
    return algorithms


def _reports(
    place: Place,
    material: DayMaterial,
    day: str,
    names: Mapping[Path, str],
    algorithms: tuple[str, ...],
    problems: Mapping[str, str],
) -> list[str]:
    """Write the reports; they tell of what could not be handed over as well."""
    told = tuple(_missing(path, sentence) for path, sentence in problems.items())
    material = material.model_copy(update={"checks": (*told, *material.checks)})
    short = {path: name.removeprefix(f"{day}/") for path, name in names.items()}
    texts = (report_pdf(material, short), report_csv(material, short), findings_csv(material))
    written = []
    for name, data in zip(REPORT_NAMES, texts, strict=True):
        path = _place_report(place, f"{day}/{name}", data, algorithms)
        if path:
            written.append(path)
    return written


def _place_report(place: Place, path: str, data: bytes, algorithms: tuple[str, ...]) -> str:
    """Give a report its name, or the next free one when another stands there; a report that is there stays."""
    stem, _, ending = path.rpartition(".")
    number = 1
    while (place.root / path).exists():
        with storage(place.root / path):
            same = (place.root / path).read_bytes() == data
        if same:
            break
        number += 1
        path = f"{stem} ({number}).{ending}"
    whole = place.root / path
    try:
        if not whole.exists():
            _write_new(whole, data)
        info = whole.stat()
    except OSError as error:
        place.fail(CopyJob(whole, path, len(data), 0), error)
        return ""
    digests = {name: digest_of(name, data) for name in _known_by(place, path, algorithms)}
    entry = Entry(path, len(data), info.st_mtime_ns, digests)
    if path in place.history.paths:
        place.skipped.append(path)
    else:
        place.copied[path] = entry
    return path


def _write_new(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    part = part_name(path)
    try:
        with open(part, "xb") as file:
            file.write(data)
            file.flush()
        publish(part, path)
    finally:
        discard(part)

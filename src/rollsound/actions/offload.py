"""Offload: one card or recorder drive to two or more places at once, read once, proven in every place."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from rollsound.errors import Halted, InputError, StorageError, storage
from rollsound.finding import Area, Finding, Ref, Weight, heaviest
from rollsound.progress import Progress
from rollsound.turnover.copying import CopyOutcome, copy_files
from rollsound.turnover.hashing import new_hasher
from rollsound.turnover.mhl import History, read_history
from rollsound.turnover.place import CopyJob, Place, check_space, only_one
from rollsound.turnover.sealing import carry_history, seal
from rollsound.turnover.walking import Walk, walk

SOURCE = "ASC MHL Specification 1.0"


class FileRecord(BaseModel):
    """One file of the source with the digests it was read with."""

    model_config = ConfigDict(frozen=True)

    path: str
    size_bytes: int
    modified: str
    digests: dict[str, str]


class Destination(BaseModel):
    """What became of one place."""

    model_config = ConfigDict(frozen=True)

    root: str = Field(description="the folder that now stands for the source")
    copied: tuple[str, ...] = Field((), description="written, read back and equal")
    already_there: tuple[str, ...] = Field((), description="lay there, read back and equal")
    already_proven: tuple[str, ...] = Field((), description="lay there as an earlier manifest says; not read again")
    problems: dict[str, str] = Field(default_factory=dict, description="path to the sentence that says why not")
    lost: str = Field("", description="why nothing more could be written here; empty when it could")
    manifest: str = Field("", description="the manifest written now; empty when nothing new was proven")
    read_from_disk: bool = Field(True, description="the system agreed to forget its memory before reading back")
    bytes_written: int = 0

    @property
    def proven_count(self) -> int:
        """Files that stand here as proven; nothing when the place was lost."""
        proven = {*self.copied, *self.already_there, *self.already_proven} - self.problems.keys()
        return 0 if self.lost else len(proven)


class OffloadResult(BaseModel):
    """What an offload did."""

    model_config = ConfigDict(frozen=True)

    source: str
    algorithms: tuple[str, ...]
    file_count: int
    size_bytes: int
    files: tuple[FileRecord, ...] = Field((), description="the files read in this run")
    destinations: tuple[Destination, ...]
    unreadable: dict[str, str] = Field(default_factory=dict, description="files of the source that could not be read")
    left_out: dict[str, str] = Field(default_factory=dict, description="links and system files, and why")
    changed_since_manifest: tuple[str, ...] = Field((), description="not what the source's own manifest says")

    @property
    def complete(self) -> bool:
        """Every file of the source is proven in every place."""
        return not self.unreadable and all(place.proven_count == self.file_count for place in self.destinations)

    @property
    def weight(self) -> Weight:
        """The worst weight found."""
        return heaviest(self.findings)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What must be known before the card is used again."""
        found = [_stop(self.source, p, "unreadable", sentence) for p, sentence in self.unreadable.items()]
        found += [
            _stop(
                self.source, p, "changed", f"{p} is not what the manifest on the source says; it was copied as it is."
            )
            for p in self.changed_since_manifest
        ]
        for place in self.destinations:
            if place.lost:
                found.append(_stop(place.root, "", "lost", place.lost))
            found += [_stop(place.root, p, "not copied", sentence) for p, sentence in place.problems.items()]
            if not place.read_from_disk:
                found.append(_from_memory(place))
        return tuple(found)


def _stop(root: str, path: str, kind: str, what: str) -> Finding:
    where = str(Path(root) / path)
    return Finding(
        area=Area.MEDIA,
        weight=Weight.STOP,
        subject=path or root,
        kind=kind,
        what=what,
        remedy="Keep the card as it is until a second run has finished without this.",
        source="common practice, no source",
        refs=(Ref(path=where),),
    )


def _from_memory(place: Destination) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.WATCH,
        subject=place.root,
        kind="read back from memory",
        what=f"What was read back from {place.root} may have come from the computer's memory instead of the drive.",
        why="This system cannot be asked to forget what it holds in memory.",
        remedy="Unplug the drive, plug it in again and run verify on it.",
        source="common practice, no source",
    )


def offload(
    source: Path,
    destinations: Iterable[Path],
    *,
    algorithm: str = "xxh64",
    also_md5: bool = False,
    name: str = "",
    progress: Progress | None = None,
) -> OffloadResult:
    """Copy a card or drive to every destination at once, prove each copy and write a manifest beside it.

    Parameters
    ----------
    source
        the folder to copy; opened for reading only
    destinations
        folders or drives; in each a folder named after the source is made, or filled up if it is there
    algorithm
        ``xxh64``, ``xxh3``, ``xxh128``, ``md5``, ``sha1`` or ``c4``
    also_md5
        record MD5 as well, where post asks for it
    name
        another name for the folder made in every destination

    Raises
    ------
    InputError
        when there is nothing to copy, or places lie inside one another
    StorageError
        when the source cannot be listed, there is not enough room, or every destination failed; a single
        destination or file that fails is told in the result, and the rest goes on
    BrokenFileError
        when a manifest that lies there already was changed or cut off
    Halted
        when the person asked to stop; what was proven by then has its name and its manifest
    """
    progress = progress or Progress()
    algorithms = tuple(dict.fromkeys((algorithm, *(("md5",) if also_md5 else ()))))
    for each in algorithms:
        new_hasher(each)
    roots = _roots(source, list(destinations), name)
    content = walk(source)
    if not content.files:
        trouble = "".join(f"; {sentence}" for sentence in list(content.problems.values())[:1])
        raise InputError(f"no file lies in {source}{trouble or '; name the card or drive to copy from'}")
    for part in content.parts:
        content.left_out[part.relative_to(source).as_posix()] = "is left from a copy that was cut off"
    own = read_history(source)
    started = datetime.now(UTC)
    jobs = [CopyJob(source / found.path, found.path, found.size, found.modified_ns) for found in content.files]
    with ExitStack() as held:
        places = []
        for root in roots:
            places.append(Place.open(root))
            held.enter_context(only_one(root))
        check_space(places, jobs)
        for place in places:
            place.tidy(jobs)
            if carry_history(source, place.root):
                place.history = read_history(place.root)
        _make_folders(places, content)
        for place in places:
            # Folders below may have manifests of their own; they stay beside what they prove.
            for folder in content.histories:
                carry_history(source / folder, place.root / folder)
        outcome = copy_files(jobs, places, _needed(algorithms, own, places), progress)
        manifests = [_seal_or_note(place, started) for place in places]
    if outcome.halted:
        raise Halted("Stopped as you asked; what was finished is kept, and the same command goes on from there.")
    if all(place.lost for place in places):
        raise StorageError(places[0].lost)
    return _result(source, algorithms, content, outcome, places, manifests, own)


def _roots(source: Path, destinations: list[Path], name: str) -> list[Path]:
    with storage(source):
        if not source.stat() or not source.is_dir():
            raise InputError(f"{source} is a file; name the card or drive, or the folder on it")
    whole = source.resolve()
    if not destinations:
        raise InputError("no destination was named; name the drives to copy to, two or more")
    if name in (".", "..") or any(sign in name for sign in "/\\\0"):
        raise InputError(f"{name!r} is not the name of one folder; give a name without slashes, such as card7")
    roots: list[Path] = []
    for destination in destinations:
        root = destination / (name or whole.name or "card")
        inside = root.resolve()
        if inside == whole or whole in inside.parents or inside in whole.parents:
            raise InputError(f"{root} and {source} lie inside one another; choose a destination on another drive")
        for other in roots:
            if inside == other.resolve() or inside in other.resolve().parents or other.resolve() in inside.parents:
                raise InputError(f"{destination} was named as a destination twice; name each drive once")
        roots.append(root)
    return roots


def _needed(algorithms: tuple[str, ...], own: History, places: list[Place]) -> Callable[[CopyJob], tuple[str, ...]]:
    """For every file the algorithms asked for, and one by which each history knows it already."""
    histories = [own, *(place.history for place in places)]

    def of(job: CopyJob) -> tuple[str, ...]:
        needed = dict.fromkeys(algorithms)
        for history in histories:
            known = history.digests(job.path)
            if known and not known.keys() & needed.keys():
                needed[history.quickest(job.path)] = None
        return tuple(needed)

    return of


def _make_folders(places: list[Place], content: Walk) -> None:
    """Empty folders come along too."""
    for place in places:
        for folder in content.folders:
            try:
                (place.root / folder).mkdir(parents=True, exist_ok=True)
            except OSError as error:
                place.fail(CopyJob(content.root / folder, folder, 0, 0), error)


def _seal_or_note(place: Place, started: datetime) -> str:
    try:
        return seal(place, started)
    except StorageError as error:
        place.lost = place.lost or error.sentence
        return ""


def _result(
    source: Path,
    algorithms: tuple[str, ...],
    content: Walk,
    outcome: CopyOutcome,
    places: list[Place],
    manifests: list[str],
    own: History,
) -> OffloadResult:
    changed = [
        entry.path
        for entry in outcome.read.values()
        if any(own.action(entry.path, name, text) == "failed" for name, text in entry.digests.items())
    ]
    return OffloadResult(
        source=os.fspath(source),
        algorithms=algorithms,
        file_count=len(content.files),
        size_bytes=content.size,
        files=tuple(
            FileRecord(
                path=entry.path,
                size_bytes=entry.size,
                modified=datetime.fromtimestamp(entry.modified_ns / 1e9, UTC).isoformat(timespec="seconds"),
                digests=dict(entry.digests),
            )
            for entry in outcome.read.values()
        ),
        destinations=tuple(
            Destination(
                root=os.fspath(place.root),
                copied=tuple(sorted(place.copied)),
                already_there=tuple(sorted(place.there)),
                already_proven=tuple(sorted(place.skipped)),
                problems=dict(sorted(place.problems.items())),
                lost=place.lost,
                manifest=manifest,
                read_from_disk=place.from_disk,
                bytes_written=place.bytes_written,
            )
            for place, manifest in zip(places, manifests, strict=True)
        ),
        unreadable={**content.problems, **outcome.unreadable},
        left_out=content.left_out,
        changed_since_manifest=tuple(sorted(changed)),
    )

"""Proving a received folder by its manifests: every file good, changed, missing, extra or unreadable."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from rollsound.errors import BrokenFileError, Halted, InputError, RollsoundError, StorageError, storage
from rollsound.finding import Area, Finding, Ref, Weight, heaviest
from rollsound.progress import Progress
from rollsound.turnover.forget import forget_cached
from rollsound.turnover.hashing import new_hasher, written
from rollsound.turnover.mhl import FOLDER, IGNORED, History, read_history
from rollsound.turnover.walking import Found, Walk, walk

BLOCK_BYTES = 4 << 20
SOURCE = "ASC MHL Specification 1.0"


class VerifyResult(BaseModel):
    """What proving a folder found. Paths are relative to ``root`` with ``/`` between their parts."""

    model_config = ConfigDict(frozen=True)

    root: str
    good: tuple[str, ...] = Field((), description="bytes are those of the first recorded digest")
    changed: tuple[str, ...] = Field((), description="bytes are others than recorded")
    missing: tuple[str, ...] = Field((), description="recorded and not there")
    extra: tuple[str, ...] = Field((), description="there and not recorded")
    unreadable: dict[str, str] = Field(default_factory=dict, description="path to the sentence that says why")
    unfinished: tuple[str, ...] = Field((), description="files of a run that was cut off")
    manifests: tuple[str, ...] = Field((), description="the manifests it was proven by, oldest first")
    size_bytes: int = Field(0, description="of the good files together")

    @property
    def proven(self) -> bool:
        """Every recorded file is there and unchanged, and nothing could not be read."""
        return not (self.changed or self.missing or self.unreadable)

    @property
    def weight(self) -> Weight:
        """The worst weight found."""
        return heaviest(self.findings)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """One finding for every file that is not good, or a single one that says that all are."""
        found = [
            *(self._about(p, "changed", Weight.STOP, _CHANGED.format(path=p)) for p in self.changed),
            *(self._about(p, "missing", Weight.STOP, _MISSING.format(path=p)) for p in self.missing),
            *(self._about(p, "unreadable", Weight.STOP, sentence) for p, sentence in self.unreadable.items()),
            *(self._about(p, "extra", Weight.WATCH, _EXTRA.format(path=p)) for p in self.extra),
            *(self._about(p, "unfinished", Weight.WATCH, _UNFINISHED.format(path=p)) for p in self.unfinished),
        ]
        if not found:
            files = "1 file is" if len(self.good) == 1 else f"All {len(self.good)} files are"
            found.append(self._about(Path(self.root).name, "proven", Weight.FINE, f"{files} as recorded."))
        return tuple(found)

    def _about(self, path: str, kind: str, weight: Weight, what: str) -> Finding:
        return Finding(
            area=Area.MEDIA,
            weight=weight,
            subject=path,
            kind=kind,
            what=what,
            remedy="" if weight is Weight.FINE else _REMEDIES.get(kind, ""),
            source=SOURCE,
            refs=(Ref(path=str(Path(self.root) / path)),),
        )


_CHANGED = "{path} holds other bytes than when its digest was recorded."
_MISSING = "{path} is recorded in the manifest and is not there."
_EXTRA = "{path} is there but stands in no manifest, so nothing proves it."
_UNFINISHED = "{path} is left from a copy that was cut off."
_REMEDIES = {
    "changed": "Have the file sent again from a proven copy, and do not use this one.",
    "missing": "Have the file sent again from a proven copy.",
    "extra": "Ask who added it; it is not part of what was handed over.",
    "unfinished": "Run the same offload again; it finishes the file.",
}


def verify_folder(root: Path, progress: Progress | None = None) -> VerifyResult:
    """Prove every file below ``root`` by the manifests that lie there. Reads only; needs no network.

    Manifests may lie in the root or in folders below it (a drive that holds several cards).

    Raises
    ------
    InputError
        when there is no manifest to prove anything by
    BrokenFileError
        when a manifest was changed, lost or cut off
    StorageError
        when the root cannot be read
    Halted
        when the person asked to stop
    """
    progress = progress or Progress()
    with storage(root):
        if root.stat() and not root.is_dir():
            raise InputError(f"{root} is a file; name the folder that was sent")
    histories = _histories(root)
    ignored = tuple(dict.fromkeys(p for h in histories.values() for p in (*h.ignored, *IGNORED)))
    content = walk(root, ignored)
    return _Proof(root, content, histories, progress).run()


def _histories(root: Path) -> dict[str, History]:
    places = walk(root).histories
    found = {place: read_history(root / place) for place in sorted(places)}
    if not any(history.generations or history.loose for history in found.values()):
        raise InputError(
            f"{root} holds no manifest (no folder named {FOLDER}) to prove anything by; name the folder that was sent"
        )
    for place, history in found.items():
        for name in history.loose:
            path = root / place / FOLDER / name
            raise BrokenFileError(
                f"the manifest {path} is not in its chain: the run that wrote it was cut off, so run it again or "
                "have the folder sent again",
                path=str(path),
            )
    return {place: history for place, history in found.items() if history.generations}


class _Proof:
    """One run over one folder."""

    def __init__(self, root: Path, content: Walk, histories: dict[str, History], progress: Progress) -> None:
        self.root, self.content, self.histories, self.progress = root, content, histories, progress
        self.done_bytes = self.good_bytes = 0
        self.lists: dict[str, list[str]] = {"good": [], "changed": [], "extra": []}
        self.unreadable = dict(content.problems)
        self.buffer = memoryview(bytearray(BLOCK_BYTES))
        self.seen: set[tuple[str, str]] = set()
        # A system may store a name in another Unicode form than it was given.
        self.forms = {
            (place, unicodedata.normalize("NFC", path)): path
            for place, history in histories.items()
            for path in history.paths
        }

    def run(self) -> VerifyResult:
        for found in self.content.files:
            try:
                verdict = self._judge(found)
                self.lists[verdict].append(found.path)
                self.good_bytes += found.size if verdict == "good" else 0
            except Halted:
                raise
            except RollsoundError as error:
                self.unreadable[found.path] = error.sentence
        missing = [
            f"{place}/{path}" if place else path
            for place, history in self.histories.items()
            for path in history.paths
            if (place, path) not in self.seen
        ]
        return VerifyResult(
            root=str(self.root),
            good=tuple(self.lists["good"]),
            changed=tuple(self.lists["changed"]),
            extra=tuple(self.lists["extra"]),
            missing=tuple(sorted(path for path in set(missing) if path not in self.unreadable)),
            unreadable=self.unreadable,
            unfinished=tuple(str(part.relative_to(self.root).as_posix()) for part in self.content.parts),
            manifests=tuple(
                f"{place}/{generation.name}" if place else generation.name
                for place, history in self.histories.items()
                for generation in history.generations
            ),
            size_bytes=self.good_bytes,
        )

    def _judge(self, found: Found) -> str:
        self._tell(found, 0)
        known = self._known_as(found.path)
        self.seen.update(known)
        wanted: dict[str, str] = {}
        same = True
        for place, path in known:
            history = self.histories[place]
            record = history.record(path)
            algorithm = history.quickest(path)
            size_agrees = record is None or record.size in (None, found.size)
            text = history.digests(path).get(algorithm, "")
            same = same and size_agrees and text != "" and wanted.setdefault(algorithm, text) == text
        if not known or not same:
            self._tell(found, found.size)
            return "changed" if known else "extra"
        return "good" if self._digests(found, list(wanted)) == wanted else "changed"

    def _known_as(self, path: str) -> list[tuple[str, str]]:
        """Every history that knows a file (a folder in a folder may have its own), and the path it knows it by."""
        known = []
        for place, history in self.histories.items():
            inside = path.removeprefix(f"{place}/") if place else path
            if place and inside == path:
                continue
            other = self.forms.get((place, unicodedata.normalize("NFC", inside)))
            if inside in history.paths:
                known.append((place, inside))
            elif other is not None and (place, other) not in self.seen:
                known.append((place, other))
        return known

    def _digests(self, found: Found, algorithms: list[str]) -> dict[str, str]:
        path = self.root / found.path
        hashers = {name: new_hasher(name) for name in algorithms}
        with storage(path), open(path, "rb", buffering=0) as file:
            forget_cached(file.fileno())
            while count := file.readinto(self.buffer):
                for hasher in hashers.values():
                    hasher.update(self.buffer[:count])
                self._tell(found, count)
            if os.fstat(file.fileno()).st_size != found.size:
                raise StorageError(f"{path} changed while it was read; wait until nothing writes to it", path=str(path))
        return {name: written(name, hasher.digest()) for name, hasher in hashers.items()}

    def _tell(self, found: Found, size_bytes: int) -> None:
        self.done_bytes += size_bytes
        self.progress.tell("verify", self.done_bytes, max(self.content.size, 1), "bytes", found.path)

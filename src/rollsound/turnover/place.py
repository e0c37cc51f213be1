"""One place that files are copied to: what lies there already, what is written, what is proven, what went wrong."""

from __future__ import annotations

import errno
import os
import shutil
import stat
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from pathlib import Path

from rollsound.alone import alone
from rollsound.errors import RollsoundError, StorageError, storage, storage_error
from rollsound.quantities import show_size
from rollsound.turnover.mhl import FOLDER, Entry, History, read_history
from rollsound.turnover.walking import LOCK, PART, walk
from rollsound.wave.disk import discard

# File systems of cards count times in steps of two seconds.
TIME_STEP_NS = 2_000_000_000
SPARE_BYTES = 64 << 20
SPARE_SHARE = 0.01
# After these nothing more can be written to a place.
_PLACE_IS_LOST = {
    errno.ENOSPC,
    errno.EDQUOT,
    errno.EIO,
    errno.ENODEV,
    errno.ENXIO,
    errno.EROFS,
    errno.ESTALE if hasattr(errno, "ESTALE") else errno.EIO,
}


@dataclass(frozen=True)
class CopyJob:
    """One file to copy: from where, to which path below every place, and its size and time of change."""

    source: Path
    path: str
    size: int
    modified_ns: int


class Plan(Enum):
    """What is to be done for one file in one place."""

    WRITE = "write"
    COMPARE = "compare"
    NOTHING = "nothing"


@dataclass
class Place:
    """State of one place. Lists are filled by its own threads and read when they have ended."""

    root: Path
    history: History
    device: int
    copied: dict[str, Entry] = field(default_factory=dict)
    there: dict[str, Entry] = field(default_factory=dict)
    skipped: list[str] = field(default_factory=list)
    problems: dict[str, str] = field(default_factory=dict)
    lost: str = ""
    from_disk: bool = True
    bytes_written: int = 0

    @classmethod
    def open(cls, root: Path) -> Place:
        """Make the folder, check it, and read its manifests. Raises StorageError, BrokenFileError."""
        with storage(root):
            root.mkdir(parents=True, exist_ok=True)
            device = root.stat().st_dev
        return cls(root, read_history(root), device)

    @property
    def proven(self) -> set[str]:
        """Paths that stand here as proven, now or by an earlier run."""
        return {*self.copied, *self.there, *self.skipped}

    @property
    def settled(self) -> set[str]:
        """Paths that are proven here, or of which it is known why not."""
        return self.proven | self.problems.keys()

    def plan(self, job: CopyJob) -> Plan:
        """What this place needs of a file. A different file of this name is a problem, and stays."""
        if self.lost:
            return Plan.NOTHING
        path = self.root / job.path
        try:
            if self.root.stat().st_dev != self.device:
                raise OSError(errno.ENODEV, "another drive is here")
            found = os.lstat(path)
        except FileNotFoundError:
            return Plan.WRITE if self.root.is_dir() else self.fail(job, OSError(errno.ENODEV, "gone"))
        except OSError as error:
            return self.fail(job, error)
        if not stat.S_ISREG(found.st_mode) or found.st_size != job.size:
            return self.keep_theirs(job)
        if abs(found.st_mtime_ns - job.modified_ns) <= TIME_STEP_NS and self._is_recorded(job):
            self.skipped.append(job.path)
            return Plan.NOTHING
        return Plan.COMPARE

    def _is_recorded(self, job: CopyJob) -> bool:
        record = self.history.record(job.path)
        if record is None or record.size != job.size or not self.history.digests(job.path):
            return False
        if any(action == "failed" for _, action in record.digests.values()):
            return False
        try:
            seconds = datetime.fromisoformat(record.modified).timestamp()
        except ValueError:
            return False
        return abs(seconds * 1e9 - job.modified_ns) <= TIME_STEP_NS

    def keep_theirs(self, job: CopyJob) -> Plan:
        """A different file has the name already."""
        self.problems[job.path] = (
            f"{self.root / job.path} is there already and holds something else; it was left as it is and {job.source} "
            "was not copied there, so move it away or choose another place, then run the same command again"
        )
        return Plan.NOTHING

    def fail(self, job: CopyJob, error: Exception) -> Plan:
        """Note what went wrong with one file; some errors mean that the whole place is lost."""
        if isinstance(error, RollsoundError):
            sentence, number = error.sentence, error.detail.get("errno")
        else:
            assert isinstance(error, OSError)
            sentence, number = storage_error(error, self.root / job.path).sentence, error.errno
            if error.errno == errno.EINVAL:
                sentence = f"{self.root / job.path} cannot be a name on this disk; choose a disk that takes such names"
        self.problems[job.path] = sentence
        if number in _PLACE_IS_LOST:
            self.lost = self.lost or sentence
        return Plan.NOTHING

    def tidy(self, jobs: list[CopyJob]) -> None:
        """Remove what an earlier run of ours left half-written."""
        for folder in self.root.glob(f".{FOLDER}.part-*"):
            shutil.rmtree(folder, ignore_errors=True)
        for part in (self.root / FOLDER).glob(".*"):  # of a manifest: the next one has another name
            if PART.search(part.name):
                discard(part)
        expected = {job.path for job in jobs}
        names = {path.rpartition("/")[0] for path in expected}
        for part in walk(self.root).parts:
            path = part.relative_to(self.root).as_posix()
            whole = PART.sub("", path)
            # Long names were shortened to make room for the ending.
            if whole in expected or (path.rpartition("/")[0] in names and any(p.startswith(whole) for p in expected)):
                discard(part)


def check_space(places: list[Place], jobs: list[CopyJob]) -> None:
    """Raise StorageError unless every drive has room for what it lacks, and a margin."""
    needs: dict[int, int] = {}
    for place in places:
        absent = sum(job.size for job in jobs if not os.path.lexists(place.root / job.path))
        needs[place.device] = needs.get(place.device, 0) + absent
    for place in places:
        need = needs[place.device]
        with storage(place.root):
            free = shutil.disk_usage(place.root).free
        margin = SPARE_BYTES + int(need * SPARE_SHARE)
        if need and need + margin > free:
            raise StorageError(
                f"{place.root} has {show_size(free)} free and needs {show_size(need + margin)} for this; "
                "free some space or choose another drive, then run the same command again",
                path=str(place.root),
                needed_bytes=need + margin,
                free_bytes=free,
            )


def only_one(root: Path) -> AbstractContextManager[None]:
    """Let only one run at a time write below ``root``. A run that was killed lets go by itself."""
    return alone(root / LOCK, f"another run is writing to {root} at this moment; wait until it has ended")

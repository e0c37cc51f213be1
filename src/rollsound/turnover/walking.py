"""What lies in a folder: its files and folders, what is passed over and why, and what could not be read."""

from __future__ import annotations

import fnmatch
import os
import re
import stat
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rollsound.errors import storage, storage_error
from rollsound.turnover.mhl import FOLDER, IGNORED

# Files of ours that were still being written when a run was cut off.
PART = re.compile(r"\.part-[0-9a-f]{8}$")
LOCK = ".offload-lock"


@dataclass(frozen=True)
class Found:
    """A file: path relative to the root with ``/`` between its parts, size and time of change."""

    path: str
    size: int
    modified_ns: int


@dataclass
class Walk:
    """A folder's content. ``left_out`` and ``problems`` map a relative path to a sentence."""

    root: Path
    files: list[Found] = field(default_factory=list)
    folders: list[str] = field(default_factory=list)
    left_out: dict[str, str] = field(default_factory=dict)
    problems: dict[str, str] = field(default_factory=dict)
    parts: list[Path] = field(default_factory=list)
    histories: list[str] = field(default_factory=list)

    @property
    def size(self) -> int:
        """Bytes of all files."""
        return sum(found.size for found in self.files)


def walk(root: Path, ignored: Sequence[str] = IGNORED) -> Walk:
    """List a folder without following links, in the order of names.

    Raises
    ------
    StorageError
        when the root itself cannot be read; what cannot be read below it is a problem of the walk
    """
    result = Walk(root)
    with storage(root):
        os.scandir(root).close()
    pending = [""]
    while pending:
        folder = pending.pop()
        try:
            with os.scandir(root / folder) as found:
                entries = sorted(found, key=lambda entry: entry.name)
        except OSError as error:
            result.problems[folder] = storage_error(error, root / folder).sentence
            continue
        pending += [path for entry in entries if (path := _take(result, folder, entry, ignored))]
    result.files.sort(key=lambda found: found.path)
    result.folders.sort()
    return result


def _take(result: Walk, folder: str, entry: os.DirEntry[str], ignored: Sequence[str]) -> str:
    """Sort one entry in; returns its path when it is a folder to look into."""
    path = f"{folder}/{entry.name}" if folder else entry.name
    try:
        info = entry.stat(follow_symlinks=False)
    except OSError as error:
        result.problems[path] = storage_error(error, result.root / path).sentence
        return ""
    is_folder = stat.S_ISDIR(info.st_mode)
    if is_folder and entry.name == FOLDER:
        result.histories.append(folder)
    elif entry.name == LOCK:
        pass
    elif stat.S_ISLNK(info.st_mode):
        result.left_out[path] = "is a link to somewhere else, and links are not followed"
    elif is_ignored(path, is_folder, ignored):
        result.left_out[path] = "belongs to the system, not to the recordings"
    elif is_folder:
        result.folders.append(path)
        return path
    elif not stat.S_ISREG(info.st_mode):
        result.left_out[path] = "is neither a file nor a folder"
    elif PART.search(entry.name):
        result.parts.append(result.root / path)
    elif trouble := _unwritable(path):
        result.problems[path] = trouble
    else:
        result.files.append(Found(path, info.st_size, info.st_mtime_ns))
    return ""


def _unwritable(path: str) -> str:
    """Why a name cannot stand in a manifest; empty when it can. XML holds no control signs and no halves of letters."""
    if path.startswith("\\") or any(
        ord(letter) < 32 or 0xD800 <= ord(letter) <= 0xDFFF or ord(letter) in (0xFFFE, 0xFFFF) for letter in path
    ):
        coding = sys.getfilesystemencoding()
        cure = "rename the file and run again"
        if coding.lower().replace("-", "") != "utf8":  # then the name may well be sound
            cure = f"this terminal reads names as {coding}, so first try 'export LC_ALL=C.UTF-8 PYTHONUTF8=1'"
        return f"the name {path!r} is not readable text and cannot stand in a manifest; {cure}"
    return ""


def is_ignored(path: str, is_folder: bool, patterns: Sequence[str]) -> bool:
    """Whether a path matches one of a manifest's ignore patterns: names, ``*``, ``folder/`` and ``/rooted`` ones."""
    name = path.rpartition("/")[2]
    for pattern in patterns:
        if pattern.endswith("/") and not is_folder:
            continue
        plain = pattern.rstrip("/")
        rooted = plain.removeprefix("**/")
        if "/" in rooted:
            if fnmatch.fnmatchcase(path, rooted.lstrip("/")):
                return True
        elif fnmatch.fnmatchcase(name, rooted):
            return True
    return False

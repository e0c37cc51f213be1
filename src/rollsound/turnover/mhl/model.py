"""What a media hash list holds: files with their digests, manifests, and the history they make."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from rollsound.errors import InputError
from rollsound.turnover.hashing import QUICKEST

FOLDER = "ascmhl"
CHAIN = "ascmhl_chain.xml"
ENDING = ".mhl"
# What the systems of laptops leave on every drive they touch; never recordings.
SYSTEM_FILES = (
    ".DS_Store",
    ".Spotlight-V100/",
    ".Trashes/",
    ".fseventsd/",
    ".TemporaryItems/",
    "System Volume Information/",
    "$RECYCLE.BIN/",
    "Thumbs.db",
    "desktop.ini",
)
IGNORED = (".DS_Store", "ascmhl", "ascmhl/", *SYSTEM_FILES[1:])

NAMESPACE = "urn:ASC:MHL:v2.0"
CHAIN_NAMESPACE = "urn:ASC:MHL:DIRECTORY:v2.0"


@dataclass(frozen=True)
class Entry:
    """One file as it stands on the disk now: path relative to the root, ``/`` between its parts, and its digests."""

    path: str
    size: int
    modified_ns: int
    digests: Mapping[str, str]


@dataclass(frozen=True)
class Record:
    """One file as one manifest has it; ``digests`` maps the algorithm to (written digest, action)."""

    path: str
    size: int | None
    modified: str
    digests: Mapping[str, tuple[str, str]]
    previous_path: str = ""


@dataclass(frozen=True)
class Generation:
    """One manifest."""

    number: int
    name: str
    created: str
    process: str
    records: Mapping[str, Record]
    folders: Mapping[str, Mapping[str, tuple[str, str]]]
    ignored: tuple[str, ...] = ()


@dataclass(frozen=True)
class History:
    """All manifests of one root, oldest first. ``loose`` names whole manifests that the chain does not list (yet)."""

    root: Path
    generations: tuple[Generation, ...] = ()
    chain: tuple[tuple[str, str], ...] = ()
    loose: tuple[str, ...] = ()
    _first: dict[str, dict[str, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for generation in self.generations:
            for record in generation.records.values():
                if record.previous_path and record.previous_path in self._first:
                    self._first[record.path] = self._first.pop(record.previous_path)
                known = self._first.setdefault(record.path, {})
                for algorithm, (text, action) in record.digests.items():
                    # A digest that failed may never prove anything later.
                    if action != "failed":
                        known.setdefault(algorithm, text)

    @property
    def paths(self) -> frozenset[str]:
        """Every file that the history knows, under its newest name."""
        return frozenset(self._first)

    @property
    def ignored(self) -> tuple[str, ...]:
        """The patterns of the newest manifest."""
        return (self.generations[-1].ignored if self.generations else ()) or IGNORED

    def digests(self, path: str) -> Mapping[str, str]:
        """The digests that prove a file: the first recorded of every algorithm."""
        return self._first.get(path, {})

    def record(self, path: str) -> Record | None:
        """The newest record of a file."""
        return next((g.records[path] for g in reversed(self.generations) if path in g.records), None)

    def quickest(self, path: str) -> str:
        """The quickest algorithm that a file can be proven by; empty when there is none."""
        return next((name for name in QUICKEST if name in self.digests(path)), "")

    def action(self, path: str, algorithm: str, text: str) -> str:
        """What a digest found now means: original, verified or failed."""
        known = self.digests(path)
        if not known:
            return "original"
        return "verified" if known.get(algorithm, text) == text else "failed"


def check_path(path: str, where: str) -> str:
    """The path, if it may stand in a manifest: relative, inside the root. Raises InputError otherwise."""
    parts = PurePosixPath(path).parts
    if not parts or path.startswith(("/", "\\")) or ".." in parts or re.match(r"^[A-Za-z]:[\\/]", path):
        raise InputError(
            f"the path '{path}'{where} does not lie inside the folder; ask for the folder to be sent again"
        )
    return path

"""The one tree of errors.

RollsoundError                 one sentence for the person, detail for the program
├── InputError                 what was given cannot be used (exit 2)
│   ├── BrokenFileError        a file whose bytes cannot be read as what it should be
│   └── MistakesError          a document with several mistakes, all of them reported
├── StorageError               the disk: full, gone, not permitted, name too long (exit 2)
└── Halted                     the person asked to stop; work so far is kept (exit 130)
"""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path


class RollsoundError(Exception):
    """Base of everything a person may be told. ``str(error)`` is one sentence: what, where, what to do."""

    exit_code = 2

    def __init__(self, sentence: str, **detail: object) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.detail = detail


class InputError(RollsoundError, ValueError):
    """What was given cannot be used."""


class BrokenFileError(InputError):
    """A file whose bytes are not what its name or header promises; ``detail`` holds ``path`` and perhaps ``offset``."""


@dataclass(frozen=True)
class Mistake:
    """One mistake in a document: where it stands (``line`` counts from 1, 0 if unknown) and what to do."""

    place: str
    line: int
    sentence: str


class MistakesError(InputError):
    """A document with one or more mistakes; every one of them is in ``mistakes``."""

    def __init__(self, document: str, mistakes: list[Mistake]) -> None:
        self.mistakes = mistakes
        lines = "; ".join(
            f"line {m.line}, {m.place}: {m.sentence}" if m.line else f"{m.place}: {m.sentence}" for m in mistakes
        )
        count = "1 mistake" if len(mistakes) == 1 else f"{len(mistakes)} mistakes"
        super().__init__(f"{document} has {count}: {lines}", document=document)


class StorageError(RollsoundError, OSError):
    """The place to read from or write to failed: full, gone, not permitted, name too long."""


class Halted(RollsoundError):
    """The person asked to stop. What was finished is kept and a second run goes on from there."""

    exit_code = 130


_STORAGE_SENTENCES = {
    errno.ENOSPC: "no space is left on the disk that holds {path}; free some, then run the same command again",
    errno.EDQUOT: "your quota on the disk that holds {path} is used up; free some, then run the same command again",
    errno.EACCES: "{path} may not be opened with your rights; change its permissions or choose another place",
    errno.EPERM: "{path} may not be changed with your rights; change its permissions or choose another place",
    errno.EROFS: "the disk that holds {path} is read-only; choose another place",
    errno.ENAMETOOLONG: "the name {path} is longer than this disk allows; choose a shorter folder",
    errno.ENOENT: "{path} is not there; check the name, and that the drive is connected",
    errno.EIO: "the disk failed at {path}; check the drive and its cable, then run the same command again",
    errno.ENODEV: "the drive that holds {path} is gone; connect it again and run the same command",
    errno.ENXIO: "the drive that holds {path} is gone; connect it again and run the same command",
    errno.EISDIR: "{path} is a folder where a file is wanted; name a file",
    errno.ENOTDIR: "{path} runs through something that is a file, not a folder; check the name",
    errno.EEXIST: "{path} is there already and is never overwritten; choose another name or move it away",
}


def storage_error(error: OSError, path: Path | str) -> StorageError:
    """Turn an OSError into the sentence a person needs."""
    template = _STORAGE_SENTENCES.get(
        error.errno or 0, "{path} could not be read or written (" + (error.strerror or str(error)) + ")"
    )
    return StorageError(template.format(path=path), path=str(path), errno=error.errno)


@contextmanager
def storage(path: Path | str) -> Iterator[None]:
    """Door around disk work: any OSError inside leaves as a StorageError that names ``path``."""
    try:
        yield
    except RollsoundError:
        raise
    except OSError as error:
        raise storage_error(error, error.filename or path) from error

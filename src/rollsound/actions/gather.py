"""Finding the audio files that somebody means by naming files and folders."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable
from pathlib import Path

from rollsound.errors import InputError, storage

LARGEST_TEXT_BYTES = 64_000_000
AUDIO_ENDINGS = frozenset({".wav", ".wave", ".bwf", ".rf64", ".bw64"})


def audio_files(paths: Iterable[Path], *, leave_out: Iterable[Path] = ()) -> list[Path]:
    """Every audio file named or lying in a named folder, each once, in the order of their names.

    A file named outright is taken whatever its ending; in folders only audio endings count, and names that begin
    with a dot (the shadows that some systems leave on cards, and half-written files of ours) are passed over.

    Raises
    ------
    StorageError
        when a path is not there or may not be read
    InputError
        when nothing is found
    """
    named = list(paths)
    skip = {path.resolve() for path in leave_out}
    found: dict[Path, None] = {}
    for path in named:
        with storage(path):
            mode = path.stat()
        if path.is_dir():
            for file in _walk(path, skip):
                found.setdefault(file)
        elif mode:
            found.setdefault(path)
    if not found:
        where = ", ".join(str(path) for path in named) or "nothing"
        raise InputError(f"no audio file lies in {where}; name a folder or files that end in .wav")
    return list(found)


def _walk(folder: Path, skip: set[Path]) -> list[Path]:
    def failed(error: OSError) -> None:
        raise error

    files: list[Path] = []
    with storage(folder):
        for place, folders, names in os.walk(folder, onerror=failed):
            here = Path(place)
            wanted = (name for name in folders if not name.startswith(".") and (here / name).resolve() not in skip)
            folders[:] = sorted(wanted, key=in_order)
            files += [
                here / name
                for name in sorted(names, key=in_order)
                if not name.startswith(".") and Path(name).suffix.lower() in AUDIO_ENDINGS
            ]
    return files


def refuse_unreadable_names(paths: Iterable[Path]) -> None:
    """Raise InputError for a name that is no text, and so can stand in no document of ours."""
    for path in paths:
        if any(0xD800 <= ord(letter) <= 0xDFFF for letter in str(path)):
            coding = sys.getfilesystemencoding()
            cure = "rename the file, or a copy of it"
            if coding.lower().replace("-", "") != "utf8":  # then the name may well be sound
                cure = f"this terminal reads names as {coding}, so first try 'export LC_ALL=C.UTF-8 PYTHONUTF8=1'"
            raise InputError(f"the name {str(path)!r} is not readable text; {cure}")


def read_text_file(path: Path) -> str:
    """Read a small text file of UTF-8.

    Raises
    ------
    StorageError
        when it is not there or cannot be read
    InputError
        when it is no file, far too large, or no text
    """
    with storage(path):
        size = path.stat().st_size
        if not path.is_file() and not path.is_dir():
            raise InputError(f"{path} is neither a file nor a folder, but a pipe or a device; name a file")
        if size > LARGEST_TEXT_BYTES:
            raise InputError(f"{path} is far too large for what is wanted here; name another file")
        data = path.read_bytes()
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not a text file in UTF-8; name the right file, or save it as UTF-8") from error


def in_order(name: str) -> list[tuple[int, int, str]]:
    """Sort key that puts T2 before T10, as people count."""
    parts = re.split(r"(\d+)", name.casefold())
    return [(1, int(part), "") if part.isdecimal() else (0, 0, part) for part in parts]

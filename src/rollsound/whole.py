"""A small file is there whole or not at all: written beside its place, flushed, then given its name in one step."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from rollsound.errors import storage_error


def write_whole(path: Path, data: bytes | str) -> None:
    """Write a small file of ours (a result, an index, a report), replacing an older one of this name in one step.

    Killed or refused at any moment, the old file or the new one is there. Not for recordings: they are never replaced.

    Raises
    ------
    StorageError
        when the disk fails or is full
    """
    raw = data.encode("utf-8", "surrogatepass") if isinstance(data, str) else data
    part = path.with_name(f".{path.name[:200]}.part-{secrets.token_hex(4)}")
    try:
        with open(part, "xb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except BaseException as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        if isinstance(error, OSError):  # name what was wanted, not the hidden part
            raise storage_error(error, path) from error
        raise

"""What a show's folder keeps that can be made again: measurements, overviews, pictures."""

from __future__ import annotations

import os
from pathlib import Path

from rollsound.errors import storage
from rollsound.wave.disk import discard, part_name, publish

MEDIA_FOLDER = "media"


def index_folder(folder: Path) -> Path:
    """Where a show keeps measurements and waveforms."""
    return folder / MEDIA_FOLDER


def write_once(path: Path, data: bytes) -> None:
    """Write a file whole, unless it is there.

    Raises
    ------
    StorageError
        when the disk does not take it
    """
    if path.exists():
        return
    with storage(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        part = part_name(path)
        try:
            with open(part, "xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            publish(part, path)
        finally:
            discard(part)

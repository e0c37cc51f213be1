"""Closing a place: its new manifest, made of what was proven there in this run."""

from __future__ import annotations

import os
import secrets
import shutil
from datetime import datetime
from pathlib import Path

from rollsound.errors import storage
from rollsound.turnover.mhl import CHAIN, FOLDER, IGNORED, has_history, read_history, write_generation
from rollsound.turnover.place import Place
from rollsound.turnover.walking import walk


def seal(place: Place, when: datetime, process: str = "transfer", comment: str = "") -> str:
    """Append a manifest of everything proven in this run; returns its path, empty when nothing was proven.

    Folder digests are left out where the place holds files that no manifest knows.
    """
    entries = {**place.there, **place.copied}
    if not entries:
        return ""
    content = walk(place.root, tuple(dict.fromkeys((*place.history.ignored, *IGNORED))))
    known = place.history.paths | entries.keys()
    whole = {found.path for found in content.files} == known and not content.problems and not content.left_out
    path = write_generation(
        place.root,
        entries.values(),
        process,
        folders=content.folders,
        folder_hashes=whole,
        when=when,
        history=place.history,
        comment=comment,
    )
    return str(path)


def carry_history(source: Path, root: Path) -> bool:
    """Take the source's manifests along to a place that has none yet, all or nothing; true when done."""
    if not has_history(source) or has_history(root):
        return False
    history = read_history(source)
    if not history.chain:
        return False
    part = root / f".{FOLDER}.part-{secrets.token_hex(4)}"
    with storage(part):
        try:
            part.mkdir(parents=True)
            for name in (*(name for name, _ in history.chain), CHAIN):
                data = (source / FOLDER / name).read_bytes()
                with open(part / name, "xb") as file:
                    file.write(data)
                    file.flush()
                    os.fsync(file.fileno())
            os.rename(part, root / FOLDER)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    return True

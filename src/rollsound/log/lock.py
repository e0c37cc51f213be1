"""One server at a time has a show."""

from __future__ import annotations

from pathlib import Path

from rollsound.alone import Held, hold
from rollsound.errors import InputError

SERVING = ".serving"


def serve_alone(folder: Path, address: str) -> Held:
    """Take a show for a server that answers at ``address``; hold what is returned for as long as it runs.

    Raises
    ------
    InputError
        when another server has it, with that one's address
    StorageError
        when the folder cannot be written
    """
    held = hold(folder / SERVING, address)
    if held is None:
        other = served_at(folder)
        raise InputError(
            f"another server has {folder} open" + (f" at {other}" if other else "") + "; use that one, stop it first, "
            "or open the show here with --read-only",
            path=str(folder),
            address=other,
        )
    return held


def served_at(folder: Path) -> str:
    """The address that the server of a show wrote down; empty when it wrote none or none is there."""
    try:
        return (folder / SERVING).read_text("utf-8", "replace").strip()
    except OSError:
        return ""

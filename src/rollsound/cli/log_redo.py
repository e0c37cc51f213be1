"""`rollsound log redo`: do again what a person took back in the log."""

from __future__ import annotations

from pathlib import Path

from rollsound.actions import daylog
from rollsound.cli.frame import AsJson
from rollsound.cli.log_fields import As, tell_written


def redo_command(show: Path, /, *, name: As = "", json: AsJson = False) -> int:
    """Do again what you took back last in the log.

    Example: rollsound log redo northbound-ferry/ --as Mina

    Parameters
    ----------
    show
        The show's folder.
    """
    return tell_written(daylog.redo(daylog.LogAsked(show, name)), json)

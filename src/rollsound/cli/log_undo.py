"""`rollsound log undo`: take back a person's last act in the log."""

from __future__ import annotations

from pathlib import Path

from rollsound.actions import daylog
from rollsound.cli.frame import AsJson
from rollsound.cli.log_fields import As, tell_written


def undo_command(show: Path, /, *, name: As = "", json: AsJson = False) -> int:
    """Take back your last act in the log that still stands. What somebody else changed since is named, and left.

    Example: rollsound log undo northbound-ferry/ --as Mina

    Parameters
    ----------
    show
        The show's folder.
    """
    return tell_written(daylog.undo(daylog.LogAsked(show, name)), json)

"""`rollsound log add`: write a line into the log of the day."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import daylog
from rollsound.cli.frame import AsJson
from rollsound.cli.log_fields import As, At, Day, read_pairs, tell_written


def add_command(
    show: Path,
    kind: Annotated[str, Parameter(help="take, wearing, battery, changeover, jam, temperature, note or promise.")],
    /,
    *fields: Annotated[
        str, Parameter(help="What it says, as name=value; track_notes.3=rustle is the note of a track.")
    ],
    day: Day = "",
    at: At = "",
    name: As = "",
    json: AsJson = False,
) -> int:
    """Write a line into the log of the day. Works beside a server; the same words twice are two lines.

    Example: rollsound log add northbound-ferry/ take scene=31 slate=214 take=2 circled=yes "note=Ramp at the end"

    Fields of a take: scene, slate, take, kind (take, wild track, room tone, series, false start, no good), sound_roll,
    timecode_in, timecode_out, files, circled, note, track_notes, songs, promise.
    Of others: wearing pack, character, mic_place, power_mw; battery item, pack, what, percent; changeover changeover,
    position; jam device, source, timecode, what, offset_frames; temperature temperature_c, site; note text, track,
    take; promise text, scene, characters, kept_by. All but the last two have a note.

    Parameters
    ----------
    show
        The show's folder.
    """
    result = daylog.add(daylog.LogAsked(show, name), kind, read_pairs(fields), day=day, at=at)
    return tell_written(result, json)

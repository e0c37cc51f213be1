"""From what recorder files say about themselves, and the log's row if there is one, to a take of the turnover."""

from __future__ import annotations

from collections.abc import Sequence

from rollsound.errors import InputError
from rollsound.finding import Finding
from rollsound.log import TakeRow
from rollsound.timecode import Rate, timecode_of_samples
from rollsound.turnover.model import Rebuilt, Take, Track
from rollsound.wave import WaveInfo

_KINDS = {
    "WILD_TRACK": "wild track",
    "NO_GOOD": "no good",
    "FALSE_START": "false start",
}


def take_of(
    infos: Sequence[WaveInfo],
    row: TakeRow | None = None,
    *,
    rate: Rate | None = None,
    wearers: dict[str, tuple[str, str]] | None = None,
    findings: Sequence[Finding] = (),
    rebuilt: Sequence[Rebuilt] = (),
) -> Take:
    """One take.

    Parameters
    ----------
    infos
        its files: one poly file, or its mono files in track order
    row
        the log's line; what it says goes before what the file says
    rate
        the frame rate where the file does not say
    wearers
        track name to (character, performer)

    Raises
    ------
    InputError
        when there is no file
    """
    if not infos:
        raise InputError("a take needs at least one file; name the recorder's file")
    first = infos[0]
    frame_rate = first.rate or rate
    start = end = ""
    frames = max(info.frames for info in infos)
    if first.has_timecode and frame_rate is not None:
        hz = first.format.sample_rate_hz
        start = str(timecode_of_samples(first.start_samples, hz, frame_rate)[0])
        end = str(timecode_of_samples(first.start_samples + frames, hz, frame_rate)[0])
    return Take(
        files=tuple(info.path for info in infos),
        scene=(row.scene if row else "") or first.scene,
        slate=row.slate if row else "",
        take=(row.take if row else "") or first.take,
        sound_roll=(row.sound_roll if row else "") or first.sound_roll,
        circled=row.circled if row else first.circled,
        kind=row.kind if row else _kind(first.take_type),
        note=(row.note if row else "") or first.note,
        timecode_in=start,
        timecode_out=end,
        frame_rate=str(frame_rate) if frame_rate else "",
        frames=frames,
        sample_rate_hz=first.format.sample_rate_hz,
        sample_format=first.format.sample_format.value,
        tracks=_tracks(infos, wearers or {}),
        findings=tuple(findings),
        rebuilt=tuple(rebuilt),
    )


def _kind(take_type: str) -> str:
    return next((kind for word, kind in _KINDS.items() if word in take_type.upper()), "take")


def _tracks(infos: Sequence[WaveInfo], wearers: dict[str, tuple[str, str]]) -> tuple[Track, ...]:
    names = [name for info in infos for name in info.track_names]
    rows = []
    for index, name in enumerate(names, 1):
        character, performer = wearers.get(name, ("", ""))
        rows.append(Track(index=index, name=name, character=character, performer=performer))
    return tuple(rows)

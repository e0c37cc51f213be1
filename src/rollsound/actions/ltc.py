"""Read the linear time code on one track of a file and say where it is, where it is missing, and whether it fits."""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.track_code import judged, offset_samples
from rollsound.errors import InputError
from rollsound.finding import Finding
from rollsound.progress import Progress
from rollsound.timecode import LtcDecoder, LtcEntry, Rate
from rollsound.wave import open_wave

BLOCK_FRAMES = 1 << 18


class LtcMark(BaseModel):
    """One frame of time code: the sample it begins at, its label, and the way the tape ran."""

    model_config = ConfigDict(frozen=True)

    sample: float
    timecode: str
    direction: str = Field(description="forward or reverse")


class LtcHole(BaseModel):
    """A stretch without readable time code."""

    model_config = ConfigDict(frozen=True)

    start_sample: float
    length_samples: float


class LtcStep(BaseModel):
    """A place where the labels jump."""

    model_config = ConfigDict(frozen=True)

    sample: float
    before: str
    after: str


class LtcResult(BaseModel):
    """The time code found on one track."""

    model_config = ConfigDict(frozen=True)

    path: str
    track: int = Field(description="track in the file, from 1")
    track_name: str
    sample_rate_hz: int
    rate: str = Field(description="frame rate, read from the code or given; empty when nothing was found")
    frames: int
    entries: tuple[LtcMark, ...]
    gaps: tuple[LtcHole, ...]
    jumps: tuple[LtcStep, ...] = ()
    speed_ppm: float | None = Field(
        default=None, description="how much faster the code runs than its rate at the file's"
    )
    findings: tuple[Finding, ...] = ()
    offset_samples: float | None = Field(
        default=None,
        description="how much later the file's own time stamp is than the code on the track; null if unknown",
    )


def read_ltc(
    path: Path, *, track: int | None = None, rate: Rate | None = None, progress: Progress | None = None
) -> LtcResult:
    """Read the time code on a track (from 1); without one, the first track that carries any.

    Raises
    ------
    InputError
        when the track does not exist, or no track carries time code
    """
    progress = progress or Progress()
    with open_wave(path) as reader:
        info = reader.info
        channels = info.format.channels
        if track is not None and not 1 <= track <= channels:
            raise InputError(f"{path} has tracks 1 to {channels}, no track {track}; name one of those")
        for number in [track] if track else range(1, channels + 1):
            decoder = LtcDecoder(info.format.sample_rate_hz, rate)
            entries: list[LtcEntry] = []
            for start in range(0, info.frames, BLOCK_FRAMES):
                entries += decoder.feed(reader.read_channel(number - 1, start, BLOCK_FRAMES))
                progress.tell("ltc", start, info.frames, "frames", f"track {number}")
            entries += decoder.finish()
            if entries:
                break
        else:
            where = f"track {track}" if track else f"any of the {channels} tracks"
            raise InputError(f"no time code was found on {where} of {path}; name the track with --track")
    return LtcResult(
        path=str(path),
        track=number,
        track_name=info.track_names[number - 1],
        sample_rate_hz=info.format.sample_rate_hz,
        rate=str(decoder.rate) if decoder.rate else "",
        frames=len(entries),
        entries=tuple(
            LtcMark(sample=entry.sample, timecode=str(entry.timecode), direction=entry.direction) for entry in entries
        ),
        gaps=tuple(LtcHole(start_sample=gap.start_sample, length_samples=gap.length_samples) for gap in decoder.gaps),
        jumps=tuple(
            LtcStep(sample=jump.sample, before=str(jump.expected), after=str(jump.found)) for jump in decoder.jumps
        ),
        offset_samples=offset_samples(entries[0], info),
        speed_ppm=decoder.speed_ppm,
        findings=tuple(judged(decoder, entries, info, number)),
    )

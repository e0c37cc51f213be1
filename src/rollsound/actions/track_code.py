"""The time code on one track, read to its end and held against the file that carries it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from typing import overload

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.quantities import count
from rollsound.timecode import LtcDecoder, LtcEntry, proofs_of_code, samples_of_timecode
from rollsound.wave import WaveInfo, WaveReader

BLOCK_FRAMES = 1 << 18
SAME_CLOCK_SECONDS = 60.0
"""No generator drifts so far from the clock it was jammed to; code farther off counts something else."""
ZONE_SECONDS = 1800
"""Clocks set to another time zone, or without summer time, are whole half hours apart."""
ZONE_SLACK_SECONDS = 2.0
_SOURCE = "SMPTE ST 12-1"
_PRACTICE = "common practice, no source"


class TrackTimecode(BaseModel):
    """What the linear time code on a track says; ``rollsound ltc`` names every frame of it."""

    model_config = ConfigDict(frozen=True)

    rate: str = Field(description="frame rate, read from the code; empty when nothing could be read")
    frames: int = Field(description="frames of code read")
    first: str = Field(default="", description="label of the first frame read")
    first_sample: float | None = Field(default=None, description="sample of the file at which that frame begins")
    last: str = ""
    last_sample: float | None = None
    direction: str = Field(default="", description="forward or reverse, of the first frame")
    offset_samples: float | None = Field(
        default=None, description="how much later the file's own time stamp is than the code; null if unknown"
    )
    offset_frames: float | None = Field(default=None, description="the same in frames of the code")
    drift_samples: float | None = Field(
        default=None, description="how much more the offset is at the last frame; null where the count jumps"
    )
    speed_ppm: float | None = Field(
        default=None, description="how much faster the code runs than its rate by the file's sample clock"
    )
    gaps: int = Field(default=0, description="stretches without readable code between the first and the last frame")
    longest_gap_samples: float = 0.0
    jumps: int = Field(default=0, description="places where the count does not go on")


class FirstAndLast(Sequence[LtcEntry]):
    """A long row of entries of which only the ends are kept, so that memory does not grow with the recording."""

    def __init__(self) -> None:
        self.first: LtcEntry | None = None
        self.last: LtcEntry | None = None
        self._count = 0

    def take(self, entries: Iterable[LtcEntry]) -> None:
        """Some more at the end."""
        for entry in entries:
            self.first = self.first or entry
            self.last = entry
            self._count += 1

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, at: int) -> LtcEntry: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[LtcEntry]: ...
    def __getitem__(self, at: int | slice) -> LtcEntry | Sequence[LtcEntry]:
        found = {0: self.first, -1: self.last, self._count - 1: self.last}.get(at) if isinstance(at, int) else None
        if found is None:
            raise IndexError("only the first and the last entry are kept")
        return found


def read_track_code(
    reader: WaveReader, track: int, checked: Callable[[], None] = lambda: None
) -> tuple[TrackTimecode, tuple[Finding, ...]]:
    """Read the code on one track (from 1) of a file in which it was recognised, and judge it.

    ``checked`` is called between blocks and may raise, to stop.
    """
    info = reader.info
    decoder, entries = LtcDecoder(info.format.sample_rate_hz), FirstAndLast()
    for start in range(0, info.frames, BLOCK_FRAMES):
        entries.take(decoder.feed(reader.read_channel(track - 1, start, BLOCK_FRAMES)))
        checked()
    entries.take(decoder.finish())
    return described(decoder, entries, info), tuple(judged(decoder, entries, info, track))


def described(decoder: LtcDecoder, entries: FirstAndLast, info: WaveInfo) -> TrackTimecode:
    """The figures of a track of code that was read to its end."""
    first, last = entries.first, entries.last
    if first is None or last is None or decoder.rate is None:
        return TrackTimecode(rate="", frames=0)
    offset, end = (offset_samples(entry, info) for entry in (first, last))
    frame = float(first.timecode.rate.samples_per_frame(decoder.sample_rate_hz))
    steady = offset is not None and end is not None and not decoder.jumps
    return TrackTimecode(
        rate=str(decoder.rate),
        frames=len(entries),
        first=str(first.timecode),
        first_sample=first.sample,
        last=str(last.timecode),
        last_sample=last.sample,
        direction=first.direction,
        offset_samples=offset,
        offset_frames=None if offset is None else offset / frame,
        drift_samples=end - offset if steady and end is not None and offset is not None else None,
        speed_ppm=decoder.speed_ppm,
        gaps=len(decoder.gaps),
        longest_gap_samples=max((gap.length_samples for gap in decoder.gaps), default=0.0),
        jumps=len(decoder.jumps),
    )


def offset_samples(entry: LtcEntry, info: WaveInfo) -> float | None:
    """How much later the file's stamp is than the code at an entry, the shorter way round the day."""
    if not info.has_timecode or entry.direction != "forward":
        return None
    rate_hz = info.format.sample_rate_hz
    label = samples_of_timecode(entry.timecode, rate_hz)
    day = entry.timecode.rate.frames_per_day * entry.timecode.rate.samples_per_frame(rate_hz)
    apart = info.start_samples - label + Fraction(entry.sample)
    return float((apart + day / 2) % day - day / 2)


def judged(decoder: LtcDecoder, entries: Sequence[LtcEntry], info: WaveInfo, track: int) -> list[Finding]:
    """Findings on the code, each with a place on its track; a fine one when it holds."""
    if not len(entries):
        return [_unread(info, track)]
    first, path = entries[0], str(info.path)
    offset = offset_samples(first, info)
    start = None
    if offset is not None:  # counted on over midnight, where the file's own count begins anew
        start = round(offset - first.sample + samples_of_timecode(first.timecode, info.format.sample_rate_hz))
    found = proofs_of_code(decoder, entries, path=path, track=track, start_samples=start, rate=info.rate)
    seconds = 0.0 if offset is None else offset / info.format.sample_rate_hz
    frame = float(first.timecode.rate.samples_per_frame(info.format.sample_rate_hz))
    if abs(seconds) > SAME_CLOCK_SECONDS:
        found = [*(each for each in found if each.kind not in ("ltc-stamp", "ltc")), _other_clock(info, track, seconds)]
    elif offset is not None and abs(offset) <= 0.5 * frame:
        found = [each for each in found if each.kind != "ltc"]
        found.append(_agrees(decoder, len(entries), info, track, offset))
    return [_placed(each, info, track) for each in found]


def _unread(info: WaveInfo, track: int) -> Finding:
    return Finding(
        area=Area.SYNC,
        weight=Weight.WATCH,
        subject=_subject(info, track),
        kind="ltc-unread",
        what=f"Track {track} sounds like time code, but not one frame of it could be read.",
        remedy="Check level and cable of the code; look for the same code on another track.",
        source=_PRACTICE,
        refs=(Ref(path=str(info.path), track=track, length_samples=info.frames),),
    )


def _agrees(decoder: LtcDecoder, frames: int, info: WaveInfo, track: int, offset: float) -> Finding:
    milliseconds = abs(1000.0 * offset / info.format.sample_rate_hz)
    return Finding(
        area=Area.SYNC,
        weight=Weight.FINE,
        subject=_subject(info, track),
        kind="ltc",
        what=f"Time code on track {track} runs at {decoder.rate}, {count(frames, 'frame')}, and agrees with the "
        f"file's stamp to {abs(offset):.1f} samples ({milliseconds:.2f} ms).",
        source=_SOURCE,
        numbers={"offset_samples": offset},
    )


def _other_clock(info: WaveInfo, track: int, seconds: float) -> Finding:
    """Far apart: a time zone, which is a mistake, or code that counts a song, which is none."""
    beside = abs(seconds - ZONE_SECONDS * round(seconds / ZONE_SECONDS))
    side = "later" if seconds > 0 else "earlier"
    what = f"The file's stamp is {_span(abs(seconds))} {side} than the time code on track {track}"
    if beside <= ZONE_SLACK_SECONDS:
        return Finding(
            area=Area.SYNC,
            weight=Weight.WATCH,
            subject=_subject(info, track),
            kind="ltc-zone",
            what=f"{what}, which is a time zone or summer time.",
            why="Picture follows one of the two; sound placed by the other is out by that much.",
            remedy="Set both clocks to the same time of day, and tell post which one picture followed.",
            source=_PRACTICE,
            numbers={"offset_seconds": seconds},
        )
    return Finding(
        area=Area.SYNC,
        weight=Weight.FINE,
        subject=_subject(info, track),
        kind="ltc-other-clock",
        what=f"{what}: it counts another clock, as the code of a playback does.",
        why="Fine when the track carries playback code; the time of day of the file is its stamp alone.",
        source=_PRACTICE,
        numbers={"offset_seconds": seconds},
    )


def _span(seconds: float) -> str:
    whole = round(seconds)
    parts = ((whole // 3600, "h"), (whole // 60 % 60, "min"), (whole % 60, "s"))
    return " ".join(f"{number} {unit}" for number, unit in parts if number)


def _placed(finding: Finding, info: WaveInfo, track: int) -> Finding:
    """Named by its track, as all findings of an inspection are."""
    path = str(info.path)
    refs = finding.refs or (Ref(path=path, track=track, length_samples=info.frames),)
    texts = {name: _sentence(getattr(finding, name).replace(path, info.name)) for name in ("what", "why", "remedy")}
    return finding.model_copy(update={"subject": _subject(info, track), "refs": refs, **texts})


def _sentence(text: str) -> str:
    return text if not text or text.endswith(".") else f"{text}."


def _subject(info: WaveInfo, track: int) -> str:
    return f"track {track} ({info.track_names[track - 1]})"

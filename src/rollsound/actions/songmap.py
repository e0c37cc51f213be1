"""The song map: which part of which song every take of a day covers, and what is still missing."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.song_model import SongMapResult, SongRow, SongSpan, SpeedRow, StrangerRow, StretchRow
from rollsound.actions.song_read import SongsRead, media_of, read_songs, read_take, take_groups
from rollsound.errors import InputError
from rollsound.finding import Finding, Weight, heaviest
from rollsound.progress import Progress
from rollsound.quantities import count
from rollsound.song.clock import SongClock
from rollsound.song.coverage import Interval, SongCover, SongMap, SongTake, Stretch, map_songs
from rollsound.song.proofs import proofs, stranger_label
from rollsound.song.speed import SIGMAS, Speed

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.report.charts import Chart


def songmap(read: PlanRead, *, day: str = "", progress: Progress | None = None) -> SongMapResult:
    """Lay the takes of a day (of all days whose files are there, when none is named) over the songs of the plan.

    Raises
    ------
    InputError
        when there is no such day, or the plan has no songs
    Halted
        when somebody asked to stop
    """
    progress = progress or Progress()
    if not read.plan.songs.songs:
        raise InputError(f"{read.path} has no songs; write them under 'songs', each with its start_timecode")
    songs = read_songs(read)
    media = media_of(read, day)
    takes: list[SongTake] = []
    day_of: dict[str, str] = {}
    for part, folder in media:
        for group in take_groups(folder):
            take = read_take(group, songs, progress)
            takes.append(take)
            day_of[take.path] = part.day
    notes = [] if takes else [nothing_there(read, day)]
    return of_takes(read, songs, takes, day=day, day_of=day_of, notes=notes)


def of_takes(
    read: PlanRead,
    songs: SongsRead,
    takes: Sequence[SongTake],
    *,
    day: str = "",
    day_of: dict[str, str] | None = None,
    notes: Sequence[str] = (),
) -> SongMapResult:
    """As ``songmap``, of takes that were read."""
    found = map_songs(songs.clocks, takes)
    findings = proofs(found, songs.wrong)
    findings.sort(key=lambda each: list(Weight).index(each.weight))
    return SongMapResult(
        path=str(read.path),
        name=read.plan.show.title,
        day=day,
        takes=len(takes),
        with_code=sum(bool(take.passes) for take in takes),
        songs=tuple(_song(cover, findings, day_of or {}) for cover in found.covers),
        strangers=_strangers(found),
        findings=tuple(findings),
        notes=tuple(notes),
    )


def nothing_there(read: PlanRead, day: str) -> str:
    """Why no take could be looked at."""
    if not read.plan.media:
        return "The plan names no media, so no take was looked at; write their folders under 'media'."
    when = f"of {day} " if day else ""
    return f"None of the media {when}is there, so no take was looked at; connect the drive, or correct its folder."


def _song(cover: SongCover, findings: Sequence[Finding], day_of: dict[str, str]) -> SongRow:
    song, end = cover.song, cover.song.end_s
    names = {song.name, *(each.take.name for each in cover.stretches)}
    bars = None
    if song.tempo is not None and end is not None:
        last = song.tempo.position_at(end)
        bars = last.bar - song.tempo.first_bar + (last.beat > 1)
    return SongRow(
        id=song.id,
        title=song.name,
        start_timecode=str(song.start),
        frame_rate=str(song.rate),
        length_s=None if end is None else float(end),
        bars=bars,
        scenes=song.scenes,
        parts=_parts(song),
        stretches=tuple(_stretch(each, day_of.get(each.take.path, "")) for each in cover.stretches),
        covered=tuple(span_of(song, each) for each in cover.covered),
        missing=tuple(span_of(song, each) for each in cover.missing),
        only_off_speed=tuple(span_of(song, each) for each in cover.only_wrong),
        covered_share=cover.share,
        weight=heaviest(each for each in findings if each.subject in names),
        sentence=_sentence(cover),
    )


def _sentence(cover: SongCover) -> str:
    takes = {each.take.name for each in cover.stretches if each.forward and each.inside is not None}
    if not takes:
        return "on no take yet"
    if cover.share is None:
        return f"on {count(len(takes), 'take')}; its length is unknown"
    if not cover.missing:
        return f"whole on {count(len(takes), 'take')} together" if len(takes) > 1 else "whole on one take"
    missing = float(sum((b - a for a, b in cover.missing), Fraction(0)))
    return f"{100 * cover.share:.0f} % on {count(len(takes), 'take')}; {missing:.1f} s are missing"


def _parts(song: SongClock) -> tuple[SongSpan, ...]:
    ends = [start for start, _ in song.parts[1:]]
    last = song.end_s if song.end_s is not None else (song.parts[-1][0] if song.parts else Fraction(0))
    return tuple(
        span_of(song, (start, max(end, start))).model_copy(update={"part": name})
        for (start, name), end in zip(song.parts, [*ends, last], strict=False)
    )


def span_of(song: SongClock, interval: Interval) -> SongSpan:
    """A stretch of a song in seconds, labels and bars."""
    start, end = interval
    first, last = song.position_at(start), song.position_at(end)
    return SongSpan(
        start_s=float(start),
        end_s=float(end),
        start_timecode=str(song.label_at(start)),
        end_timecode=str(song.label_at(end)),
        start_bar=str(first) if first is not None else "",
        end_bar=str(last) if last is not None else "",
        part=song.part_at(start) if song.part_at(start) == song.part_at(end - 1 / song.rate.fps) else "",
    )


def _stretch(stretch: Stretch, day: str) -> StretchRow:
    take, run = stretch.take, stretch.run
    return StretchRow(
        take=take.name,
        path=take.path,
        scene=take.scene,
        circled=take.circled,
        day=day,
        track=take.track,
        span=span_of(stretch.song, (stretch.start_s, stretch.end_s)),
        in_song=stretch.inside is not None,
        start_sample=run.start_sample,
        end_sample=run.end_sample,
        zero_sample=stretch.zero_sample,
        direction=run.direction,
        right=stretch.right,
        speeds=tuple(_speed(*each) for each in stretch.speeds),
        slips=len(run.slips),
        frames_read=run.frames_read,
        frames_missing=run.missing_frames,
        jitter_samples=run.jitter_samples,
    )


def _speed(start: float, end: float, speed: Speed) -> SpeedRow:
    return SpeedRow(
        start_sample=start,
        end_sample=end,
        speed=speed.measured,
        speed_ppm=speed.ppm,
        uncertainty_ppm=SIGMAS * speed.sigma_ppm,
        kind=speed.kind.value,
        ratio=str(speed.ratio),
        clock_ppm=speed.clock_ppm,
        sentence=speed.words,
    )


def _strangers(found: SongMap) -> tuple[StrangerRow, ...]:
    return tuple(
        StrangerRow(
            take=take.name,
            path=take.path,
            track=take.track,
            first=str(stranger_label(run, run.first)),
            last=str(stranger_label(run, run.last)),
            direction=run.direction,
        )
        for take, run in found.strangers
    )


def song_chart(result: SongMapResult, *, narrow: bool = False) -> Chart:
    """Every song as a line of bars, and under it the takes that cover it."""
    from rollsound.report.song_chart import SongLane, TakeBar, songs

    lanes = [
        SongLane(
            name=song.title,
            length_s=song.length_s or max((each.span.end_s for each in song.stretches), default=1.0),
            told=song.sentence,
            missing=tuple((each.start_s, each.end_s) for each in song.missing),
            takes=tuple(
                TakeBar(
                    each.take,
                    each.span.start_s,
                    each.span.end_s,
                    "right" if each.right else "backwards" if each.direction == "reverse" else "off speed",
                )
                for each in song.stretches
            ),
            parts=tuple((each.start_s, each.part) for each in song.parts),
        )
        for song in result.songs
    ]
    return songs(result.name, lanes, narrow=narrow)


def write_song_chart(result: SongMapResult, path: Path) -> SongMapResult:
    """Draw the coverage into a file: .png, .svg or .pdf; raises as ``write_chart``."""
    from rollsound.actions.reach import write_chart

    write_chart(song_chart(result), path)
    return result.model_copy(update={"picture": str(path)})

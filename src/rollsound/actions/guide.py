"""Live against guide: the sung takes of a day, or two bare sounds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from rollsound.actions.guide_model import CoursePoint, GuideResult, PhraseRow, VoiceRow
from rollsound.actions.guide_tracks import GUIDE, by_name, is_click, live_tracks_of, number_of, only
from rollsound.actions.song_read import media_of, read_songs, read_take, take_groups, track_of
from rollsound.errors import InputError, RollsoundError
from rollsound.finding import Finding, Weight, heaviest
from rollsound.progress import Progress
from rollsound.quantities import several
from rollsound.song.clock import SongClock
from rollsound.song.coverage import Stretch, map_songs
from rollsound.song.features import FeatureReader, Features
from rollsound.song.guide import LIMIT_S, Against, against, beginning
from rollsound.song.guide_proofs import guide_proofs

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.report.charts import Chart
    from rollsound.wave import WaveReader
    from rollsound.wave.sets import TakeReader

BLOCK_FRAMES = 1 << 18
SAME_MUSIC = 1.12
"""How far the best common beginning of two files must stand over the next one; unrelated sounds stay below 1.05."""


def guide(
    read: PlanRead,
    *,
    day: str = "",
    take: str = "",
    tracks: Sequence[str] = (),
    limit_ms: float | None = None,
    progress: Progress | None = None,
) -> GuideResult:
    """Hold the live voices of the sung takes of a plan's media against the guide on the same takes.

    Parameters
    ----------
    take
        name of one take (its file without ending)
    tracks
        live tracks by name or number; all that are no mix, boom or playback when none is named
    limit_ms
        of phrases; the plan's, else 40 ms

    Raises
    ------
    InputError
        when there is no such day, take or track
    Halted
        when somebody asked to stop
    """
    progress = progress or Progress()
    limit_s = _limit(limit_ms, read.plan.songs.late_s)
    songs = read_songs(read)
    groups = [group for _, folder in media_of(read, day) for group in take_groups(folder)]
    known = {group[0].stem.casefold(): group for group in groups}
    if take:
        wanted = Path(take).stem.casefold() if take.lower().endswith(".wav") else take.casefold()
        found = [group for stem, group in known.items() if stem == wanted or stem.startswith(f"{wanted}_")]
        if not found:
            there = several([group[0].stem for group in groups], 8) if groups else "no take at all"
            raise InputError(f"no take '{take}' lies in the media of {read.path}; there is {there}")
        groups = found
    by_song = {song.id: song.guide_track for song in read.plan.songs.songs}
    voices: list[VoiceRow] = []
    findings: list[Finding] = []
    notes: list[str] = []
    for group in groups:
        try:
            mapped = map_songs(songs.clocks, [read_take(group, songs, progress)])
            stretch = next((each for cover in mapped.covers for each in cover.stretches if each.forward), None)
            scene = mapped.takes[0].scene
            song = stretch.song if stretch else next((s for s in songs.clocks if _sung(s, scene)), None)
            if song is None and not take:
                continue
            named = (by_song.get(song.id, "") if song else "") or read.plan.songs.guide_track
            rows, told = _take(group, named, tracks, limit_s, stretch, song, progress, must=bool(take))
        except RollsoundError as error:
            if progress.stopping or take:
                raise
            notes.append(f"{group[0].name} was left out: {error.sentence.rstrip('.')}.")
            continue
        if rows is None:
            notes.append(f"{group[0].name} has no track of a guide or playback, so nothing was held against it.")
            continue
        voices += rows
        findings += told
    if not groups:
        notes.append("None of the media is there, so no take was looked at; connect the drive, or correct its folder.")
    elif not voices and not notes:
        notes.append("No take is of a sung scene or carries a song's code; name one with --take.")
    return _result(str(read.path), read.plan.show.title, day, limit_s, voices, findings, notes)


def guide_files(
    live: Path,
    guide: Path | None = None,
    *,
    live_tracks: Sequence[str] = (),
    guide_track: str = "",
    limit_ms: float | None = None,
    progress: Progress | None = None,
) -> GuideResult:
    """Hold tracks of one file against a track of another, or of the same one.

    Two files need not begin together: where the same music begins is looked for first.

    Raises
    ------
    InputError
        when a track does not exist, or the two sounds have nothing in common
    """
    from rollsound.wave import open_wave

    progress = progress or Progress()
    limit_s = _limit(limit_ms, None)
    with open_wave(live) as reader:
        if guide is None:
            rows, told = _tracks(reader, live, guide_track, live_tracks, limit_s, _Place(), progress)
            return _result(str(live), live.stem, "", limit_s, rows, told, ())
        with open_wave(guide) as other:
            number = only(other, guide_track, guide)
            name = _name(other, number) if other.info.format.channels > 1 else guide.stem
            theirs = _features(other, number, progress)
        numbers = [number_of(reader, each, live) for each in live_tracks] or live_tracks_of(reader, 0)
        voices, findings = [], []
        for track in numbers:
            mine = _features(reader, track, progress)
            begins_s, sure = beginning(mine, theirs)
            if sure < SAME_MUSIC:
                if len(numbers) == 1:
                    raise InputError(
                        f"{live.name}, track {track}, and {guide.name} have no music in common that could be laid over "
                        "each other; name the right tracks with --track and --guide-track"
                    )
                continue
            place = _Place(begins_s=begins_s)
            row, told = _voice(reader, live, track, mine, theirs, (name, number), limit_s, place, is_click(name))
            voices.append(row)
            findings += told
    return _result(str(live), f"{live.stem} against {guide.stem}", "", limit_s, voices, findings, ())


@dataclass(frozen=True)
class _Place:
    """How times of a take are told: by the bars of the song whose code it carries, else in seconds."""

    stretch: Stretch | None = None
    song: SongClock | None = None
    begins_s: float = 0.0
    scene: str = ""

    def bar(self, seconds: float) -> str:
        """Bar and beat at a time of the take; empty when nothing tells."""
        if self.stretch is None or self.song is None or self.song.tempo is None:
            return ""
        fps = float(self.song.rate.pair.fps)
        of_song = (seconds * self.stretch.take.sample_rate_hz - self.stretch.zero_sample) / (
            self.stretch.run.step_samples * fps
        )
        return str(self.song.tempo.position_at(Fraction(of_song).limit_denominator(1000)))

    def words(self, seconds: float) -> str:
        return self.bar(seconds) or f"at {seconds:.1f} s"


def _limit(limit_ms: float | None, of_plan: float | None) -> float:
    if limit_ms is not None and not 1 <= limit_ms <= 10_000:
        raise InputError(f"a limit of {limit_ms:g} ms is no use; give one from 1 to 10000 with --limit-ms")
    return limit_ms / 1000.0 if limit_ms is not None else of_plan if of_plan is not None else LIMIT_S


def _sung(song: SongClock, scene: str) -> bool:
    return bool(scene) and scene.casefold() in (each.casefold() for each in song.scenes)


def _take(
    group: Sequence[Path],
    named: str,
    tracks: Sequence[str],
    limit_s: float,
    stretch: Stretch | None,
    song: SongClock | None,
    progress: Progress,
    *,
    must: bool,
) -> tuple[list[VoiceRow] | None, list[Finding]]:
    from rollsound.wave.sets import open_set

    with open_set(list(group), allow_mixed_bits=True) as reader:
        place = _Place(stretch, song, 0.0, reader.info.scene)
        there = track_of(named, reader.info.track_names) if named else 0
        if not there and not must and not any(GUIDE.search(name) for name in reader.info.track_names):
            return None, []
        return _tracks(reader, group[0], named if there else "", tracks, limit_s, place, progress)


def _tracks(
    reader: WaveReader | TakeReader,
    path: Path,
    guide_track: str,
    live_tracks: Sequence[str],
    limit_s: float,
    place: _Place,
    progress: Progress,
) -> tuple[list[VoiceRow], list[Finding]]:
    """All live tracks of a take against a track of the same take."""
    names = reader.info.track_names
    number = number_of(reader, guide_track, path) if guide_track else by_name(names)
    if not number:
        raise InputError(f"{path.name} has no track named as a guide ({several(names, 8)}); name it with --guide-track")
    theirs = _features(reader, number, progress)
    voices, findings = [], []
    for track in [number_of(reader, each, path) for each in live_tracks] or live_tracks_of(reader, number):
        mine = _features(reader, track, progress)
        guide_name = names[number - 1]
        row, told = _voice(
            reader, path, track, mine, theirs, (guide_name, number), limit_s, place, is_click(guide_name)
        )
        voices.append(row)
        findings += told
    return voices, findings


def _name(reader: WaveReader, number: int) -> str:
    return reader.info.track_names[number - 1]


def _features(reader: WaveReader | TakeReader, track: int, progress: Progress) -> Features:
    features = FeatureReader(reader.info.format.sample_rate_hz)
    name = reader.info.track_names[track - 1]
    for start in range(0, reader.info.frames, BLOCK_FRAMES):
        features.feed(reader.read_channel(track - 1, start, BLOCK_FRAMES))
        progress.tell("guide", start, reader.info.frames, "frames", name)
    return features.finish()


def _voice(
    reader: WaveReader | TakeReader,
    path: Path,
    track: int,
    mine: Features,
    theirs: Features,
    guide: tuple[str, int],
    limit_s: float,
    place: _Place,
    click: bool,
) -> tuple[VoiceRow, list[Finding]]:
    answer = against(mine, theirs, limit_s=limit_s, click=click, around_s=place.begins_s)
    info, (guide_name, guide_track) = reader.info, guide
    name = info.track_names[track - 1]
    findings = guide_proofs(
        answer,
        name=f"{name} on {path.stem}",
        guide=guide_name,
        path=str(path),
        track=track,
        sample_rate_hz=info.format.sample_rate_hz,
        limit_s=limit_s,
        place=place.words,
        click=click,
    )
    row = VoiceRow(
        take=path.stem,
        path=str(path),
        scene=place.scene or info.scene,
        song=place.song.id if place.song is not None and place.stretch is not None else "",
        track=track,
        track_name=name,
        guide=guide_name,
        guide_track=guide_track,
        against="click" if click else "guide",
        begins_s=place.begins_s,
        late_ms=1000.0 * answer.late_s,
        uncertainty_ms=2000.0 * answer.sigma_s,
        drift_ms_per_min=60_000.0 * answer.drift,
        drift_uncertainty_ms_per_min=120_000.0 * answer.drift_sigma,
        sure_share=answer.sure_share,
        phrases=_phrases(answer, place.bar),
        course=_course(answer, place.begins_s),
        weight=heaviest(findings),
    )
    return row, findings


def _phrases(answer: Against, bar: Callable[[float], str]) -> tuple[PhraseRow, ...]:
    return tuple(
        PhraseRow(
            start_s=each.start_s,
            end_s=each.end_s,
            bar=bar(each.start_s),
            late_ms=1000.0 * each.late_s,
            uncertainty_ms=2000.0 * each.sigma_s,
            confidence=each.confidence,
            verdict=each.verdict,
        )
        for each in answer.phrases
    )


def _course(answer: Against, begins_s: float) -> tuple[CoursePoint, ...]:
    """The course where somebody sings."""
    heard = answer.course.at_s + begins_s
    sung = np.zeros(heard.size, bool)
    for each in answer.phrases:
        sung |= (heard >= each.start_s) & (heard <= each.end_s)
    rows = zip(heard[sung], answer.course.late_s[sung], answer.course.confidence[sung], strict=True)
    return tuple(
        CoursePoint(at_s=round(float(at), 3), late_ms=round(1000.0 * float(late), 2), confidence=round(float(sure), 3))
        for at, late, sure in rows
    )


def _result(
    path: str,
    name: str,
    day: str,
    limit_s: float,
    voices: Sequence[VoiceRow],
    findings: Sequence[Finding],
    notes: Sequence[str],
) -> GuideResult:
    return GuideResult(
        path=path,
        name=name,
        day=day,
        limit_ms=1000.0 * limit_s,
        voices=tuple(voices),
        findings=tuple(sorted(findings, key=lambda each: list(Weight).index(each.weight))),
        notes=tuple(notes),
    )


def guide_chart(result: GuideResult, *, narrow: bool = False) -> Chart:
    """Every voice's course with its phrases; those that could not be followed are left out."""
    from rollsound.report.guide_chart import PhraseBar, VoiceCourse, courses

    shown = [voice for voice in result.voices if any(each.verdict != "unsure" for each in voice.phrases)]
    return courses(
        result.name,
        [
            VoiceCourse(
                name=f"{voice.track_name} on {voice.take}, against {voice.guide}",
                points=tuple((each.at_s, each.late_ms, each.confidence) for each in voice.course),
                phrases=tuple(
                    PhraseBar(each.start_s, each.end_s, each.late_ms, each.verdict, each.bar)
                    for each in voice.phrases
                    if each.verdict != "unsure"
                ),
            )
            for voice in shown
        ],
        limit_ms=result.limit_ms,
        narrow=narrow,
    )


def write_guide_chart(result: GuideResult, path: Path) -> GuideResult:
    """Draw the courses into a file: .png, .svg or .pdf; raises as ``write_chart``."""
    from rollsound.actions.reach import write_chart

    write_chart(guide_chart(result), path)
    return result.model_copy(update={"plot": str(path)})

"""Songs of a plan with their tempo maps, and the takes whose code is laid over them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.gather import audio_files, read_text_file
from rollsound.errors import InputError, RollsoundError, storage
from rollsound.progress import Progress
from rollsound.quantities import several
from rollsound.song.clock import SongClock
from rollsound.song.coverage import SongTake
from rollsound.song.midi import HEAD, LARGEST_BYTES, read_tempo_midi
from rollsound.song.model import Song
from rollsound.song.passes import Pass, PassFinder
from rollsound.song.tempo import TempoMap
from rollsound.song.tempo_csv import read_tempo_csv
from rollsound.timecode import RATES, Timecode
from rollsound.wrong import Wrong

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.show.model import DayMedia
    from rollsound.wave import WaveInfo
    from rollsound.wave.sets import TakeReader

BLOCK_FRAMES = 1 << 18
SAME_CLOCK_SECONDS = 60.0
"""No generator drifts so far from the clock it was jammed to; code farther off counts something else."""
_EXCERPT_SECONDS = 0.2
_EXCERPTS = 24
_MIDI_ENDINGS = {".mid", ".midi", ".smf"}
_NO_PLAYBACK = re.compile(r"wild|room|tone|ambien|effect", re.IGNORECASE)
_CODE_NAMES = re.compile(r"time ?code|\btc\b|ltc", re.IGNORECASE)


@dataclass(frozen=True)
class SongsRead:
    """The songs that can be worked with, and what is wrong with the others."""

    clocks: tuple[SongClock, ...]
    wrong: tuple[Wrong, ...]
    tracks: dict[str, str]
    """By the id of a song the track that is to carry its code, where the plan names one."""


def read_songs(read: PlanRead) -> SongsRead:
    """Every song of a plan with its tempo map; one that is wrong costs the others nothing."""
    part, of_show = read.plan.songs, read.plan.show.rate
    clocks, wrong, tracks = [], [], {}
    seen: Counter[str] = Counter()
    for song in part.songs:
        at = ("songs", "songs", song.id)
        seen[song.id] += 1
        if seen[song.id] == 2:
            wrong.append(Wrong((*at, "id"), "is the id of two songs; give each its own"))
        if seen[song.id] > 1:
            continue
        try:
            start = song.start(of_show)
        except InputError as error:
            wrong.append(Wrong((*at, "start_timecode"), error.sentence))
            continue
        tempo = None
        if song.tempo_map:
            try:
                tempo = read_tempo_map(read.folder / song.tempo_map)
            except RollsoundError as error:
                wrong.append(Wrong((*at, "tempo_map"), error.sentence))
        parts, told = _parts(song, tempo)
        wrong += [Wrong((*at, "parts"), each) for each in told]
        length = Fraction(song.length_s).limit_denominator(1_000_000) if song.length_s else None
        clocks.append(SongClock(song.id, song.name, start, tempo, length, song.scenes, parts))
        if song.ltc_track or part.ltc_track:
            tracks[song.id] = song.ltc_track or part.ltc_track
    return SongsRead(tuple(clocks), tuple(wrong), tracks)


def _parts(song: Song, tempo: TempoMap | None) -> tuple[tuple[tuple[Fraction, str], ...], list[str]]:
    """Named places in seconds: those of the plan, else those of the tempo map."""
    if tempo is None:
        return (), ["have bars, but the song has no tempo map that tells where they are"] if song.parts else []
    if not song.parts:
        return tuple((tempo.seconds_of_quarters(at), name) for at, name in tempo.marks), []
    return tuple(sorted((tempo.seconds_of(part.bar), part.name) for part in song.parts)), []


def read_tempo_map(path: Path) -> TempoMap:
    """Read a tempo map by what the file is, a standard MIDI file or a sheet.

    Raises
    ------
    InputError, StorageError
        when it is neither, has mistakes, or is not there
    """
    with storage(path):
        if path.is_file() and path.stat().st_size <= LARGEST_BYTES:
            with path.open("rb") as file:
                head = file.read(4)
            if head == HEAD or path.suffix.lower() in _MIDI_ENDINGS:
                return read_tempo_midi(path.read_bytes(), path.name)
    return read_tempo_csv(read_text_file(path), path.name)


def media_of(read: PlanRead, day: str) -> list[tuple[DayMedia, Path]]:
    """The day's media whose files are there, with their folder: the recorder's files, else what conform made.

    Raises
    ------
    InputError
        when there is no such day
    """
    known = [each.id for each in read.plan.schedule.days]
    if day and day not in known:
        there = f"it has {several(known, 12)}" if known else "it has none"
        raise InputError(f"{read.path} has no day '{day}'; {there}, so name one of them with --day or leave it out")
    found = []
    for media in read.plan.media:
        if day and media.day != day:
            continue
        folder = next(
            (place for name in (media.recorder, media.conformed) if name and (place := read.folder / name).is_dir()),
            None,
        )
        if folder is not None:
            found.append((media, folder))
    return found


def take_groups(folder: Path) -> tuple[tuple[Path, ...], ...]:
    """The takes of a folder, each with its files; none when it holds no audio."""
    from rollsound.actions.day import take_sets

    try:
        return take_sets(audio_files([folder]))
    except InputError:
        return ()


def read_take(group: Sequence[Path], songs: SongsRead, progress: Progress, *, wanted: Iterable[str] = ()) -> SongTake:
    """Read the playback's code of one take, whatever its state; what cannot be read says why."""
    from rollsound.wave.sets import open_set

    name = group[0].stem if len(group) == 1 else _common(group)
    try:
        with open_set(list(group), allow_mixed_bits=True) as reader:
            return _read(reader, name, group, songs, progress, tuple(wanted))
    except RollsoundError as error:
        if progress.stopping:
            raise
        return SongTake(name, str(group[0]), "", 48_000, 0, 0, (), trouble=error.sentence.rstrip("."))


def _read(
    reader: TakeReader, name: str, group: Sequence[Path], songs: SongsRead, progress: Progress, wanted: tuple[str, ...]
) -> SongTake:
    from rollsound.timecode import LtcDecoder

    info = reader.info
    mine = [clock for clock in songs.clocks if info.scene.casefold() in (each.casefold() for each in clock.scenes)]
    named = [*wanted, *(songs.tracks[clock.id] for clock in (*mine, *songs.clocks) if clock.id in songs.tracks)]
    rate_hz, best = info.format.sample_rate_hz, 0
    passes: tuple[Pass, ...] = ()
    for track in code_tracks(reader, named):
        decoder, finder = LtcDecoder(rate_hz), PassFinder(rate_hz)
        for start in range(0, info.frames, BLOCK_FRAMES):
            finder.take(decoder.feed(reader.read_channel(track - 1, start, BLOCK_FRAMES)))
            progress.tell("songmap", start, info.frames, "frames", name)
        finder.take(decoder.finish())
        found = finder.finish()
        passes = tuple(each for each in found if not _of_the_day(each, info))
        best = best or track
        if passes:
            best = track
            break
    plays = not any(_NO_PLAYBACK.search(each) for each in info.take_types)
    return SongTake(name, str(group[0]), info.scene, rate_hz, info.frames, best, passes, info.circled, plays)


def _of_the_day(run: Pass, info: WaveInfo) -> bool:
    """Whether code counts the time of day, as the file's own stamp does: that is no playback."""
    if not info.has_timecode or run.direction != "forward":
        return False
    stamp_s = (info.start_samples + run.start_sample) / info.format.sample_rate_hz
    labels = (
        Timecode.from_frames(run.first, rate) for rate in RATES if (rate.nominal, rate.drop) == (run.nominal, run.drop)
    )
    for label in labels:
        apart_s = stamp_s - float(label.to_frames() / label.rate.fps)
        day_s = float(label.rate.frames_per_day / label.rate.fps)
        if abs((apart_s + day_s / 2) % day_s - day_s / 2) <= SAME_CLOCK_SECONDS:
            return True
    return False


def code_tracks(reader: TakeReader, named: Iterable[str]) -> Iterator[int]:
    """Tracks (from 1) that may carry code, likeliest first: named in the plan, named for it, sounding like it."""
    names = reader.info.track_names
    told: dict[int, None] = {}
    for text in named:
        if (track := track_of(text, names)) and track not in told:
            told[track] = None
            yield track
    from rollsound.measure.timecode_track import looks_like_code

    rate_hz, frames = reader.info.format.sample_rate_hz, reader.info.frames
    length = min(frames, round(_EXCERPT_SECONDS * rate_hz))
    starts = sorted({(frames - length) * n // max(1, _EXCERPTS - 1) for n in range(_EXCERPTS)}) if length else []
    others = [n for n in range(1, len(names) + 1) if n not in told]
    others.sort(key=lambda n: not _CODE_NAMES.search(names[n - 1]))
    heard: set[int] = set()
    for start in starts:
        if not others:
            return
        block = reader.read(start, length)
        for n in others:
            if n not in heard and looks_like_code(block[:, n - 1], rate_hz):
                heard.add(n)
    yield from (n for n in others if n in heard)


def track_of(text: str, names: Sequence[str]) -> int:
    """The place (from 1) of a track by number or name; 0 when there is none."""
    wanted = text.strip().casefold()
    for n, name in enumerate(names, 1):
        if name.strip().casefold() == wanted:
            return n
    return int(wanted) if wanted.isdecimal() and len(wanted) < 4 and 1 <= int(wanted) <= len(names) else 0


def _common(group: Sequence[Path]) -> str:
    """What the names of a set's files share."""
    stems = [path.stem for path in group]
    parted = (n for n, letters in enumerate(zip(*stems, strict=False)) if len(set(letters)) > 1)
    return stems[0][: next(parted, min(map(len, stems)))].rstrip(" _-.") or stems[0]

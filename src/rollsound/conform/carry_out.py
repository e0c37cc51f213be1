"""Do what a plan says, one job per take.

Sources are only read. Every output is written under a temporary name and named when it is whole; before it gets its
name, a record of what was done is kept beside it, so that a second run of the same plan leaves finished files alone
and still knows all about them.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from rollsound.conform.compare import Compared, compare_tracks
from rollsound.conform.history import derive, names_of_tracks
from rollsound.conform.mend import Mended, mend_stretches
from rollsound.conform.mirror import mirror_stretches
from rollsound.conform.outcome import TakeOutcome, TrackOutcome
from rollsound.conform.patch import Stretch, TrackPatch, with_slack
from rollsound.conform.plan import Action, ConformPlan, MemberPlan, Mode, TakePlan, TrackPlan, refuse_changed
from rollsound.conform.sound import CardSound
from rollsound.conform.telling import member_of, tell_track
from rollsound.errors import InputError, RollsoundError, storage, storage_error
from rollsound.progress import Progress
from rollsound.wave import TakeReader, WaveReader, WaveWriter, open_set, read_info
from rollsound.whole import write_whole

RECORDS = ".rollsound-conform"
"""Folder beside the outputs with one record for each."""
_COPY_BYTES = 4 << 20
_PATCH_FRAMES = 1 << 16


class _Record(BaseModel):
    """What was done to one file."""

    model_config = ConfigDict(frozen=True)

    plan_digest: str
    file_uid: str
    tracks: tuple[TrackOutcome, ...]


@dataclass(frozen=True, eq=False)
class _Work:
    """What one track needs while its take is carried out."""

    plan: TrackPlan
    sound: CardSound | None = None
    compared: Compared | None = None
    mended: tuple[Mended, ...] = ()
    patch: TrackPatch | None = None


def with_damage(plan: ConformPlan, progress: Progress | None = None, threads: int | None = None) -> ConformPlan:
    """The plan with the damaged spans of every track filled in, so that they can be shown and edited first.

    Tracks whose spans are listed already keep their list.
    """
    progress = progress or Progress()
    takes = []
    for take in plan.takes:
        with _Opened(take, threads) as opened:
            found = opened.compare(progress, only_unknown=True)
        tracks = tuple(
            track.model_copy(
                update={
                    "spans": found[track.index].spans,
                    "level_difference_db": found[track.index].level_difference_db,
                }
            )
            if track.index in found
            else track
            for track in take.tracks
        )
        takes.append(take.model_copy(update={"tracks": tracks}))
    return plan.model_copy(update={"takes": tuple(takes)})


def carry_out(take: TakePlan, progress: Progress | None = None, threads: int | None = None) -> TakeOutcome:
    """Carry out one take of a plan.

    Parameters
    ----------
    threads
        how many tracks (or files of the take) are worked on at once; by default one per core

    Raises
    ------
    InputError
        when a source is not what it was when the plan was made
    StorageError
        when an output is there already and was not made by this plan, or when the disk fails
    Halted
        when asked to stop; finished files stay
    """
    progress = progress or Progress()
    digest = take.digest()
    refuse_changed(take)
    finished = _finished(take, digest)
    if take.mode is not Mode.COMPARE and len(finished) == len(take.members):
        return _outcome(take, digest, finished, tuple(finished))
    with _Opened(take, threads) as opened:
        works = opened.prepare(progress)
        if take.mode is Mode.COMPARE:
            tracks = tuple(tell_track(take, work.plan, "", work.compared, (), work.sound) for work in works)
            return _outcome(take, digest, {}, (), tracks)
        todo = [n for n in range(len(take.members)) if n not in finished]
        records = dict(finished)
        records.update(opened.write(todo, works, digest, progress))
    return _outcome(take, digest, records, tuple(finished))


def carry_out_all(plan: ConformPlan, progress: Progress | None = None) -> Iterator[TakeOutcome]:
    """Carry out take after take, each with all cores."""
    for take in plan.takes:
        yield carry_out(take, progress)


class _Opened:
    """A take with its cards open and a pool to work in."""

    def __init__(self, take: TakePlan, threads: int | None) -> None:
        self.plan = take
        self._digest = take.digest()
        with ExitStack() as stack:
            self.take: TakeReader = stack.enter_context(open_set([member.file.path for member in take.members]))
            if self.take.info.frames != take.frames or self.take.info.format.channels != len(take.tracks):
                raise InputError(f"the take {take.take} is not as it was when the plan was made; plan again.")
            self.sounds = {
                track.index: stack.enter_context(CardSound(track, take.sample_rate_hz))
                for track in take.tracks
                if track.action is not Action.KEEP
            }
            self.pool: Executor = stack.enter_context(ThreadPoolExecutor(threads or os.cpu_count() or 1))
            self._stack = stack.pop_all()

    def compare(self, progress: Progress, *, only_unknown: bool = False) -> dict[int, Compared]:
        tracks = {
            track.index: (track, self.sounds[track.index])
            for track in self.plan.tracks
            if track.index in self.sounds and not (only_unknown and track.spans is not None)
        }
        return compare_tracks(self.take, tracks, self.pool, progress, self.plan.take)

    def prepare(self, progress: Progress) -> list[_Work]:
        """Everything that has to be known before the first byte is written."""
        mirrors = self.plan.mode is Mode.MIRROR
        compared = {} if mirrors else self.compare(progress, only_unknown=self.plan.mode is Mode.MEND)
        works = []
        for track in self.plan.tracks:
            progress.check()
            works.append(self._prepare_track(track, compared.get(track.index)))
        return works

    def _prepare_track(self, track: TrackPlan, compared: Compared | None) -> _Work:
        sound = self.sounds.get(track.index)
        if sound is None:
            return _Work(track)
        if track.spans is not None and compared is None:
            frames = sum(stop - start for start, stop in sound.runs())
            compared = Compared(track.spans, frames, track.level_difference_db)
        mended: tuple[Mended, ...] = ()
        stretches: tuple[Stretch, ...] = ()
        if track.action is Action.REPLACE:
            stretches = mirror_stretches(track, sound, self.plan.frames, self.plan.fade_samples)
        elif track.action is Action.MEND and compared is not None:
            mended = tuple(
                mend_stretches(
                    self.take, track.index, sound, compared.spans, self.plan.fade_samples, compared.level_difference_db
                )
            )
            stretches = tuple(each.stretch for each in mended)
        return _Work(track, sound, compared, mended, self._patch(track.index, stretches) if stretches else None)

    def _patch(self, index: int, stretches: tuple[Stretch, ...]) -> TrackPatch:
        member = member_of(self.plan, index)
        seed = int(self._digest[:12], 16) + index
        return TrackPatch(index - member.first_track, stretches, seed, member.offset_samples)

    def write(self, todo: Sequence[int], works: list[_Work], digest: str, progress: Progress) -> dict[int, _Record]:
        """Write the files of the take that are not there yet."""
        done: dict[int, _Record] = {}
        if len(todo) > 1:
            # Tracks of a poly file share its blocks; separate files go side by side instead.
            jobs = {n: self.pool.submit(self._write_member, n, works, digest, progress, None) for n in todo}
            failures = []
            for n, job in jobs.items():
                try:
                    done[n] = job.result()
                except BaseException as error:
                    progress.stop()
                    failures.append(error)
            if failures:
                raise next((each for each in failures if not _is_halt(each)), failures[0])
        else:
            for n in todo:
                done[n] = self._write_member(n, works, digest, progress, self.pool)
        return done

    def _write_member(
        self, n: int, works: list[_Work], digest: str, progress: Progress, pool: Executor | None
    ) -> _Record:
        member, reader = self.plan.members[n], self.take.members[n]
        mine = works[member.first_track : member.first_track + member.channels]
        patches = [work.patch for work in mine if work.patch is not None]
        uid = self.plan.file_uid(n)
        output = Path(member.output)
        sheet = derive(reader, uid, _doing(self.plan.mode, reader, patches), bool(patches))
        with storage(output.parent):
            output.parent.mkdir(parents=True, exist_ok=True)
        with WaveWriter(
            output,
            reader.info.format,
            bext=sheet.bext,
            ixml=sheet.ixml,
            cues=sheet.cues,
            info_list=sheet.info_list,
            extra_chunks=sheet.extra,
            expected_frames=reader.info.frames,
            extensible=reader.info.extensible,
            channel_mask=reader.info.channel_mask,
        ) as writer:
            self._copy(reader, writer, patches, progress, pool)
            record = _Record(
                plan_digest=digest,
                file_uid=uid,
                tracks=tuple(
                    tell_track(self.plan, work.plan, member.output, work.compared, work.mended, work.sound, work.patch)
                    for work in mine
                ),
            )
            _keep(output, record)
        return record

    def _copy(
        self,
        reader: WaveReader,
        writer: WaveWriter,
        patches: list[TrackPatch],
        progress: Progress,
        pool: Executor | None,
    ) -> None:
        """Bytes from one file to the other, changed where a patch says so."""
        form, total = reader.info.format, reader.info.frames
        step = _PATCH_FRAMES if patches else max(_COPY_BYTES // form.frame_bytes, 1)
        for at in range(0, total, step):
            progress.tell(self.plan.take, at, total, "frames", reader.info.name)
            frames = min(step, total - at)
            raw = reader.read_bytes(at, frames)
            if len(raw) != frames * form.frame_bytes:
                raise InputError(
                    f"{reader.info.path} became shorter while it was read; see that nothing writes to it, plan again.",
                    path=str(reader.info.path),
                )
            touching = [patch for patch in patches if patch.touches(at, frames)]
            if not touching:
                writer.write_bytes(raw)
                continue
            changed = with_slack(raw)
            if pool is None or len(touching) == 1:
                for patch in touching:
                    patch.apply(changed, at, frames, form)
            else:
                list(pool.map(lambda patch, a=at, c=changed, n=frames: patch.apply(c, a, n, form), touching))
            writer.write_bytes(changed[: len(raw)].data)
        progress.tell(self.plan.take, total, total, "frames", reader.info.name)

    def __enter__(self) -> _Opened:
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()


def _doing(mode: Mode, reader: WaveReader, patches: list[TrackPatch]) -> str:
    """The line of coding history."""
    if not patches:
        return f"{mode} unchanged"
    which = names_of_tracks(reader.info, [patch.channel for patch in patches])
    if mode is Mode.MIRROR:
        return f"mirror {which} from card"
    spans = sum(len(patch.stretches) for patch in patches)
    return f"mend {which} {spans} spans from card"


def _is_halt(error: BaseException) -> bool:
    return isinstance(error, RollsoundError) and error.exit_code == 130


def _record_path(output: Path) -> Path:
    return output.parent / RECORDS / f"{output.name}.json"


def _keep(output: Path, record: _Record) -> None:
    path = _record_path(output)
    with storage(path):
        path.parent.mkdir(exist_ok=True)
    write_whole(path, record.model_dump_json(indent=1))


def _finished(take: TakePlan, digest: str) -> dict[int, _Record]:
    """Outputs of an earlier run of this very plan. Anything else under an output's name is an error."""
    if take.mode is Mode.COMPARE:
        return {}
    found = {}
    for n, member in enumerate(take.members):
        if not os.path.lexists(member.output):
            continue
        record = _read_record(member, digest, take.file_uid(n))
        if record is None:
            raise storage_error(FileExistsError(errno.EEXIST, "exists"), member.output)
        found[n] = record
    return found


def _read_record(member: MemberPlan, digest: str, uid: str) -> _Record | None:
    """The record of an output, if it and the file itself say that this plan made it."""
    try:
        record = _Record.model_validate_json(_record_path(Path(member.output)).read_bytes())
        info = read_info(member.output)
    except (OSError, ValidationError, RollsoundError):
        return None
    return record if record.plan_digest == digest and record.file_uid == info.file_uid == uid else None


def _outcome(
    take: TakePlan,
    digest: str,
    records: dict[int, _Record],
    resumed: Sequence[int],
    tracks: tuple[TrackOutcome, ...] = (),
) -> TakeOutcome:
    return TakeOutcome(
        take=take.take,
        mode=take.mode,
        sample_rate_hz=take.sample_rate_hz,
        frames=take.frames,
        start_samples=take.start_samples,
        time_rate=take.time_rate,
        digest=digest,
        outputs=tuple(member.output for member in take.members if member.output),
        resumed=tuple(take.members[n].output for n in resumed),
        tracks=tracks or tuple(track for n in sorted(records) for track in records[n].tracks),
    )

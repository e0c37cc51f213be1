"""Inspect: measure every track of every file in one pass and say what is wrong, where, and what to do."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterable, Sequence
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from rollsound.actions.gather import audio_files, refuse_unreadable_names
from rollsound.actions.jobs import run_jobs
from rollsound.actions.track_code import TrackTimecode, read_track_code
from rollsound.errors import Halted, InputError, StorageError, storage_error
from rollsound.finding import Figure, Finding, Weight, heaviest
from rollsound.measure import Survey, SurveyResult, findings_of
from rollsound.measure.swaps import FileProfile, TrackProfile, exchanged_tracks
from rollsound.progress import Progress
from rollsound.timecode import Rate, timecode_of_samples
from rollsound.wave import WaveInfo, WaveReader, open_wave, write_overview
from rollsound.wave.proofs import findings_of_info
from rollsound.whole import write_whole

BLOCK_FRAMES = 8_192
USUAL_RATE = Rate.parse("25")
INDEX_NAME = "index.json"
LOWEST_CODE_RATE_HZ = 16_000
TrackCode = tuple[TrackTimecode, tuple[Finding, ...]]


class TrackReport(BaseModel):
    """One track as measured. Levels of silence, and figures that do not exist, are null in JSON."""

    model_config = ConfigDict(frozen=True)

    index: int = Field(description="place in the file, from 1")
    name: str
    sample_peak_dbfs: Figure
    true_peak_dbtp: Figure
    integrated_lufs: Figure = Field(description="BS.1770 gated loudness of the track alone, weight 1")
    loudness_range_lu: Figure
    max_momentary_lufs: Figure
    max_short_term_lufs: Figure
    rms_dbfs: Figure
    dc: Figure
    noise_floor_dbfs: Figure
    bandwidth_hz: Figure
    kind_guess: str = Field(description="radio, cable, time code or unknown")
    # Required, so that an index written before it was read is measured again.
    timecode: TrackTimecode | None = Field(description="what the time code on this track says; null on other tracks")
    findings: tuple[Finding, ...] = ()


class FileReport(BaseModel):
    """One file: what it says about itself, what was measured, what was found."""

    model_config = ConfigDict(frozen=True)

    path: str
    problem: str = Field(default="", description="why the file could not be read at all; empty when it could")
    size_bytes: int = 0
    modified_ns: int = 0
    container: str = ""
    sample_rate_hz: int = 0
    sample_format: str = ""
    frames: int = 0
    channels: int = 0
    start_samples: int = Field(default=0, description="samples since midnight at the file's sample rate")
    timecode: str = Field(default="", description="label of the first sample; empty when the file has no time code")
    frame_rate: str = ""
    frame_rate_assumed: bool = False
    project: str = ""
    scene: str = ""
    take: str = ""
    sound_roll: str = ""
    circled: bool = False
    take_type: str = ""
    note: str = ""
    overview: str = Field(default="", description="the saved waveform overview, if an index was asked for")
    tracks: tuple[TrackReport, ...] = ()
    findings: tuple[Finding, ...] = Field(
        default=(), description="findings on the file as a whole; each track has its own"
    )

    @property
    def all_findings(self) -> tuple[Finding, ...]:
        """On the file and on every track of it."""
        return self.findings + tuple(finding for track in self.tracks for finding in track.findings)


class InspectResult(BaseModel):
    """What inspecting files and folders found."""

    model_config = ConfigDict(frozen=True)

    files: tuple[FileReport, ...]
    across: tuple[Finding, ...] = Field(default=(), description="findings that only several files together show")

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every finding on every file, and on all of them together."""
        return tuple(finding for file in self.files for finding in file.all_findings) + self.across

    @property
    def problems(self) -> tuple[str, ...]:
        """Files that could not be read at all."""
        return tuple(file.problem for file in self.files if file.problem)

    @property
    def weight(self) -> Weight:
        """The worst weight found."""
        return Weight.STOP if self.problems else heaviest(self.findings)


def inspect(
    paths: Iterable[Path],
    *,
    rate: Rate | None = None,
    index: Path | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> InspectResult:
    """Measure every file named or lying in a named folder.

    Parameters
    ----------
    rate
        the frame rate to label with where a file does not say; 25 when left out, and marked as assumed
    index
        a folder for the results and waveform overviews; a second run measures only what changed since
    workers
        files measured at once; both cores (all of them) when left out

    Raises
    ------
    InputError, StorageError
        when nothing is found, or a place cannot be read. A single file that cannot be read is reported in its place
        and the rest goes on.
    """
    progress = progress or Progress()
    files = audio_files(paths, leave_out=[index] if index else [])
    if index is not None:
        refuse_unreadable_names(files)
    kept = _Index(index)
    total = sum(_size(path) for path in files)
    meter = _Meter(progress, total)

    def one(path: Path) -> FileReport:
        meter.label = path.name
        known = kept.known(path)
        if known is not None:
            meter.add(_size(path))
            return known
        report = _inspect_or_problem(path, rate, kept, meter)
        kept.keep(path, report)
        return report

    reports = dict(run_jobs(files, one, progress, workers))
    measured = tuple(reports[n] for n in range(len(files)))
    return InspectResult(files=measured, across=across_files(measured))


def across_files(files: Sequence[FileReport]) -> tuple[Finding, ...]:
    """What only several files together show: tracks that seem to have changed places in one of them."""
    profiles = [
        FileProfile(file.path, file.start_samples, file.frames, file.sample_rate_hz, _profiles(file))
        for file in files
        if not file.problem
    ]
    return tuple(exchanged_tracks(profiles))


def _profiles(file: FileReport) -> tuple[TrackProfile, ...]:
    return tuple(
        TrackProfile(track.name, track.kind_guess, track.bandwidth_hz, track.noise_floor_dbfs, track.dc)
        for track in file.tracks
    )


def _inspect_or_problem(path: Path, rate: Rate | None, kept: _Index, meter: _Meter) -> FileReport:
    before = meter.done
    try:
        return inspect_file(path, rate=rate, kept=kept, meter=meter)
    except Halted:
        raise
    except (InputError, StorageError) as error:
        meter.add(max(0, _size(path) - (meter.done - before)))
        return FileReport(path=str(path), problem=error.sentence, size_bytes=_size(path))


def inspect_file(
    path: Path, *, rate: Rate | None = None, kept: _Index | None = None, meter: _Meter | None = None
) -> FileReport:
    """Measure one file."""
    with open_wave(path) as reader:
        info = reader.info
        result = _survey(reader, meter, overview=kept is not None and kept.folder is not None)
        codes = _codes(reader, result, meter)
    overview = ""
    if kept is not None and kept.folder is not None and result.overview is not None:
        overview = str(kept.overview_path(path))
        write_overview(Path(overview), result.overview)
    return _report(path, info, result, rate or USUAL_RATE, overview, codes)


def _survey(reader: WaveReader, meter: _Meter | None, *, overview: bool) -> SurveyResult:
    form = reader.info.format
    survey = Survey(
        form.sample_rate_hz,
        form.channels,
        form.sample_format.bits,
        float_samples=form.sample_format.is_float,
        overview=overview,
    )
    for block in reader.blocks(BLOCK_FRAMES):
        survey.feed(block)
        if meter is not None:
            meter.add(block.shape[0] * form.frame_bytes)
    return survey.finish()


def _codes(reader: WaveReader, result: SurveyResult, meter: _Meter | None) -> dict[int, TrackCode]:
    """What the tracks that carry time code say, by track from 1: read once more, those tracks alone.

    Which ones they are is known only at the end, and reading every track as code would cost more than it.
    """
    if reader.info.format.sample_rate_hz < LOWEST_CODE_RATE_HZ:
        return {}
    checked = (lambda: None) if meter is None else (lambda: meter.add(0))
    return {
        n: read_track_code(reader, n, checked)
        for n, track in enumerate(result.tracks, 1)
        if track.kind_guess == "time code"
    }


def _report(
    path: Path, info: WaveInfo, result: SurveyResult, rate: Rate, overview: str, codes: dict[int, TrackCode]
) -> FileReport:
    frame_rate = info.rate or rate
    names = info.track_names
    found = findings_of(result, str(path), names, info.start_samples, frame_rate)
    by_track: dict[int, list[Finding]] = {}
    for finding in found:
        track = finding.refs[0].track if finding.refs and len({ref.track for ref in finding.refs}) == 1 else 0
        by_track.setdefault(track, []).append(finding)
    for track, (_, on_code) in codes.items():
        by_track.setdefault(track, []).extend(on_code)
    label = ""
    if info.has_timecode:
        label = str(timecode_of_samples(info.start_samples, info.format.sample_rate_hz, frame_rate)[0])
    stat = path.stat()
    return FileReport(
        path=str(path),
        size_bytes=stat.st_size,
        modified_ns=stat.st_mtime_ns,
        container=info.container,
        sample_rate_hz=info.format.sample_rate_hz,
        sample_format=info.format.sample_format.value,
        frames=info.frames,
        channels=info.format.channels,
        start_samples=info.start_samples,
        timecode=label,
        frame_rate=str(frame_rate),
        frame_rate_assumed=info.rate is None,
        project=info.project,
        scene=info.scene,
        take=info.take,
        sound_roll=info.sound_roll,
        circled=info.circled,
        take_type=info.take_type,
        note=info.note,
        overview=overview,
        tracks=tuple(
            TrackReport(
                index=n,
                name=names[n - 1],
                sample_peak_dbfs=track.sample_peak_dbfs,
                true_peak_dbtp=track.true_peak_dbtp,
                integrated_lufs=track.integrated_lufs,
                loudness_range_lu=track.loudness_range_lu,
                max_momentary_lufs=track.max_momentary_lufs,
                max_short_term_lufs=track.max_short_term_lufs,
                rms_dbfs=track.rms_dbfs,
                dc=track.dc,
                noise_floor_dbfs=track.noise_floor_dbfs,
                bandwidth_hz=track.bandwidth_hz,
                kind_guess=track.kind_guess,
                timecode=codes[n][0] if n in codes else None,
                findings=tuple(by_track.get(n, ())),
            )
            for n, track in enumerate(result.tracks, 1)
        ),
        findings=(*findings_of_info(info), *by_track.get(0, ())),
    )


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


class _Meter:
    """Bytes done over all files, from several threads."""

    def __init__(self, progress: Progress, total: int) -> None:
        self._progress = progress
        self._total = max(total, 1)
        self._lock = threading.Lock()
        self.done = 0
        self.label = ""

    def add(self, size_bytes: int) -> None:
        """So many bytes more; leaves with Halted when the person asked to stop."""
        with self._lock:
            self.done += size_bytes
            self._progress.tell("inspect", min(self.done, self._total), self._total, "bytes", self.label)


class _Index:
    """Results kept in a folder, so that a second run measures only what changed."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self._lock = threading.Lock()
        self._reports: dict[str, FileReport] = {}
        if folder is not None:
            if folder.exists() and not folder.is_dir():
                raise InputError(f"{folder} is a file; name a folder for the index")
            try:
                folder.mkdir(parents=True, exist_ok=True)
                text = (folder / INDEX_NAME).read_text("utf-8")
                self._reports = {report.path: report for report in InspectResult.model_validate_json(text).files}
            except FileNotFoundError:
                pass
            except ValidationError:
                # of another version, or half-written by a hand: measuring again costs time and nothing else
                self._reports = {}
            except OSError as error:
                raise storage_error(error, folder) from error

    def known(self, path: Path) -> FileReport | None:
        """The kept report if the file is still the one that was measured."""
        report = self._reports.get(str(path))
        if report is None or report.problem:
            return None
        stat = path.stat()
        same = (report.size_bytes, report.modified_ns) == (stat.st_size, stat.st_mtime_ns)
        return report if same and (not report.overview or Path(report.overview).exists()) else None

    def keep(self, path: Path, report: FileReport) -> None:
        """Remember one report on disk, whole or not at all."""
        if self.folder is None:
            return
        with self._lock:
            self._reports[str(path)] = report
            result = InspectResult(files=tuple(self._reports[key] for key in sorted(self._reports)))
            write_whole(self.folder / INDEX_NAME, result.model_dump_json(indent=1))

    def overview_path(self, path: Path) -> Path:
        """Where a file's overview lies."""
        assert self.folder is not None
        mark = hashlib.sha256(str(path.resolve()).encode("utf-8", "surrogatepass")).hexdigest()[:8]
        return self.folder / f"{path.stem}-{mark}.overview"

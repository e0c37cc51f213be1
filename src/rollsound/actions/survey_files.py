"""Recordings of a place measured: noise, claps, sweeps and calibrators' tones, each told in its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np

from rollsound.actions.survey_model import SurveyFile
from rollsound.actions.survey_read import Recording
from rollsound.errors import InputError, StorageError
from rollsound.measure.place.calibration import USUAL_DB_SPL, Calibration, by_tone
from rollsound.measure.place.decay import Decay, decays
from rollsound.measure.place.impulses import BurstFinder, from_onsets, is_clipped
from rollsound.measure.place.kinds import Kind, guess
from rollsound.measure.place.noise import NoiseFigures, PlaceNoise, together
from rollsound.measure.place.sweep import LONGEST_S, Impulse, exponential, impulse_of, read_words
from rollsound.progress import Progress
from rollsound.quantities import count, show_time

Answer = TypeVar("Answer")
_LONGEST_CALIBRATION_S = 60


@dataclass(frozen=True)
class How:
    """How recordings are to be measured.

    ``kind`` is told from the sound where it is empty. ``calibration`` is a tone's file, ``stated`` a calibration that
    somebody states; ``played`` is the file of the sweep or its words.
    """

    kind: Kind | None = None
    track: int = 0
    calibration: Path | None = None
    calibrator_db_spl: float = USUAL_DB_SPL
    stated: Calibration | None = None
    played: str = ""


@dataclass(frozen=True)
class Measured:
    """What the recordings gave."""

    files: tuple[SurveyFile, ...] = ()
    calibration: Calibration | None = None
    noise: NoiseFigures | None = None
    decays: tuple[Decay, ...] = ()


def measure_files(paths: Sequence[Path], how: How, progress: Progress | None = None) -> Measured:
    """Measure recordings of a place.

    A file that cannot be used is told in its place, and the rest goes on.

    Raises
    ------
    InputError, StorageError
        when the calibration cannot be used, or no file at all
    """
    told = progress or Progress()
    calibration = how.stated
    if how.calibration is not None:
        calibration = _calibration(how.calibration, how.track, how.calibrator_db_spl)
    files: list[SurveyFile] = []
    noises: list[NoiseFigures] = []
    pulses: dict[int, list[np.ndarray]] = {}
    swept: set[int] | None = None
    failures: list[InputError | StorageError] = []
    for path in paths:
        told.check()
        try:
            with Recording(path, how.track) as recording:
                kind = _kind(recording, how, told)
                row = _row(recording, kind, how.kind is None)
                if kind == "noise":
                    figures = _named(path, lambda: _noise(recording, told))
                    noises.append(figures)
                    row = row.model_copy(update={"told": f"{show_time(figures.seconds)} of the place"})
                elif kind == "clap":
                    found, note = _named(path, lambda: _claps(recording, told))
                    pulses.setdefault(recording.sample_rate_hz, []).extend(found)
                    row = row.model_copy(update={"told": note})
                elif kind == "sweep":
                    impulse = _named(path, lambda: _sweep(recording, how, told))
                    pulses.setdefault(recording.sample_rate_hz, []).append(impulse.samples)
                    swept = set(impulse.octaves) & (swept if swept is not None else set(impulse.octaves))
                    row = row.model_copy(update={"told": "a sweep turned into an impulse response"})
                else:
                    tone = _calibration(path, how.track, how.calibrator_db_spl)
                    calibration = calibration or tone
                    row = row.model_copy(update={"told": f"calibrated {tone.told}"})
                files.append(row)
        except (InputError, StorageError) as error:
            failures.append(error)
            files.append(SurveyFile(path=str(path), kind=how.kind or "", problem=error.sentence))
    if failures and len(failures) == len(files):
        if len(failures) == 1:
            raise failures[0]
        raise InputError("none of the files can be used: " + "; ".join(each.sentence for each in failures))
    return Measured(tuple(files), calibration, together(noises) if noises else None, _decays(pulses, swept, told))


def _row(recording: Recording, kind: str, guessed: bool) -> SurveyFile:
    return SurveyFile(
        path=str(recording.path),
        kind=kind,
        guessed=guessed,
        track=recording.channel + 1,
        sample_rate_hz=recording.sample_rate_hz,
        seconds=round(recording.seconds, 3),
        recorded=recording.recorded,
    )


def _named(path: Path, work: Callable[[], Answer]) -> Answer:
    """Do it; what is said against a recording begins with its name."""
    try:
        return work()
    except StorageError:
        raise
    except InputError as error:
        if path.name in error.sentence:
            raise
        raise InputError(f"{path.name} {error.sentence}", path=str(path)) from error


def _kind(recording: Recording, how: How, progress: Progress) -> Kind:
    if how.kind is not None:
        return how.kind
    blocks = recording.blocks(progress, "listening")
    return _named(recording.path, lambda: guess(blocks, recording.sample_rate_hz))


def _noise(recording: Recording, progress: Progress) -> NoiseFigures:
    noise = PlaceNoise(recording.sample_rate_hz)
    for block in recording.blocks(progress, "measuring the noise"):
        noise.feed(block)
    return noise.finish()


def _claps(recording: Recording, progress: Progress) -> tuple[list[np.ndarray], str]:
    finder = BurstFinder(recording.sample_rate_hz)
    for block in recording.blocks(progress, "looking for claps"):
        finder.feed(block)
    segments = finder.segments()
    kept, clipped = [], 0
    for segment in segments:
        progress.check()
        samples = recording.read(segment.start_sample, segment.stop_sample - segment.start_sample)
        if is_clipped(samples):
            clipped += 1
        else:
            kept.append(samples)
    if not kept:
        raise InputError(
            f"holds {'a clap that is' if clipped == 1 else f'{clipped} claps, all'} clipped; lower the gain or stand "
            "further off, and record again"
        )
    aside = f"; {clipped} more set aside, for clipped" if clipped else ""
    return list(from_onsets(kept)), f"{count(len(kept), 'burst')}{aside}"


def _sweep(recording: Recording, how: How, progress: Progress) -> Impulse:
    if not how.played:
        raise InputError(
            "is a sweep, and which one was played must be known; name its file with --played, or tell it as "
            "--played '50 Hz to 16 kHz in 10 s'"
        )
    if recording.seconds > LONGEST_S:
        raise InputError(f"is longer than {LONGEST_S:g} s; cut out one sweep with its end ringing out")
    rate = recording.sample_rate_hz
    if Path(how.played).is_file():
        with Recording(Path(how.played), how.track, or_only=True) as source:
            if source.sample_rate_hz != rate:
                raise InputError(
                    f"has {rate} Hz and {source.path.name} {source.sample_rate_hz} Hz; both need the same sample rate"
                )
            played = np.concatenate(list(source.blocks(progress, "reading the sweep")) or [np.zeros(0, np.float32)])
    else:
        low, high, length = read_words(how.played)
        played = exponential(low, high, length, rate).astype(np.float32)
    heard = np.concatenate(list(recording.blocks(progress, "reading the sweep")) or [np.zeros(0, np.float32)])
    return impulse_of(heard, played, rate)


def _calibration(path: Path, track: int, level_db_spl: float) -> Calibration:
    with Recording(path, track, or_only=True) as recording:
        rate = recording.sample_rate_hz
        samples = recording.read(0, _LONGEST_CALIBRATION_S * rate)
        return _named(path, lambda: by_tone(samples, rate, level_db_spl))


def _decays(
    pulses: Mapping[int, Sequence[np.ndarray]], swept: set[int] | None, progress: Progress
) -> tuple[Decay, ...]:
    """Of the sample rate that most bursts have: curves of different rates are not averaged."""
    if not pulses:
        return ()
    rate = max(pulses, key=lambda each: len(pulses[each]))
    progress.tell("reckoning the reverberation", 0, 1, "octaves")
    return decays(pulses[rate], rate, None if swept is None else sorted(swept))

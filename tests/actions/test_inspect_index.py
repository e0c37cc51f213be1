"""The kept index: read back whole, so that nothing is measured twice; and what only several files together show."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from rollsound.actions import inspect as module
from rollsound.actions.inspect import FileReport, InspectResult, TrackReport, across_files, inspect
from rollsound.finding import Weight
from rollsound.wave import AudioFormat, SampleFormat, WaveWriter

RATE_HZ = 48_000


def _with_a_silent_track(path: Path) -> Path:
    sound = np.zeros((RATE_HZ, 2), np.float32)
    sound[:, 0] = 0.1 * np.sin(np.arange(RATE_HZ) * 0.05)
    with WaveWriter(path, AudioFormat(RATE_HZ, 2, SampleFormat.PCM24)) as writer:
        writer.write(sound)
    return path


def test_a_file_with_a_silent_track_is_not_measured_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = _with_a_silent_track(tmp_path / "a.wav")
    index = tmp_path / "index"
    first = inspect([path], index=index)

    def never(*_: object, **__: object) -> None:
        raise AssertionError("measured again")

    monkeypatch.setattr(module, "inspect_file", never)
    second = inspect([path], index=index)
    silent = second.files[0].tracks[1]
    assert math.isnan(silent.integrated_lufs)
    assert silent.findings == first.files[0].tracks[1].findings


def test_a_result_survives_its_json() -> None:
    text = InspectResult(files=(_take(1, RADIO, CABLE),)).model_dump_json()
    assert InspectResult.model_validate_json(text).model_dump_json() == text


RADIO = ("radio", 15_000.0)
CABLE = ("cable", 22_000.0)


def _track(index: int, name: str, line: tuple[str, float]) -> TrackReport:
    figures = dict.fromkeys(
        (
            "sample_peak_dbfs",
            "true_peak_dbtp",
            "loudness_range_lu",
            "max_momentary_lufs",
            "max_short_term_lufs",
            "rms_dbfs",
        ),
        -20.0,
    )
    return TrackReport(
        index=index,
        name=name,
        **figures,
        integrated_lufs=-math.inf,
        dc=0.0,
        noise_floor_dbfs=-70.0,
        bandwidth_hz=line[1],
        kind_guess=line[0],
        timecode=None,
    )


def _take(number: int, boom: tuple[str, float], radio: tuple[str, float]) -> FileReport:
    return FileReport(
        path=f"roll/T{number}.wav",
        sample_rate_hz=RATE_HZ,
        frames=RATE_HZ,
        start_samples=number * 600 * RATE_HZ,
        tracks=(_track(1, "Boom 1", boom), _track(2, "Bram", radio)),
    )


def test_tracks_exchanged_in_one_of_many_files_are_hinted_at() -> None:
    straight = [_take(n, CABLE, RADIO) for n in range(1, 8)]
    assert across_files(straight) == ()
    (found,) = across_files([*straight[:3], _take(4, RADIO, CABLE), *straight[4:]])
    assert found.weight is Weight.WATCH
    assert "T4" in found.what
    result = InspectResult(files=tuple(straight), across=(found,))
    assert found in result.findings


def test_a_file_that_cannot_be_read_says_nothing_of_its_tracks() -> None:
    assert across_files([FileReport(path="roll/T1.wav", problem="is broken")] * 9) == ()

"""Inspect reads the time code it recognises, and says how it lies to the file's own stamp."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rollsound.actions.inspect import INDEX_NAME, TrackReport, inspect, inspect_file
from rollsound.actions.ltc import read_ltc
from rollsound.cli.app import run
from rollsound.errors import Halted
from rollsound.finding import Finding, Weight
from rollsound.progress import Event, Progress
from rollsound.timecode import Rate, Timecode, encode_ltc, samples_of_timecode
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

RATE_HZ = 48_000
DAY = 86_400 * RATE_HZ


def _write(
    path: Path,
    *,
    late: float = 0,
    rate: str = "25",
    claimed: str = "25",
    label: str = "10:20:30:00",
    stamped: bool = True,
    hole: tuple[float, float] | None = None,
    speed: float = 1.0,
    seconds: float = 8.0,
) -> Path:
    """A voice-like track and a track of code; the file's stamp ``late`` samples after what the code says."""
    spoken = Rate.parse(rate)
    first = Timecode.parse(label, spoken)
    frames = int(seconds * spoken.fps)
    code = encode_ltc(first, frames, RATE_HZ)
    if speed != 1.0:
        at = np.arange(int(code.size / speed)) * speed
        code = np.interp(at, np.arange(code.size), code).astype(np.float32)
    if hole:
        code[round(hole[0] * RATE_HZ) : round(hole[1] * RATE_HZ)] = 0.0
    rng = np.random.default_rng(2)
    steps = np.repeat(rng.uniform(0, 1, code.size // 4800 + 1) ** 2, 4800)[: code.size]
    voice = (rng.standard_normal(code.size) * 0.05 * steps).astype(np.float32)
    start = (round(samples_of_timecode(first, RATE_HZ)) + round(late)) % DAY
    form = AudioFormat(RATE_HZ, 2, SampleFormat.PCM24)
    ixml = IXml.build(rate=Rate.parse(claimed), tracks=["Boom", "TC"])
    bext = Bext(time_reference=start) if stamped else None
    with WaveWriter(path, form, bext=bext, ixml=ixml) as writer:
        writer.write(np.stack([voice, code], axis=1))
    return path


def _code(path: Path) -> tuple[TrackReport, Finding]:
    """The track of code, and the one finding on its sync."""
    report = inspect_file(path)
    assert report.tracks[0].timecode is None
    track = report.tracks[1]
    assert track.kind_guess == "time code"
    (finding,) = [each for each in track.findings if each.kind.startswith("ltc")]
    assert finding.subject == "track 2 (TC)"
    assert all(text.endswith(".") for text in (finding.what, finding.why, finding.remedy) if text)
    assert str(path.parent) not in finding.what
    assert {ref.track for ref in finding.refs} == {2}
    return track, finding


def test_code_that_agrees_is_read_and_fine(tmp_path: Path) -> None:
    track, finding = _code(_write(tmp_path / "a.wav", late=7))
    code = track.timecode
    assert code is not None
    assert (code.rate, code.first, code.direction, code.gaps, code.jumps) == ("25", "10:20:30:00", "forward", 0, 0)
    assert code.frames >= 199  # of 200; the last needs what follows it
    assert code.first_sample == pytest.approx(0.0, abs=0.1)
    assert code.offset_samples == pytest.approx(7.0, abs=0.1)
    assert code.drift_samples == pytest.approx(0.0, abs=0.1)
    assert code.speed_ppm == pytest.approx(0.0, abs=1.0)
    assert finding.weight is Weight.FINE
    assert "agrees with the file's stamp to 7.0 samples (0.15 ms)" in finding.what


@pytest.mark.parametrize(("frames", "side"), [(1, "later"), (-1, "earlier"), (12, "later")])
def test_an_offset_of_a_frame_is_told(tmp_path: Path, frames: int, side: str) -> None:
    track, finding = _code(_write(tmp_path / "a.wav", late=frames * 1920))
    assert track.timecode is not None
    assert track.timecode.offset_frames == pytest.approx(frames, abs=0.001)
    assert (finding.kind, finding.weight) == ("ltc-stamp", Weight.WATCH)
    assert f"{abs(frames)}.0 frames {side} than the time code on track 2" in finding.what


@pytest.mark.parametrize("late", [1920 * 3, -1920 * 3, 5])
def test_midnight_between_stamp_and_code_is_no_day(tmp_path: Path, late: int) -> None:
    label = "00:00:00:00" if late < 0 else "23:59:59:24"
    track, finding = _code(_write(tmp_path / "a.wav", late=late, label=label))
    assert track.timecode is not None
    assert track.timecode.offset_samples == pytest.approx(late, abs=0.1)
    assert finding.kind == ("ltc" if abs(late) < 960 else "ltc-stamp")


@pytest.mark.parametrize("hours", [1, -1, 5.5])
def test_a_time_zone_is_told(tmp_path: Path, hours: float) -> None:
    _, finding = _code(_write(tmp_path / "a.wav", late=hours * 3600 * RATE_HZ))
    assert (finding.kind, finding.weight) == ("ltc-zone", Weight.WATCH)


def test_playback_code_is_no_fault(tmp_path: Path) -> None:
    path = _write(tmp_path / "a.wav", late=(9 * 3600 + 754) * RATE_HZ, label="01:00:00:00")
    _, finding = _code(path)
    assert (finding.kind, finding.weight) == ("ltc-other-clock", Weight.FINE)
    assert "9 h 12 min 34 s later" in finding.what
    assert {each.kind for each in read_ltc(path).findings} == {"ltc-other-clock"}


def test_a_rate_other_than_claimed_stops(tmp_path: Path) -> None:
    report = inspect_file(_write(tmp_path / "a.wav", rate="24", claimed="25"))
    assert ("ltc-rate", Weight.STOP) in {(each.kind, each.weight) for each in report.tracks[1].findings}
    assert report.tracks[1].timecode is not None
    assert report.tracks[1].timecode.rate == "24"


def test_a_gap_is_counted_and_placed(tmp_path: Path) -> None:
    report = inspect_file(_write(tmp_path / "a.wav", hole=(3.0, 4.0)))
    code = report.tracks[1].timecode
    assert code is not None
    assert code.gaps == 1
    assert code.longest_gap_samples == pytest.approx(RATE_HZ, abs=2 * 1920)
    (gap,) = [each for each in report.tracks[1].findings if each.kind == "ltc-gap"]
    assert gap.refs[0].start_sample == pytest.approx(3 * RATE_HZ, abs=1920)


def test_drift_against_the_sample_clock(tmp_path: Path) -> None:
    """Code a thousandth too fast: the pull-down mistake, and eight samples in eight thousand."""
    report = inspect_file(_write(tmp_path / "a.wav", speed=1.001, seconds=20.0))
    code = report.tracks[1].timecode
    assert code is not None
    assert code.speed_ppm == pytest.approx(1000.0, abs=5.0)
    assert code.drift_samples is not None
    assert code.last_sample is not None
    # labels advance faster than samples, so the stamp falls behind
    assert code.drift_samples == pytest.approx(-0.001 * code.last_sample, rel=0.02)
    assert "ltc-speed" in {each.kind for each in report.tracks[1].findings}


def test_without_a_stamp_there_is_no_offset(tmp_path: Path) -> None:
    track, finding = _code(_write(tmp_path / "a.wav", stamped=False))
    assert track.timecode is not None
    assert track.timecode.offset_samples is None
    assert (finding.kind, finding.weight) == ("ltc", Weight.FINE)


def test_inspect_and_ltc_say_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = _write(tmp_path / "a.wav", late=1920, hole=(3.0, 3.5))
    track = inspect_file(path).tracks[1]
    alone = read_ltc(path, track=2)
    assert [each for each in track.findings if each.kind.startswith("ltc")] == list(alone.findings)
    assert track.timecode is not None
    assert track.timecode.offset_samples == alone.offset_samples
    assert track.timecode.frames == alone.frames
    assert run(["inspect", str(path)]) == 1  # the hole in the code is a mute as well
    assert "1.0 frames later" in capsys.readouterr().out.replace("\n", " ")


def test_an_index_from_before_it_was_read_is_measured_again(tmp_path: Path) -> None:
    path, index = _write(tmp_path / "a.wav"), tmp_path / "index"
    inspect([path], index=index)
    kept = (index / INDEX_NAME).read_text("utf-8")
    again = inspect([path], index=index).files[0].tracks[1].timecode
    assert again is not None
    assert again.frames >= 199
    without = kept.replace('"timecode": null,\n', "")
    assert without != kept
    (index / INDEX_NAME).write_text(without, "utf-8")
    assert inspect([path], index=index).files[0].tracks[1].timecode == again


def test_a_wish_to_stop_is_heard_while_code_is_read(tmp_path: Path) -> None:
    path = _write(tmp_path / "a.wav")
    size = path.stat().st_size

    def stop_late(event: Event) -> None:
        if event.job == "inspect" and event.done >= size - 10_000:
            progress.stop()

    progress = Progress(stop_late)
    with pytest.raises(Halted):
        inspect([path], progress=progress, workers=1)

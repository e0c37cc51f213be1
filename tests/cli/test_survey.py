"""A technical visit on the command line: measured, told, drawn, kept; bad input in one sentence, nothing half-done."""

from __future__ import annotations

import json
import shutil
import signal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rollsound.cli.app import run
from rollsound.measure.place.weighting import a_weight_db
from rollsound.wave import AudioFormat, Bext, SampleFormat, WaveWriter

RATE = 16_000
FULL_SCALE_DB_SPL = 94.0 + 20.0 + 10 * np.log10(2)
"""Of the calibrator's tone below: 94 dB SPL at an amplitude of 0.1."""
PLAN = """show:
  title: A short film
sites:
  # it is by the railway
  - id: yard
    name: Yard
schedule:
  days:
    - id: day-1
      number: 1
      site: yard
      call: "07:00"
      wrap: "19:00"
"""


def write(path: Path, x: np.ndarray, form: SampleFormat = SampleFormat.PCM24, rate: int = RATE) -> Path:
    samples = np.asarray(x, np.float32)
    samples = samples[:, None] if samples.ndim == 1 else samples
    bext = Bext(origination_date="2031-02-10", origination_time="10:20:00")
    with WaveWriter(path, AudioFormat(rate, samples.shape[1], form), bext=bext) as writer:
        writer.write(samples)
    return path


def claps(level: float = 0.5) -> np.ndarray:
    rng = np.random.default_rng(6)
    x = 2e-5 * rng.standard_normal(RATE * 6)
    fall = 10.0 ** (-3.0 * np.arange(2 * RATE) / RATE / 0.8)
    for at in (RATE // 2, RATE * 3):
        pulse = fall * rng.standard_normal(fall.size)
        x[at : at + fall.size] += level * pulse / np.abs(pulse).max()
    return np.asarray(x)


@pytest.fixture(scope="module")
def visit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Recordings of an invented visit: a calibrator, the place, claps, and what went wrong."""
    folder = tmp_path_factory.mktemp("visit")
    rng = np.random.default_rng(5)
    t = np.arange(RATE * 8) / RATE
    # white up to 8 kHz at 40 dB SPL in all
    noise = 10 ** ((40.0 - FULL_SCALE_DB_SPL) / 20) * rng.standard_normal(t.size)
    write(folder / "tone.wav", 0.1 * np.sin(2 * np.pi * 1000 * t[: RATE * 3]))
    write(folder / "place.wav", noise)
    hum = 10 ** ((45.0 - FULL_SCALE_DB_SPL) / 20) * np.sqrt(2) * np.sin(2 * np.pi * 100.02 * t)
    write(folder / "hum.wav", noise + hum)
    write(folder / "claps.wav", claps())
    write(folder / "clipped.wav", np.clip(claps(5.0), -1.0, 1.0 - 2**-23))
    write(folder / "silent.wav", np.zeros(RATE * 6))
    write(folder / "short.wav", noise[:RATE])
    write(folder / "two.wav", np.stack([noise, noise], axis=1))
    broken = noise.copy()
    broken[RATE] = np.nan
    write(folder / "nan.wav", broken, SampleFormat.FLOAT32)
    (folder / "text.wav").write_text("no sound at all", "utf-8")
    return folder


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN, "utf-8")
    return path


def answered(arguments: list[object], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    capsys.readouterr()
    code = run(["survey", *map(str, arguments), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_calibrated_visit_tells_noise_reverberation_and_booms(
    visit: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, told = answered(
        [plan, visit / "hum.wav", visit / "claps.wav", "--site", "yard", "--calibration", visit / "tone.wav",
         "--boom", "0.5 m", "--volume", "200 m3", "--noisy", "18:30-19:30 trains, 70 dBA"],
        capsys,
    )  # fmt: skip
    assert code == 0
    assert [file["kind"] for file in told["files"]] == ["noise", "clap"]
    assert all(file["guessed"] for file in told["files"])
    noise = told["noise"]
    assert noise["calibrated"]
    # white noise of 40 dB up to 8 kHz weighed by the curve, with 45 dB at 100 Hz
    weighed = np.mean(10 ** (a_weight_db(np.linspace(1, 8_000, 4_000)) / 10)) * 1e4 + 10 ** ((45 - 19.1) / 10)
    assert noise["laeq_db"] == pytest.approx(10 * np.log10(weighed), abs=0.1)
    assert noise["la90_db"] <= noise["la50_db"] <= noise["la10_db"]
    assert noise["nc"].startswith("NC-")
    assert noise["octaves"][7]["level_db"] is None, "16 kHz does not reach the octave of 8 kHz"
    assert noise["tones"][0]["freq_hz"] == pytest.approx(100.02, abs=0.2)
    assert noise["tones"][0]["level_db"] == pytest.approx(45.0, abs=0.3)
    assert noise["tones"][0]["what"] == "mains 50 Hz, harmonic 2"
    assert told["t_s"] == pytest.approx(0.8, rel=0.1)
    kinds = {finding["kind"]: finding["weight"] for finding in told["findings"]}
    assert kinds["place hum"] == "watch"
    assert kinds["place noise"] == "fine"
    assert kinds["noisy hours"] == "watch"
    assert told["hours"] == [
        {"day": "day-1", "what": "trains", "from_time": "18:30", "to_time": "19:00", "minutes": 30}
    ]
    assert {row["effort"] for row in told["booms"]} == {"relaxed", "normal", "raised", "loud", "very loud"}
    assert any("balloon" in each for each in told["cautions"])
    assert "sound:" not in plan.read_text("utf-8"), "nothing is written unless it is asked for"


def test_what_is_saved_is_there_the_next_time_and_comments_stay(
    visit: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    known = ["--site", "yard", "--sensitivity=-36 dBFS", "--save"]
    assert run(["survey", str(plan), str(visit / "place.wav"), *known]) in (0, 1)
    first = plan.read_text("utf-8")
    assert "# it is by the railway" in first
    assert "laeq:" in first
    code, told = answered([plan, visit / "claps.wav", "--site", "yard", "--save", "--volume", "90 m³"], capsys)
    assert code in (0, 1)
    text = plan.read_text("utf-8")
    assert "laeq:" in text, "the second visit adds to the first"
    assert "reverberation:" in text
    assert "files: [place.wav, claps.wav]" in text
    assert told["critical_distance_m"] == pytest.approx(0.057 * (2 * 90 / 0.8) ** 0.5, rel=0.1)
    code, kept = answered([plan, "--site", "yard"], capsys)
    assert [each["kind"] for each in kept["findings"]] == [each["kind"] for each in told["findings"]]
    before = plan.read_text("utf-8")
    run(["survey", str(plan), str(visit / "claps.wav"), "--site", "yard", "--save", "--volume", "90 m³"])
    assert plan.read_text("utf-8") == before
    assert "nothing was to change" in capsys.readouterr().out


def test_in_a_show_it_is_journalled_and_undone(visit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = tmp_path / "plan.yaml"
    text.write_text(PLAN, "utf-8")
    show = tmp_path / "show"
    assert run(["new", str(show), "--from", str(text)]) == 0
    code, told = answered([show, visit / "place.wav", "--site", "yard", "--sensitivity", "20 mV/Pa", "--gain", "40 dB",
                           "--save"], capsys)  # fmt: skip
    assert code in (0, 1)
    assert told["saved"]["revision"] == 2
    capsys.readouterr()
    assert run(["history", str(show)]) == 0
    assert "Surveyed the sound of Yard" in capsys.readouterr().out
    assert run(["undo", str(show)]) == 0
    capsys.readouterr()
    assert run(["export", str(show)]) == 0
    assert "laeq" not in capsys.readouterr().out


def test_without_a_calibration_levels_are_relative_and_not_kept(
    visit: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, told = answered([plan, visit / "hum.wav", "--site", "yard", "--save"], capsys)
    assert code == 0
    assert not told["noise"]["calibrated"]
    assert told["noise"]["nc"] == ""
    assert "place calibration" in {finding["kind"] for finding in told["findings"]}
    text = plan.read_text("utf-8")
    assert "laeq" not in text
    assert "over:" in text, "how far hum stands out holds without one"


def test_a_tone_among_the_files_calibrates_the_rest(
    visit: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, told = answered([plan, visit / "place.wav", visit / "tone.wav", "--site", "yard"], capsys)
    assert [file["kind"] for file in told["files"]] == ["noise", "tone"]
    _, named = answered([plan, visit / "place.wav", "--site", "yard", "--calibration", visit / "tone.wav"], capsys)
    assert told["noise"] == named["noise"]
    assert told["noise"]["calibrated"]


def test_a_sweep_is_deconvolved(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from scipy.signal import fftconvolve

    from rollsound.measure.place.sweep import exponential

    sweep = exponential(80.0, 7_500.0, 3.0, RATE)
    room = np.random.default_rng(2).standard_normal(2 * RATE) * 10 ** (-3 * np.arange(2 * RATE) / RATE / 0.9)
    heard = fftconvolve(sweep, room)
    file = write(tmp_path / "sweep.wav", 0.4 * heard / np.abs(heard).max())
    played = write(tmp_path / "played.wav", 0.5 * sweep, SampleFormat.FLOAT32)
    for way in ("80 Hz to 7500 Hz in 3 s", str(played)):
        code, told = answered([plan, file, "--site", "yard", "--kind", "sweep", "--played", way], capsys)
        assert code == 0
        assert told["t_s"] == pytest.approx(0.9, rel=0.1)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["silent.wav"], "silent.wav holds nothing but digital silence"),
        (["short.wav"], "short.wav lasts 1.0 s"),
        (["two.wav"], "two.wav has 2 tracks; name the microphone's with --track"),
        (["two.wav", "--track", "3"], "two.wav has no track 3"),
        (["nan.wav"], "nan.wav holds samples that are no numbers, the first at 1.000 s"),
        (["text.wav"], "text.wav"),
        (["nowhere.wav"], "nowhere.wav is not there"),
        (["clipped.wav"], "clipped.wav holds 2 claps, all clipped"),
        (["place.wav", "--kind", "clap"], "place.wav holds no clap"),
        (["place.wav", "--kind", "tone"], "place.wav holds no"),
        (["claps.wav", "--kind", "sweep"], "claps.wav is a sweep, and which one was played must be known"),
        (["place.wav", "--kind", "sweep", "--played", "100 Hz to 6 kHz in 2 s"], "does not hold the sweep"),
        (["place.wav", "--kind", "music"], "music"),
        (["place.wav", "--calibration", "silent.wav"], "silent.wav holds no tone"),
        (["place.wav", "--sensitivity", "loud"], "'loud' is not a quantity"),
        (["place.wav", "--calibration", "tone.wav", "--sensitivity", "20 mV/Pa"], "leave one of them out"),
        (["place.wav", "--calibrator", "200 dB SPL"], "No calibrator makes 200 dB SPL"),
        (["place.wav", "--boom", "near"], "--boom is 'near'"),
        (["place.wav", "--volume", "large"], "--volume is 'large'"),
        (["place.wav", "--effort", "shouted"], "--effort cannot be 'shouted'"),
        (["place.wav", "--noisy", "mornings"], "'mornings' tells no noisy hours"),
        (["place.wav", "--noisy", "25:00-26:00 bells"], "write a time of day"),
        (["place.wav", "--chart", "out.txt"], "A picture is written as .png"),
        (["silent.wav", "short.wav"], "None of the files can be used"),
    ],
)
def test_bad_input_is_one_sentence_and_nothing_is_changed(
    arguments: list[str], sentence: str, visit: Path, plan: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(visit)
    before = plan.read_text("utf-8")
    assert run(["survey", str(plan), *arguments, "--site", "yard", "--save"]) == 2
    said = capsys.readouterr().err
    assert sentence in " ".join(said.split())
    assert "Traceback" not in said
    assert plan.read_text("utf-8") == before


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (PLAN, "has no site 'quay'; there are: yard"),
        ("show:\n  title: A\n", "has no site 'quay'; there are: none yet"),
        ("- 1\n", "plan.yaml"),
    ],
)
def test_a_site_that_is_not_there(text: str, sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text(text, "utf-8")
    assert run(["survey", str(path), "--site", "quay"]) == 2
    assert sentence in " ".join(capsys.readouterr().err.split())


def test_one_bad_file_does_not_lose_the_others(visit: Path, plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [str(visit / "claps.wav"), str(visit / "clipped.wav")]
    assert run(["survey", str(plan), *files, "--site", "yard", "--kind", "clap", "--save"]) == 2
    shown = capsys.readouterr()
    assert "clipped.wav holds 2 claps, all clipped" in shown.err
    assert "rings for 0." in shown.out
    assert "reverberation:" in plan.read_text("utf-8")


def test_it_is_drawn(visit: Path, plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chart = tmp_path / "yard.svg"
    files = [str(visit / "place.wav"), str(visit / "claps.wav")]
    run(["survey", str(plan), *files, "--site", "yard", "--sensitivity", "-36 dBFS", "--chart", str(chart)])
    drawn = chart.read_text("utf-8")
    assert "Noise of Yard by octaves in dB SPL" in drawn
    assert "Decays of Yard by octaves" in drawn
    assert "NC-" in drawn
    assert f"Drawn: {chart}" in capsys.readouterr().out
    empty = tmp_path / "empty.png"
    assert run(["survey", str(plan), "--site", "yard", "--chart", str(empty)]) == 2
    assert not empty.exists()


def test_stopped_halfway_nothing_is_changed(
    visit: Path, plan: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from rollsound.measure.place.noise import PlaceNoise

    fed = PlaceNoise.feed

    def feed(self: PlaceNoise, block: Any) -> None:
        fed(self, block)
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(PlaceNoise, "feed", feed)
    before = plan.read_text("utf-8")
    assert run(["survey", str(plan), str(visit / "place.wav"), "--site", "yard", "--save"]) == 130
    assert plan.read_text("utf-8") == before
    assert "Stopped as you asked" in capsys.readouterr().err


def test_the_recordings_are_not_touched(visit: Path, plan: Path, tmp_path: Path) -> None:
    copied = Path(shutil.copytree(visit, tmp_path / "visit"))
    before = {path.name: path.read_bytes() for path in copied.iterdir()}
    run(["survey", str(plan), str(copied / "place.wav"), str(copied / "claps.wav"), "--site", "yard", "--save"])
    assert {path.name: path.read_bytes() for path in copied.iterdir()} == before


@pytest.mark.parametrize(("laeq", "code"), [("35 dBA", 0), ("48 dBA", 0), ("62 dBA", 1)])
def test_a_place_too_loud_for_speech_stops(
    laeq: str, code: int, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan.write_text(PLAN.replace("name: Yard", f"name: Yard\n    sound:\n      laeq: {laeq}"), "utf-8")
    assert run(["survey", str(plan), "--site", "yard"]) == code
    shown = capsys.readouterr().out
    assert f"Yard: kept from before: {float(laeq.split()[0]):.1f} dBA" in shown
    assert ("stop" in shown) is bool(code)

"""Conform by its door: what it answers, what it writes, what it refuses, and that a second run goes on."""

from __future__ import annotations

import importlib
import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from rollsound.cli.app import run
from rollsound.conform.plan import ConformPlan
from rollsound.wave import open_wave, read_info

# The functions of these modules carry the modules' own names.
conform_action = importlib.import_module("rollsound.actions.conform")
carry_out_module = importlib.import_module("rollsound.conform.carry_out")

START_SAMPLES = 480_000
STEP_SAMPLES = 960_000


@pytest.fixture(scope="module")
def mirrored(small_day: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:  # type: ignore[type-arg]
    out = tmp_path_factory.mktemp("conform") / "mirrors"
    code = run(["conform", str(small_day / "recorder"), "--cards", str(small_day / "cards"), "--out", str(out)])
    assert code == 0
    return out, json.loads((out / "conform.json").read_text("utf-8"))


def test_each_track_lies_where_it_was_cut_from(mirrored: tuple[Path, dict]) -> None:  # type: ignore[type-arg]
    _, result = mirrored
    for number, take in enumerate(result["takes"]):
        tracks = {track["name"]: track for track in take["tracks"]}
        for name in ("Ane", "Ivo"):
            track = tracks[name]
            assert track["outcome"] == "placed"
            assert track["card"] == f"card-{name.lower()}"
            # cut from the card without any drift: 0.1 sample is what a take of 15 s allows
            assert track["offset_samples"] == pytest.approx(START_SAMPLES + number * STEP_SAMPLES, abs=0.1)
            assert track["rate_ppm"] == pytest.approx(0.0, abs=0.05)
            assert [span["kind"] for span in track["spans"]] == ["mute"]
            assert abs(track["spans"][0]["start_sample"] - 200_000) < 1000
        assert tracks["Boom 1"]["action"] == "keep"


def test_the_mirror_is_the_recorder_file_with_the_holes_filled(
    mirrored: tuple[Path, dict],  # type: ignore[type-arg]
    small_day: Path,
) -> None:
    out, _ = mirrored
    for source in sorted((small_day / "recorder").glob("*.wav")):
        with open_wave(source) as a, open_wave(out / source.name) as b:
            assert b.info.frames == a.info.frames
            assert b.info.start_samples == a.info.start_samples
            left, right = a.read_ints(0, a.info.frames), b.read_ints(0, b.info.frames)
        assert np.array_equal(left[:, [0, 1, 4, 5]], right[:, [0, 1, 4, 5]])
        assert right[200_500:201_500, 2].any()


def test_a_second_run_writes_nothing_anew(mirrored: tuple[Path, dict], small_day: Path) -> None:  # type: ignore[type-arg]
    out, _ = mirrored
    before = {path: path.stat().st_mtime_ns for path in out.glob("*.wav")}
    assert run(["conform", str(small_day / "recorder"), "--cards", str(small_day / "cards"), "--out", str(out)]) == 0
    assert {path: path.stat().st_mtime_ns for path in out.glob("*.wav")} == before


def test_compare_writes_no_sound(small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--cards", str(small_day / "cards"), "--out", str(tmp_path / "o"), "--mode", "compare", "--json"]
    assert run(["conform", str(small_day / "recorder" / "31T1.wav"), *arguments]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result["takes"][0]["output"] == []
    assert list((tmp_path / "o").glob("*.wav")) == []


def test_an_edited_plan_is_carried_out(small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "plan"
    take = str(small_day / "recorder" / "31T2.wav")
    where = ["--cards", str(small_day / "cards"), "--out", str(out), "--mode", "mend"]
    assert run(["conform", take, *where, "--plan-only"]) == 0
    assert list(out.glob("*.wav")) == []
    plan = out / "conform plan.json"
    text = json.loads(plan.read_text("utf-8"))
    for track in text["takes"][0]["tracks"]:
        if track["name"] == "Ivo":
            track["spans"] = []
    edited = tmp_path / "edited.json"
    edited.write_text(json.dumps(text), "utf-8")
    assert ConformPlan.from_json(edited.read_text("utf-8")).takes
    assert run(["conform", take, *where, "--plan", str(edited)]) == 0
    with open_wave(out / "31T2.wav") as made, open_wave(take) as source:
        a, b = source.read_ints(0, source.info.frames), made.read_ints(0, made.info.frames)
    changed = [n for n in range(6) if not np.array_equal(a[:, n], b[:, n])]
    assert changed == [2], "only the track whose spans were left in the plan is mended"
    outside = np.r_[0:180_000, 225_000 : a.shape[0]]
    assert np.array_equal(a[outside, 2], b[outside, 2])


def test_a_card_at_the_source_needs_the_delay(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take = str(small_day / "recorder" / "31T1.wav")
    where = ["--cards", str(small_day / "cards"), "--out", str(tmp_path / "o"), "--place", "source"]
    assert run(["conform", take, *where]) == 2
    assert "--path-delay" in capsys.readouterr().err
    assert run(["conform", take, *where, "--path-delay", "3 ms", "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    track = next(track for track in result["takes"][0]["tracks"] if track["name"] == "Ane")
    assert track["place"] == "source"
    assert track["path_delay_samples"] == pytest.approx(144.0)
    # the sound was at the microphone 144 samples before the radio track had it: later on the card by as much
    assert track["offset_samples"] == pytest.approx(START_SAMPLES + 144.0, abs=0.1)


def test_cards_of_strangers_are_refused(small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cards = tmp_path / "cards"
    shutil.copytree(small_day / "cards" / "card-ane", cards / "Ivo")
    out = tmp_path / "o"
    where = ["--cards", str(cards), "--out", str(out), "--json"]
    assert run(["conform", str(small_day / "recorder" / "31T1.wav"), *where]) == 0
    tracks = {t["name"]: t for t in json.loads(capsys.readouterr().out)["takes"][0]["tracks"]}
    assert tracks["Ane"]["outcome"] == "placed", "the sound says so, whatever the folder's name"
    assert tracks["Ivo"]["action"] == "keep"
    assert tracks["Ivo"]["reason"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (["--cards", "gone"], "is not there"),
        (["--out", "RECORDER"], "holds the sources"),
        (["--mode", "polish"], "polish"),
        (["--plan", "nothing.json"], "is not there"),
        (["--place", "moon"], "moon"),
        (["--place", "source", "--path-delay", "3 parsnips"], "parsnips"),
    ],
)
def test_bad_input_is_one_sentence(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], change: list[str], words: str
) -> None:
    change = [str(small_day / "recorder") if word == "RECORDER" else word for word in change]
    base = {"--cards": str(small_day / "cards"), "--out": str(tmp_path / "o")}
    for name in list(base):
        if name in change:
            del base[name]
    arguments = [word for pair in base.items() for word in pair]
    assert run(["conform", str(small_day / "recorder"), *arguments, *change]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said


def test_an_output_of_somebody_else_is_never_overwritten(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "o"
    out.mkdir()
    (out / "31T1.wav").write_bytes(b"mine")
    where = ["--cards", str(small_day / "cards"), "--out", str(out)]
    assert run(["conform", str(small_day / "recorder" / "31T1.wav"), *where]) == 2
    assert "never overwritten" in capsys.readouterr().err
    assert (out / "31T1.wav").read_bytes() == b"mine"


def test_the_history_is_in_the_file(mirrored: tuple[Path, dict], small_day: Path) -> None:  # type: ignore[type-arg]
    out, _ = mirrored
    made = read_info(out / "31T1.wav")
    assert made.bext is not None
    assert "mirror" in made.bext.coding_history
    assert made.ixml is not None
    assert made.ixml.history.parent_filename == "31T1.wav"
    assert made.file_uid != read_info(small_day / "recorder" / "31T1.wav").file_uid


def test_a_recorder_file_cut_while_it_is_listened_to_is_refused(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    take = tmp_path / "31T1.wav"
    shutil.copy(small_day / "recorder" / "31T1.wav", take)
    listen = conform_action.align_day

    def listen_then_cut(*arguments: object, **named: object) -> object:
        day = listen(*arguments, **named)  # type: ignore[arg-type]
        with open(take, "r+b") as file:
            file.truncate(1_000_000)
        return day

    monkeypatch.setattr(conform_action, "align_day", listen_then_cut)
    out = tmp_path / "o"
    assert run(["conform", str(take), "--cards", str(small_day / "cards"), "--out", str(out)]) == 2
    assert "changed while it was listened to" in capsys.readouterr().err
    assert list(out.glob("*.wav")) == []


def test_a_recorder_file_cut_while_it_is_copied_is_refused(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    take = tmp_path / "31T1.wav"
    shutil.copy(small_day / "recorder" / "31T1.wav", take)
    prepare = carry_out_module._Opened.prepare

    def prepare_then_cut(self: object, progress: object) -> object:
        works = prepare(self, progress)  # type: ignore[arg-type]
        with open(take, "r+b") as file:
            file.truncate(1_000_000)
        return works

    monkeypatch.setattr(carry_out_module._Opened, "prepare", prepare_then_cut)
    out = tmp_path / "o"
    assert run(["conform", str(take), "--cards", str(small_day / "cards"), "--out", str(out)]) == 2
    assert "became shorter" in capsys.readouterr().err
    assert list(out.glob("*.wav")) == []

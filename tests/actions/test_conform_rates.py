"""Conform by its door, given files at several rates and depths: refused or told, never swallowed."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soxr

from rollsound.cli.app import run
from rollsound.wave import AudioFormat, Bext, SampleFormat, WaveWriter, open_wave

START_SECONDS = 36_000


def _mono(path: Path, rate: int, bits: SampleFormat, seconds: float = 2.0) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    sound = np.random.default_rng(3).standard_normal((round(seconds * rate), 1)).astype(np.float32) * np.float32(0.05)
    with WaveWriter(path, AudioFormat(rate, 1, bits), bext=Bext(time_reference=START_SECONDS * rate)) as writer:
        writer.write(sound)
    return path


def _marks(folder: Path) -> dict[str, str]:
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.rglob("*.wav")}


@pytest.mark.parametrize(
    ("rate", "bits", "told"),
    [
        (44_100, SampleFormat.PCM24, "run at 44100 Hz and 48000 Hz; a take needs one rate"),
        (48_000, SampleFormat.PCM16, "samples; a take needs one kind"),
    ],
)
def test_a_set_of_monos_that_differ_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rate: int, bits: SampleFormat, told: str
) -> None:
    recorder, cards, out = tmp_path / "recorder", tmp_path / "cards", tmp_path / "out"
    _mono(recorder / "8T2_1.wav", 48_000, SampleFormat.PCM24)
    _mono(recorder / "8T2_2.wav", rate, bits)
    _mono(cards / "C01" / "a.wav", 48_000, SampleFormat.PCM24, 4.0)
    out.mkdir()
    (out / "kept.txt").write_text("of an earlier run")
    before = _marks(tmp_path)
    assert run(["conform", str(recorder), "--cards", str(cards), "--out", str(out)]) == 2
    said = capsys.readouterr().err.strip()
    assert told in said
    assert said.count("\n") == 0
    assert _marks(tmp_path) == before
    assert sorted(path.name for path in out.iterdir()) == ["kept.txt"]


def test_a_copy_in_a_cards_folder_is_told_on_the_card(small_day: Path, tmp_path: Path) -> None:
    cards = tmp_path / "cards"
    shutil.copytree(small_day / "cards" / "card-ane", cards / "card-ane")
    original = cards / "card-ane" / "0001.wav"
    with open_wave(original) as reader:
        sound = reader.read_channel(0, 0, reader.info.frames)
    copy = np.asarray(soxr.resample(sound, 48_000, 44_100), np.float32)
    form = AudioFormat(44_100, 1, SampleFormat.PCM16)
    with WaveWriter(cards / "card-ane" / "0001 44k.wav", form) as writer:
        writer.write(copy[:, None])
    out = tmp_path / "out"
    assert run(["conform", str(small_day / "recorder" / "31T1.wav"), "--cards", str(cards), "--out", str(out)]) == 0
    result = json.loads((out / "conform.json").read_text("utf-8"))
    (card,) = result["cards"]
    assert "0001.wav (48000 Hz, 24 bits), which was used, and 0001 44k.wav (44100 Hz, 16 bits)" in card["note"]
    (track,) = [track for track in result["takes"][0]["tracks"] if track["name"] == "Ane"]
    assert track["card_file"] == str(original)
    (told,) = [each for each in result["findings"] if "44100 Hz" in each["what"]]
    assert told["weight"] == "watch"

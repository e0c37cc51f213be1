"""A day whose parts do not lie in one folder: recorder files here, what conform made there."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rollsound.cli.app import run


def test_what_conform_made_elsewhere_is_handed_over(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = tmp_path / "made"
    recorder = str(small_day / "recorder")
    assert run(["conform", recorder, "--cards", str(small_day / "cards"), "--out", str(made)]) == 0
    capsys.readouterr()
    run(["turnover", recorder, "--to", str(tmp_path / "without"), "--json"])
    without = json.loads(capsys.readouterr().out)
    run(["turnover", recorder, "--to", str(tmp_path / "post"), "--conformed", str(made), "--json"])
    result = json.loads(capsys.readouterr().out)
    assert not [file for file in without["files"] if "mirrors" in file]
    mirrors = sorted(Path(file).name for file in result["files"] if "mirrors" in file and file.endswith(".wav"))
    assert mirrors == sorted(path.name for path in made.glob("*.wav"))
    assert not result["problems"]


def test_a_folder_that_conform_did_not_write_is_refused(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    arguments = ["turnover", str(small_day / "recorder"), "--to", str(tmp_path / "post"), "--conformed", str(other)]
    assert run(arguments) == 2
    assert f"{other} holds no conform.json" in capsys.readouterr().err

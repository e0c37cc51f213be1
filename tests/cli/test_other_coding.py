"""A terminal whose settings read file names in another coding: one sentence, and never a false alarm."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from rollsound.actions.offload import offload

CORPUS = Path(__file__).parents[1] / "corpus"
posix = pytest.mark.skipif(os.name == "nt", reason="names are read by the locale on POSIX systems only")


def _run(arguments: list[str], **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG", "PYTHONUTF8"))}
    return subprocess.run(
        [sys.executable, "-m", "rollsound", *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        env={**kept, **environment},
        check=False,
    )


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    card = tmp_path / "card"
    card.mkdir()
    shutil.copy(CORPUS / "sound.wav", card / "Åse – kai.wav")
    assert offload(card, [tmp_path / "a"]).complete
    return tmp_path / "a" / "card"


@posix
def test_verify_calls_no_file_lost(copy: Path) -> None:
    done = _run(["verify", str(copy)], LC_ALL="C", PYTHONUTF8="0")
    assert done.returncode == 2
    assert "read file names as ascii" in done.stderr
    assert "nothing was checked" in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
    assert "is not there" not in done.stdout + done.stderr


@posix
@pytest.mark.parametrize("environment", [{"LC_ALL": "C"}, {"LC_ALL": "C.UTF-8"}, {}])
def test_the_cure_and_the_usual_settings_prove_it(copy: Path, environment: dict[str, str]) -> None:
    done = _run(["verify", str(copy)], **environment)
    assert (done.returncode, "Proven" in done.stdout) == (0, True)


@posix
def test_plain_names_are_proven_whatever_the_settings(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    shutil.copy(CORPUS / "sound.wav", card / "sound.wav")
    assert offload(card, [tmp_path / "a"]).complete
    assert _run(["verify", str(tmp_path / "a" / "card")], LC_ALL="C", PYTHONUTF8="0").returncode == 0


@posix
def test_conform_names_the_settings_and_not_the_file(tmp_path: Path) -> None:
    shutil.copy(CORPUS / "sound.wav", tmp_path / "Åse.wav")
    (tmp_path / "cards").mkdir()
    shutil.copy(CORPUS / "sound.wav", tmp_path / "cards" / "a.wav")
    where = ["--cards", str(tmp_path / "cards"), "--out", str(tmp_path / "out")]
    done = _run(["conform", str(tmp_path), *where], LC_ALL="C", PYTHONUTF8="0")
    assert done.returncode == 2
    assert "reads names as ascii" in " ".join(done.stderr.split())

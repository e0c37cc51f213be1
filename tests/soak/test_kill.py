"""Pull the plug at random moments, two hundred times: sources stay, nothing half stands under a final name, a second
run finishes the job.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from rollsound.wave import open_wave, read_info

RUNS = {"offload": 80, "conform": 60, "turnover": 60}


def digest(folder: Path) -> str:
    """One hash over every name and byte of a folder."""
    total = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        total.update(str(path.relative_to(folder)).encode())
        if path.is_file():
            total.update(path.read_bytes())
    return total.hexdigest()


def sound_of(path: Path) -> str:
    """A hash of a file's frames; fails the test when the file is not whole."""
    info = read_info(path)
    assert not info.assumptions, f"{path} is not whole: {info.assumptions}"
    with open_wave(path) as reader:
        return hashlib.sha256(reader.read_bytes(0, info.frames)).hexdigest()


def finished_sounds(folder: Path) -> dict[str, str]:
    """Every audio file that stands under a final name."""
    return {
        str(path.relative_to(folder)): sound_of(path)
        for path in sorted(folder.rglob("*.wav"))
        if not path.name.startswith(".")
    }


def check_documents(folder: Path) -> None:
    """JSON and PDF files that stand under a final name are whole."""
    for path in folder.rglob("*"):
        if path.name.startswith(".") or not path.is_file():
            continue
        if path.suffix == ".json":
            json.loads(path.read_text("utf-8"))
        if path.suffix == ".pdf":
            assert path.read_bytes().rstrip().endswith(b"%%EOF"), path


def command(name: str, day: Path, out: Path) -> list[str]:
    """The command line under test."""
    base = [sys.executable, "-m", "rollsound", name]
    if name == "offload":
        return [*base, str(day), "--to", str(out / "a"), "--to", str(out / "b")]
    if name == "conform":
        return [*base, str(day / "recorder"), "--cards", str(day / "cards"), "--out", str(out / "mirrors")]
    return [*base, str(day), "--to", str(out)]


@pytest.mark.soak
@pytest.mark.parametrize("name", list(RUNS))
def test_a_killed_run_loses_nothing(name: str, small_day: Path, tmp_path: Path) -> None:
    day = small_day
    rng = np.random.default_rng(int(os.environ.get("ROLLSOUND_SOAK_SEED", "1")))
    before = digest(day)
    reference = tmp_path / "reference"
    began = time.monotonic()
    first = subprocess.run(command(name, day, reference), capture_output=True, text=True, check=False)
    length = time.monotonic() - began
    assert first.returncode in (0, 1), first.stderr
    wanted = finished_sounds(reference)
    assert wanted
    cut_short = 0
    for run in range(int(os.environ.get("ROLLSOUND_SOAK_RUNS", RUNS[name]))):
        out = tmp_path / f"run{run}"
        process = subprocess.Popen(command(name, day, out), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(float(rng.uniform(0.2, 1.0)) * length)
        cut_short += process.poll() is None
        process.kill()
        process.wait()
        assert digest(day) == before, "a source changed"
        if out.exists():
            standing = finished_sounds(out)
            assert {k: wanted.get(k) for k in standing} == standing, "a file under a final name is not the right one"
            check_documents(out)
        second = subprocess.run(command(name, day, out), capture_output=True, text=True, check=False)
        assert second.returncode == first.returncode, second.stderr
        assert finished_sounds(out) == wanted
        check_documents(out)
        leftovers = list(out.rglob("*.part-*"))
        assert leftovers == [], "half-written files were left behind after a finished run"
    assert cut_short > 0, "no run was cut short; the kills came too late"
    assert digest(day) == before

"""A broken file's findings: one cause, one finding, one cure."""

import shlex
from pathlib import Path

import numpy as np

from rollsound.finding import Weight
from rollsound.wave import AudioFormat, SampleFormat, WaveWriter, read_info
from rollsound.wave.proofs import findings_of_info


def written(path: Path) -> Path:
    with WaveWriter(path, AudioFormat(48000, 2, SampleFormat.PCM24)) as writer:
        writer.write(np.random.default_rng(1).standard_normal((48000, 2)).astype(np.float32) * 0.1)
    return path


def test_a_whole_file_has_none(tmp_path: Path) -> None:
    assert findings_of_info(read_info(written(tmp_path / "a.wav"))) == []


def test_a_file_that_lost_power_has_one_with_its_cure(tmp_path: Path) -> None:
    data = bytearray(written(tmp_path / "a.wav").read_bytes())
    at = data.index(b"data")
    data[4:8] = data[at + 4 : at + 8] = bytes(4)
    broken = tmp_path / "b.wav"
    broken.write_bytes(data[:-7])
    (finding,) = findings_of_info(read_info(broken))
    assert finding.weight is Weight.STOP
    assert finding.remedy.endswith(f"rollsound recover {shlex.quote(str(broken))}")

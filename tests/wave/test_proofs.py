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


def test_a_destroyed_header_stops_and_says_how_to_cure_it(tmp_path: Path) -> None:
    data = bytearray(written(tmp_path / "a.wav").read_bytes())
    data[:12] = bytes(12)
    broken = tmp_path / "b.wav"
    broken.write_bytes(data)
    (finding,) = findings_of_info(read_info(broken))
    assert "header is destroyed" in finding.what
    assert finding.weight is Weight.STOP
    assert finding.remedy.endswith(f"rollsound recover {shlex.quote(str(broken))}")


def test_where_the_format_is_lost_the_cure_names_it(tmp_path: Path) -> None:
    data = bytearray(written(tmp_path / "a.wav").read_bytes())
    at = data.index(b"data")
    data[: at + 8] = bytes(at + 8)
    broken = tmp_path / "b.wav"
    broken.write_bytes(data)
    (finding,) = findings_of_info(read_info(broken, assume=AudioFormat(48000, 2, SampleFormat.PCM24)))
    assert finding.remedy.endswith("--channels 2 --bits 24 --sample-rate 48000")


def test_counts_of_bytes_stand_with_thousands_apart(tmp_path: Path) -> None:
    data = written(tmp_path / "a.wav").read_bytes()
    broken = tmp_path / "b.wav"
    broken.write_bytes(data[:-120_000])
    (finding,) = findings_of_info(read_info(broken))
    assert "The file states 288,000 bytes of audio but ends after 168,000; the last 120,000 bytes" in finding.what

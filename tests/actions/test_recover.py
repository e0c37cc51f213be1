"""Recover by its door: every audio chunk of a file is kept, and a run that was cut off goes on."""

from __future__ import annotations

import hashlib
import json
import struct
from pathlib import Path

import numpy as np
import pytest

from rollsound.actions.recover import recover_files
from rollsound.cli.app import run
from rollsound.errors import StorageError
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter, open_wave, read_info

FORM = AudioFormat(48_000, 2, SampleFormat.PCM24)
START = 36_000 * 48_000


def _raw(frames: int, seed: int, size: int = FORM.frame_bytes) -> bytes:
    return np.random.default_rng(seed).bytes(frames * size)


def _chunk(payload: bytes, name: bytes = b"data", stated: int | None = None) -> bytes:
    size = len(payload) if stated is None else stated
    return name + struct.pack("<I", size) + payload + b"\0" * (len(payload) % 2)


def _file(path: Path, *chunks: bytes) -> Path:
    """A whole file of 1000 frames with bext and iXML, and chunks put after it."""
    bext = Bext(description="sSCENE=12A", time_reference=START, loudness_value_lufs=-23.0)
    ixml = IXml.build(scene="12A", take="3", tracks=["Boom", "Oda"], audio=FORM, bext=bext, file_uid="NBF1")
    with WaveWriter(path, FORM, bext=bext, ixml=ixml) as writer:
        writer.write_bytes(_raw(1000, 0))
    whole = path.read_bytes() + b"".join(chunks)
    path.write_bytes(whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:])
    return path


def _audio(path: Path) -> bytes:
    with open_wave(path) as reader:
        assert reader.info.assumptions == ()
        assert reader.info.disagreements == ()
        return reader.read_bytes(0, reader.info.frames)


def test_a_second_audio_chunk_becomes_a_file_of_its_own(tmp_path: Path) -> None:
    source = _file(tmp_path / "a.wav", _chunk(_raw(333, 1)))
    digest = hashlib.sha256(source.read_bytes()).digest()
    (done,) = recover_files([source], out=tmp_path / "out").files
    assert done.outcome == "recovered"
    first, second = Path(done.output), tmp_path / "out" / "a-part2.wav"
    assert done.further_outputs == (str(second),)
    assert _audio(first) == _raw(1000, 0)
    assert _audio(second) == _raw(333, 1)
    assert any("not joined on and has no time stamp" in sentence for sentence in done.assumptions)
    info = read_info(second)
    assert (info.scene, info.take, info.track_names) == ("12A", "3", ("Boom", "Oda"))
    assert not info.has_timecode
    assert info.bext is not None
    assert info.bext.loudness_value_lufs is None
    assert "recovered from audio chunk 2 without a start time" in info.bext.coding_history
    assert info.ixml is not None
    assert info.ixml.history.parent_filename == "a.wav"
    assert info.file_uid not in ("NBF1", read_info(first).file_uid)
    assert read_info(first).start_samples == START
    assert hashlib.sha256(source.read_bytes()).digest() == digest


def test_the_finding_names_it_and_the_cure_works(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = _file(tmp_path / "a.wav", _chunk(_raw(333, 1)))
    assert run(["inspect", str(source), "--json"]) == 1
    (file,) = json.loads(capsys.readouterr().out)["files"]
    (finding,) = [each for each in file["findings"] if each["kind"] == "file-not-whole"]
    assert "holds a second audio chunk (333 frames, at byte" in finding["what"]
    assert f"rollsound recover {source}" in finding["remedy"]
    assert run(["recover", str(source)]) == 0
    assert "a-recovered-part2.wav" in capsys.readouterr().out
    assert _audio(tmp_path / "a-recovered-part2.wav") == _raw(333, 1)


def test_all_of_many_are_kept_and_empty_ones_are_not_told(tmp_path: Path) -> None:
    chunks = [_chunk(_raw(100 + n, n)) for n in range(1, 5)]
    source = _file(tmp_path / "a.wav", *chunks[:2], _chunk(b""), *chunks[2:])
    (done,) = recover_files([source], out=tmp_path / "out").files
    assert [_audio(Path(part)) for part in done.further_outputs] == [_raw(100 + n, n) for n in range(1, 5)]


def test_a_format_of_its_own_holds_for_the_second(tmp_path: Path) -> None:
    mono = AudioFormat(44_100, 1, SampleFormat.PCM16)
    own = struct.pack("<HHIIHH", 1, 1, 44_100, 88_200, 2, 16)
    source = _file(tmp_path / "a.wav", _chunk(own, b"fmt "), _chunk(_raw(500, 1, 2)))
    (done,) = recover_files([source], out=tmp_path / "out").files
    (second,) = done.further_outputs
    assert read_info(second).format == mono
    assert _audio(Path(second)) == _raw(500, 1, 2)


@pytest.mark.parametrize("stated", [0xFFFFFFFF, 12 * 1000, 0])
@pytest.mark.parametrize("raw", [_raw(333, 1), (np.arange(333 * 2) << 8).astype("<i4").view(np.uint8).tobytes()])
def test_a_second_one_that_was_never_finished_is_kept_to_its_end(tmp_path: Path, stated: int, raw: bytes) -> None:
    """Noise and sound alike: neither is taken for a tail of the first."""
    raw = raw[: len(raw) // 6 * 6]
    source = _file(tmp_path / "a.wav", _chunk(raw, stated=stated))
    (done,) = recover_files([source], out=tmp_path / "out").files
    assert done.frames == 1000
    assert _audio(Path(done.further_outputs[0])) == raw


def test_a_run_cut_off_between_the_two_goes_on(tmp_path: Path) -> None:
    source = _file(tmp_path / "a.wav", _chunk(_raw(333, 1)))
    out = tmp_path / "out"
    recover_files([source], out=out)
    (out / "a-part2.wav").unlink()
    stamp = (out / "a.wav").stat().st_mtime_ns
    (done,) = recover_files([source], out=out).files
    assert done.outcome == "recovered"
    assert _audio(out / "a-part2.wav") == _raw(333, 1)
    assert (out / "a.wav").stat().st_mtime_ns == stamp
    assert recover_files([source], out=out).files[0].outcome == "already there"


def test_another_file_of_that_name_is_left_and_nothing_is_written(tmp_path: Path) -> None:
    source = _file(tmp_path / "a.wav", _chunk(_raw(333, 1)))
    out = tmp_path / "out"
    out.mkdir()
    _file(out / "a-part2.wav")
    before = (out / "a-part2.wav").read_bytes()
    (done,) = recover_files([source], out=out).files
    assert done.outcome == "lost"
    assert "is there already and is another file" in done.problem
    assert [path.name for path in out.iterdir()] == ["a-part2.wav"]
    assert (out / "a-part2.wav").read_bytes() == before


def test_half_a_million_empty_audio_chunks_are_read_in_little_time(tmp_path: Path) -> None:
    source = _file(tmp_path / "a.wav", _chunk(b"") * 500_000)
    info = read_info(source)
    assert info.frames == 1000
    assert len(info.assumptions) < 10


def test_recovery_refuses_a_part_that_is_there(tmp_path: Path) -> None:
    from rollsound.wave import recover_more

    source = _file(tmp_path / "a.wav", _chunk(_raw(10, 1)))
    (tmp_path / "b.wav").write_bytes(b"precious")
    with pytest.raises(StorageError, match="there already"):
        recover_more(source, tmp_path / "b.wav", 2)

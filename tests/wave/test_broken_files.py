"""Every defect of the corpus: what is sound is read, what was assumed is said, the source stays as it was."""

from __future__ import annotations

import contextlib
import hashlib
import os
import pickle
import struct
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import soundfile

from rollsound.errors import BrokenFileError, StorageError
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter, open_wave, read_info, recover
from rollsound.wave.disk import ByteSource

CORPUS = Path(__file__).parent.parent / "corpus"
FORM = AudioFormat(48000, 3, SampleFormat.PCM24)

# What the generator put in, which is the outside truth here: whole frames, first byte of audio counted in frames of the
# generated sound, and the kinds of assumption that must be told (no others).
READABLE = {
    "sound.wav": (1001, set()),
    "size-zero-everywhere.wav": (1001, {"unfinished", "riff-size"}),
    "size-zero-riff-header-only.wav": (1001, {"unfinished", "riff-size"}),
    "size-zero-ixml-after.wav": (1001, {"unfinished", "riff-size"}),
    "size-minus-one-everywhere.wav": (1001, {"unfinished", "riff-size"}),
    "size-minus-one-ixml-after.wav": (1001, {"unfinished", "riff-size"}),
    "size-stale-quarter.wav": (1001, {"stale-size", "riff-size"}),
    "size-stale-quarter-ixml-after.wav": (1001, {"stale-size"}),
    "cut-on-frame.wav": (750, {"cut", "riff-size"}),
    "cut-mid-frame.wav": (749, {"cut", "riff-size", "partial-frame"}),
    "first-512-zero.wav": (1001, {"header"}),
    "first-12-zero.wav": (1001, {"header"}),
    "pad-missing.wav": (1001, {"pad-missing"}),
    "pad-after-even-chunk.wav": (1001, {"padding"}),
    "riff-size-zero.wav": (1001, {"riff-size"}),
    "riff-size-without-ixml.wav": (1001, {"riff-size"}),
    "rf64-sound.wav": (1000, set()),
    "bw64-sound.wav": (1000, set()),
    "rf64-ds64-zero.wav": (1000, {"unfinished", "riff-size"}),
    "rf64-ds64-minus-one.wav": (1000, {"unfinished", "riff-size"}),
    "rf64-cut-half.wav": (500, {"cut", "riff-size"}),
    "preallocated-zeros.wav": (1000, {"unfinished", "preallocated", "riff-size"}),
    "zeros-after-data.wav": (1000, {"zeros-after", "riff-size"}),
    "junk-after-data.wav": (1000, {"junk-after", "riff-size"}),
    "text-after-data.wav": (1000, {"junk-after", "riff-size"}),
    "junk-after-ixml.wav": (1001, {"trailing", "riff-size"}),
    "data-header-missing.wav": (1001, {"data-header"}),
    "data-header-zeroed.wav": (1001, {"data-header"}),
    "ixml-size-huge.wav": (1001, {"chunk-size"}),
    "block-align-wrong.wav": (1001, {"block-align"}),
    "data-not-whole-frames.wav": (1000, {"partial-frame"}),
    "data-before-fmt.wav": (1000, set()),
    "bext-short.wav": (1001, {"bext-short"}),
    "ixml-bare-ampersand.wav": (1001, {"ixml-mended"}),
    "ixml-broken.wav": (1001, {"ixml-mended"}),
    "ixml-nul-padded.wav": (1001, set()),
    "ixml-utf16.wav": (1001, set()),
    "ixml-latin1.wav": (1001, set()),
    "ixml-wrong-encoding.wav": (1001, set()),
    "ixml-not-xml.wav": (1001, {"ixml-unreadable"}),
    "ixml-entity-bomb.wav": (1001, {"ixml-mended"}),
    "second-data.wav": (1000, {"second-data"}),
}
UNREADABLE = {
    "first-4096-zero.wav": "give them",
    "channels-zero.wav": "0 channels.*give them",
    "data-chunk-missing.wav": "ends before its audio begins",
    "cut-in-header.wav": "ends before its audio begins",
    "empty.wav": "is empty",
    "riff-big-endian.wav": "big-endian",
}


def test_the_stored_corpus_is_what_its_generator_makes(corpus: ModuleType) -> None:
    stored = {path.name: path.read_bytes() for path in CORPUS.glob("*.wav")}
    assert stored == corpus.files()
    assert set(stored) == set(READABLE) | set(UNREADABLE)


@pytest.mark.parametrize("name", READABLE)
def test_sound_frames_are_read_and_assumptions_told(name: str, corpus: ModuleType) -> None:
    frames, kinds = READABLE[name]
    digest = hashlib.sha256((CORPUS / name).read_bytes()).hexdigest()
    with open_wave(CORPUS / name) as reader:
        assert reader.info.frames == frames
        assert {note.kind for note in reader.info.assumptions} == kinds
        assert reader.read_bytes(0, frames) == corpus.audio(1001)[: frames * 9]
        for note in reader.info.assumptions:
            assert note.sentence.endswith(".")
            assert "\n" not in note.sentence
    assert hashlib.sha256((CORPUS / name).read_bytes()).hexdigest() == digest


@pytest.mark.parametrize("name", [name for name in READABLE if "ixml" in name and name != "ixml-not-xml.wav"])
def test_broken_xml_keeps_the_other_fields(name: str) -> None:
    info = read_info(CORPUS / name)
    assert info.scene.startswith("12A")
    assert info.take == "3"
    assert info.track_names in (("Boom", "Oda", "Idris"), ("Boom", "Åse", "Idris"))


def test_entities_are_neither_expanded_nor_fetched() -> None:
    info = read_info(CORPUS / "ixml-entity-bomb.wav")
    assert info.scene == "12A&a9;&out;"


@pytest.mark.parametrize(("name", "words"), UNREADABLE.items())
def test_what_cannot_be_read_is_said_in_a_sentence(name: str, words: str) -> None:
    with pytest.raises(BrokenFileError, match=words):
        read_info(CORPUS / name)


def test_a_ruined_header_is_read_in_a_format_that_somebody_knows(corpus: ModuleType) -> None:
    # The audio starts at byte 654; bytes to 4096 are gone. Frame 382 is the first that is partly left.
    with open_wave(CORPUS / "first-4096-zero.wav", assume=FORM) as reader:
        info = reader.info
        assert info.frames == 1001 - 382
        assert reader.read_bytes(1, info.frames) == corpus.audio()[383 * 9 :]
        assert info.scene == "12A"
        assert {"no-header", "format-given"} <= {note.kind for note in info.assumptions}


def test_channels_zero_is_read_in_a_format_that_somebody_knows(corpus: ModuleType) -> None:
    with open_wave(CORPUS / "channels-zero.wav", assume=FORM) as reader:
        assert reader.read_bytes(0, 1001) == corpus.audio()


def test_a_given_format_does_not_override_a_sound_header() -> None:
    info = read_info(CORPUS / "sound.wav", assume=AudioFormat(44100, 1, SampleFormat.PCM16))
    assert info.format == FORM
    assert not info.assumptions


@pytest.mark.source("libsndfile 1.2 reads every recovered copy", kind="library")
@pytest.mark.parametrize("name", READABLE)
def test_recovered_copies_are_whole(name: str, tmp_path: Path, corpus: ModuleType) -> None:
    out = tmp_path / "whole.wav"
    info = recover(CORPUS / name, out)
    assert info.assumptions == () or name == "ixml-not-xml.wav"
    samples, rate = soundfile.read(out, dtype="int32", always_2d=True)
    raw = np.frombuffer(corpus.audio(), np.uint8).reshape(-1, 3)
    wanted = np.zeros((len(raw), 4), np.uint8)
    wanted[:, 1:] = raw
    wanted_samples = wanted.view("<i4").reshape(-1, 3)[: info.frames]
    assert rate == 48000
    assert np.array_equal(samples, wanted_samples)
    before = read_info(CORPUS / name)
    assert (info.scene, info.take, info.start_samples) == (before.scene, before.take, before.start_samples)
    assert info.track_names == before.track_names


def test_recovery_never_replaces_a_file(tmp_path: Path) -> None:
    out = tmp_path / "there.wav"
    out.write_bytes(b"precious")
    with pytest.raises(StorageError, match="there already"):
        recover(CORPUS / "sound.wav", out)
    assert out.read_bytes() == b"precious"
    assert [path.name for path in tmp_path.iterdir()] == ["there.wav"]


def test_recovery_says_where_the_copy_comes_from(tmp_path: Path) -> None:
    info = recover(CORPUS / "size-zero-ixml-after.wav", tmp_path / "whole.wav")
    assert info.bext is not None
    assert info.bext.coding_history == "A=PCM,F=48000,W=24,M=multi,T=recovered copy\r\n"
    assert info.ixml is not None
    assert info.ixml.history.parent_filename == "size-zero-ixml-after.wav"
    assert info.file_uid


def _sparse(path: Path, frames: int, sizes: int, tail: bytes = b"") -> None:
    """A file beyond 4 GiB that takes no room: 32 channels, 24 bits, one marked frame at its end."""
    header = b"RIFF" + struct.pack("<I", sizes) + b"WAVE"
    header += b"fmt " + struct.pack("<IHHIIHH", 16, 1, 32, 48000, 48000 * 96, 96, 24)
    header += b"data" + struct.pack("<I", sizes)
    with open(path, "wb") as file:
        file.write(header)
        file.seek(len(header) + (frames - 1) * 96)
        file.write(bytes(range(1, 97)) + tail)


@pytest.mark.skipif(os.name == "nt", reason="files with holes need to be asked for on this system")
def test_more_than_4_gib_with_wrapped_sizes(tmp_path: Path) -> None:
    frames = 52_083_333
    path = tmp_path / "wrapped.wav"
    _sparse(path, frames, (frames * 96) % (1 << 32), b"LIST\x04\0\0\0INFO")
    with open_wave(path) as reader:
        assert reader.info.frames == frames
        assert "wrapped" in {note.kind for note in reader.info.assumptions}
        assert reader.read_bytes(frames - 1, 1) == bytes(range(1, 97))


@pytest.mark.skipif(os.name == "nt", reason="files with holes need to be asked for on this system")
def test_more_than_4_gib_never_finished(tmp_path: Path) -> None:
    frames = 50_000_000
    path = tmp_path / "unfinished.wav"
    _sparse(path, frames, 0xFFFFFFFF)
    with open_wave(path) as reader:
        assert reader.info.frames == frames
        assert reader.read_channel(31, frames - 1, 5).shape == (1,)


def test_a_table_with_a_wrong_row_would_be_noticed() -> None:
    frames, kinds = READABLE["cut-on-frame.wav"]
    info = read_info(CORPUS / "cut-on-frame.wav")
    assert info.frames != frames + 1
    assert {note.kind for note in info.assumptions} != kinds - {"cut"}


@pytest.mark.parametrize("word", [b"JUNK\0\0\0\0", b"iXML\x04\0\0\0", b"data", b"LIST\xff\xff\xff\x7f"])
@pytest.mark.parametrize("start", ["fresh", "unfinished", "headless"])
def test_files_made_to_waste_time_are_read_in_few_steps(
    word: bytes, start: str, tmp_path: Path, corpus: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    junk = word * ((4 << 20) // len(word)) + b"\1"
    body = {
        "fresh": corpus.riff(corpus.fmt(), junk),
        "unfinished": corpus.riff(corpus.fmt(), corpus.data(0), junk, size=0),
        "headless": bytes(100) + junk,
    }[start]
    path = tmp_path / "a.wav"
    path.write_bytes(body)
    steps, read, read_into = [0], ByteSource.read, ByteSource.read_into

    def counted(self: ByteSource, offset: int, count: int) -> bytes:
        steps[0] += 1
        return read(self, offset, count)

    def counted_into(self: ByteSource, offset: int, buffer: memoryview) -> int:
        steps[0] += 1
        return read_into(self, offset, buffer)

    monkeypatch.setattr(ByteSource, "read", counted)
    monkeypatch.setattr(ByteSource, "read_into", counted_into)
    with contextlib.suppress(BrokenFileError):
        read_info(path, assume=FORM)
    assert steps[0] > 0
    # Searches look at 1000 names of at most 64 chunks each and walks at 4096 chunks; without limits it is millions.
    assert steps[0] < 400_000


def test_sets_of_lists_and_a_bext_copy_go_along(tmp_path: Path, corpus: ModuleType) -> None:
    document = IXml.build(scene="12A", bext=Bext(time_reference=5))
    extra = [("LIST", b"wxyz1234"), ("LIST", b"INFOINAM\x02\0\0\0a\0")]
    with WaveWriter(tmp_path / "a.wav", FORM, bext=Bext(time_reference=5), ixml=document, extra_chunks=extra) as writer:
        writer.write_bytes(corpus.audio(10))
    info = recover(tmp_path / "a.wav", tmp_path / "b.wav")
    assert info.ixml is not None
    assert info.bext is not None
    assert info.ixml.bext_copy["CODING_HISTORY"] == info.bext.coding_history.strip()
    assert info.info_list == {"INAM": "a"}
    with open_wave(tmp_path / "b.wav") as reader:
        assert b"wxyz1234" in [reader.read_chunk(chunk) for chunk in info.chunks if chunk.id == "LIST"]


def test_loud_bright_sound_after_a_stale_size_is_kept(tmp_path: Path, corpus: ModuleType) -> None:
    n = np.arange(6000)
    sound = (np.sin(0.6 * n) * np.where(n < 1000, 0.001, 0.9) * 8_000_000).astype("<i4")
    raw = sound.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    path = tmp_path / "a.wav"
    path.write_bytes(corpus.riff(corpus.fmt(1, 3), corpus.chunk(b"data", raw, 3000)))
    assert read_info(path).frames == 6000


def test_what_is_known_of_a_file_can_go_to_another_process() -> None:
    info = read_info(CORPUS / "sound.wav")
    assert pickle.loads(pickle.dumps(info)) == info


def test_silence_that_was_never_finished_keeps_its_length(tmp_path: Path, corpus: ModuleType) -> None:
    path = tmp_path / "silent.wav"
    path.write_bytes(corpus.riff(corpus.fmt(), corpus.chunk(b"data", bytes(9000), 0), size=0))
    info = read_info(path)
    assert info.frames == 1000
    assert "all-zeros" in {note.kind for note in info.assumptions}


@pytest.mark.parametrize("channels", [1, 2, 32])
def test_frames_without_header_are_found_in_every_width(channels: int, tmp_path: Path, corpus: ModuleType) -> None:
    path = tmp_path / "ruined.wav"
    raw = corpus.audio(2000, channels)
    path.write_bytes(bytes(512) + raw)
    with open_wave(path, assume=AudioFormat(48000, channels, SampleFormat.PCM24)) as reader:
        assert reader.read_bytes(reader.info.frames - 1999, 1999) == raw[3 * channels :]

"""Writing: read back by libraries that nobody here wrote; never over another file; nothing left behind on failure."""

from __future__ import annotations

import errno
import os
import struct
import sys
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.errors import InputError, StorageError
from rollsound.wave import AudioFormat, Bext, Cue, IXml, SampleFormat, WaveWriter, open_wave, read_info

Noise = NDArray[np.float32]
FORM = AudioFormat(48000, 3, SampleFormat.PCM24)


@pytest.mark.source("libsndfile 1.2 reads what is written", kind="library")
@pytest.mark.parametrize("sample_format", SampleFormat)
@pytest.mark.parametrize("channels", [1, 2, 3, 32, 128])
@pytest.mark.parametrize("most", [0xFFFFFFFF, 0])
def test_libsndfile_reads_back(
    channels: int, sample_format: SampleFormat, most: int, tmp_path: Path, noise: Noise
) -> None:
    path = tmp_path / "a.wav"
    sound = noise[:1001, :channels] * np.float32(0.9)
    form = AudioFormat(96000, channels, sample_format)
    document = IXml.build(scene="7", tracks=["x"] * channels)
    with WaveWriter(path, form, bext=Bext(coding_history="odd"), ixml=document, largest_riff_bytes=most) as writer:
        for start in range(0, 1001, 100):
            writer.write(sound[start : start + 100])
    header = soundfile.info(path)
    assert (header.samplerate, header.channels, header.frames) == (96000, channels, 1001)
    assert header.format == {0: "RF64"}.get(most, "WAVEX" if channels > 2 else "WAV")
    back, _ = soundfile.read(path, dtype="float64", always_2d=True)
    if sample_format is SampleFormat.FLOAT32:
        assert np.array_equal(back, sound)
    else:
        # Rounding is at most half a step; libsndfile's own scaling is exact in float64.
        assert np.abs(back - sound.astype(np.float64)).max() <= 0.5 / 2 ** (sample_format.bits - 1)
    info = read_info(path)
    assert info.container == ("RF64" if most == 0 else "RIFF")
    assert not info.assumptions


@pytest.mark.source("FFmpeg libraries (PyAV) read what is written", kind="library")
@pytest.mark.parametrize("channels", [1, 6, 32])
@pytest.mark.parametrize("most", [0xFFFFFFFF, 0])
def test_ffmpeg_reads_back(channels: int, most: int, tmp_path: Path, noise: Noise) -> None:
    path = tmp_path / "a.wav"
    whole = (noise[:4000, :channels] * 8_000_000).astype(np.int32) << 8
    form = AudioFormat(48000, channels, SampleFormat.PCM24)
    with WaveWriter(path, form, bext=Bext(description="x"), largest_riff_bytes=most) as writer:
        writer.write(whole)
    with av.open(path) as back:
        blocks = [frame.to_ndarray().reshape(-1, channels) for frame in back.decode(audio=0)]
    assert np.array_equal(np.concatenate(blocks), whole)


@pytest.mark.parametrize("sample_format", [SampleFormat.PCM16, SampleFormat.PCM24, SampleFormat.PCM32])
def test_whole_numbers_pass_bit_for_bit(sample_format: SampleFormat, tmp_path: Path) -> None:
    edges = np.array([[-(2**31)], [2**31 - 1], [0], [-1], [1], [2**30]], np.int32)
    edges &= np.int32(-(1 << (32 - sample_format.bits)))
    with WaveWriter(tmp_path / "a.wav", AudioFormat(48000, 1, sample_format)) as writer:
        writer.write(edges)
    with open_wave(tmp_path / "a.wav") as reader:
        assert np.array_equal(reader.read_ints(0, 6), edges)


def test_int32_too_fine_for_the_file_is_rounded_not_wrapped(tmp_path: Path) -> None:
    with WaveWriter(tmp_path / "a.wav", AudioFormat(48000, 1, SampleFormat.PCM16)) as writer:
        writer.write(np.array([[2**31 - 1], [32768], [32767], [-(2**31)]], np.int32))
    with open_wave(tmp_path / "a.wav") as reader:
        assert reader.read_ints(0, 4)[:, 0].tolist() == [32767 << 16, 1 << 16, 0, -(2**31)]


def test_float_extremes_are_clipped_and_counted(tmp_path: Path) -> None:
    block = np.array([[1.0], [-1.0], [1.5], [-2.0], [np.nan], [np.inf], [0.25]], np.float32)
    with WaveWriter(tmp_path / "a.wav", AudioFormat(48000, 1, SampleFormat.PCM24)) as writer:
        writer.write(block)
        assert writer.clipped_samples == 5
    with open_wave(tmp_path / "a.wav") as reader:
        top = 1 - 2.0**-23
        assert reader.read(0, 9)[:, 0].tolist() == [np.float32(top), -1, np.float32(top), -1, 0, np.float32(top), 0.25]


def test_float64_blocks_are_rounded_once(tmp_path: Path) -> None:
    # 0.75 + 0.49 of a 24-bit step: in float32 it would first become half a step, then round up to even or away.
    step = 2.0**-23
    values = np.array([[0.75 + 0.49 * step], [0.75 + step + 0.49 * step], [0.75 + 0.51 * step]])
    with WaveWriter(tmp_path / "a.wav", AudioFormat(48000, 1, SampleFormat.PCM24)) as writer:
        writer.write(values)
    with open_wave(tmp_path / "a.wav") as reader:
        got = (reader.read_ints(0, 3)[:, 0] >> 8) - int(0.75 / step)
    assert got.tolist() == [0, 1, 1]


@pytest.mark.parametrize("bits", [SampleFormat.PCM16, SampleFormat.PCM24])
def test_dither_does_not_depend_on_blocks(bits: SampleFormat, tmp_path: Path, noise: Noise) -> None:
    form = AudioFormat(48000, 5, bits)
    for name, block in (("one", 4001), ("many", 77)):
        with WaveWriter(tmp_path / name, form) as writer:
            for start in range(0, 4001, block):
                writer.write(noise[start : start + block, :5], dither=7)
    assert (tmp_path / "one").read_bytes() == (tmp_path / "many").read_bytes()
    with WaveWriter(tmp_path / "other", form) as writer:
        writer.write(noise[:, :5], dither=8)
    assert (tmp_path / "one").read_bytes() != (tmp_path / "other").read_bytes()


@pytest.mark.source(
    "Lipshitz, Wannamaker, Vanderkooy, JAES 40(5) 1992: TPDF error is LSB^2/4, signal-free", kind="memory"
)
def test_dither_has_triangular_noise(tmp_path: Path) -> None:
    # A constant of a quarter step vanishes when rounded. With triangular dither its mean survives, and total error
    # power is 1/4 LSB^2 whatever the signal. 400 000 samples: standard error of the mean 0.0008, of the power 0.0006.
    count, step = 400_000, 2.0**-15
    form = AudioFormat(48000, 1, SampleFormat.PCM16)
    quiet = np.full((count, 1), 0.25 * step, np.float32)
    with WaveWriter(tmp_path / "a.wav", form) as writer:
        writer.write(quiet, dither=True)
    with open_wave(tmp_path / "a.wav") as reader:
        error = reader.read(0, count)[:, 0].astype(np.float64) / step - 0.25
    assert abs(error.mean()) < 0.004
    assert abs((error**2).mean() - 0.25) < 0.003
    assert abs(np.corrcoef(error[:-1], error[1:])[0, 1]) < 0.008


@pytest.mark.parametrize("frames", [0, 1, 2])
@pytest.mark.parametrize("channels", [1, 3])
def test_every_payload_is_even_and_every_size_is_true(frames: int, channels: int, tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    document = IXml.build(scene="odd")
    form = AudioFormat(48000, channels, SampleFormat.PCM24)
    cues = [Cue(1, "abc", "de", 1)]
    with WaveWriter(
        path, form, bext=Bext(coding_history="abc"), ixml=document, cues=cues, info_list={"INAM": "ab"}
    ) as w:
        w.write(np.zeros((frames, channels), np.float32))
    raw = path.read_bytes()
    assert len(raw) % 2 == 0
    assert struct.unpack_from("<I", raw, 4)[0] == len(raw) - 8
    for chunk in read_info(path).chunks:
        assert chunk.offset % 2 == 0
        assert chunk.id == "data" or chunk.size % 2 == 0
        assert struct.unpack_from("<I", raw, chunk.offset - 4)[0] == chunk.size


@pytest.mark.skipif(os.name == "nt", reason="files with holes need to be asked for on this system")
@pytest.mark.source("libsndfile 1.2 reads RF64 beyond 4 GiB", kind="library")
def test_a_file_beyond_4_gib_becomes_rf64(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    form = AudioFormat(48000, 32, SampleFormat.PCM24)
    frames = (1 << 32) // 96 + 1000
    with WaveWriter(path, form, bext=Bext(time_reference=1 << 33)) as writer:
        writer.write(np.full((2, 32), 0.5, np.float32))
        # Skip over most of the file, so that it takes no room on the disk.
        writer._file.seek((frames - 4) * 96, os.SEEK_CUR)
        writer._bytes += (frames - 4) * 96
        writer.write(np.full((2, 32), -0.5, np.float32))
    info = read_info(path)
    assert (info.container, info.frames, info.assumptions) == ("RF64", frames, ())
    assert soundfile.info(path).frames == frames
    with soundfile.SoundFile(path) as file:
        file.seek(frames - 1)
        assert (file.read(2, always_2d=True) == -0.5).all()
    with open_wave(path) as reader:
        assert (reader.read(frames - 2, 9) == -0.5).all()


def test_riff_to_the_last_byte_then_rf64(tmp_path: Path) -> None:
    form = AudioFormat(48000, 1, SampleFormat.PCM16)
    sizes = {}
    for frames in (100, 101):
        with WaveWriter(tmp_path / f"{frames}.wav", form, largest_riff_bytes=280 - 8) as writer:
            writer.write(np.zeros((frames, 1), np.float32))
        sizes[frames] = (read_info(tmp_path / f"{frames}.wav").container, (tmp_path / f"{frames}.wav").stat().st_size)
    assert sizes == {100: ("RIFF", 280), 101: ("RF64", 282)}


def test_an_existing_file_is_never_replaced(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"precious")
    with pytest.raises(StorageError, match="there already"):
        WaveWriter(path, FORM)
    assert path.read_bytes() == b"precious"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_name_taken_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    writer = WaveWriter(path, FORM)
    writer.write(np.zeros((3, 3), np.float32))
    path.write_bytes(b"precious")
    with pytest.raises(StorageError, match="there already"):
        writer.close()
    assert path.read_bytes() == b"precious"
    assert len(list(tmp_path.iterdir())) == 1


def test_without_links_a_name_taken_meanwhile_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.EPERM, "no links on this disk")

    monkeypatch.setattr(os, "link", refuse)
    with WaveWriter(tmp_path / "a.wav", FORM) as writer:
        writer.write(np.zeros((3, 3), np.float32))
    assert read_info(tmp_path / "a.wav").frames == 3
    writer = WaveWriter(tmp_path / "b.wav", FORM)
    (tmp_path / "b.wav").write_bytes(b"precious")
    with pytest.raises(StorageError, match="there already"):
        writer.close()
    assert (tmp_path / "b.wav").read_bytes() == b"precious"


@pytest.mark.parametrize("fault", [RuntimeError, KeyboardInterrupt])
def test_an_exception_leaves_nothing_behind(fault: type[BaseException], tmp_path: Path) -> None:
    def fail() -> None:
        with WaveWriter(tmp_path / "a.wav", FORM) as writer:
            writer.write(np.zeros((3, 3), np.float32))
            assert len(list(tmp_path.glob("a.wav.part-*"))) == 1
            raise fault

    with pytest.raises(fault):
        fail()
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_is_a_sentence_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        def __init__(self, file: object) -> None:
            self.file = file

        def write(self, raw: memoryview) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

        def close(self) -> None:
            self.file.close()  # type: ignore[attr-defined]

    def fail() -> None:
        with WaveWriter(tmp_path / "a.wav", FORM) as writer:
            writer._file = Full(writer._file)  # type: ignore[assignment]
            writer.write(np.zeros((3, 3), np.float32))

    with pytest.raises(StorageError, match="no space is left"):
        fail()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="file size limits are set this way on Linux only")
def test_a_real_limit_on_size_is_a_sentence_and_leaves_nothing(tmp_path: Path) -> None:
    import resource
    import signal

    def fill() -> None:
        with WaveWriter(tmp_path / "a.wav", FORM) as writer:
            for _ in range(100):
                writer.write(np.zeros((4096, 3), np.float32))

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 20, before[1]))
        with pytest.raises(StorageError):
            fill()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, handler)
    assert list(tmp_path.iterdir()) == []


def test_too_little_room_is_told_before_writing(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="no space is left"):
        WaveWriter(tmp_path / "a.wav", FORM, expected_frames=1 << 50)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(
    os.name == "nt" or not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_forbidden_folder_is_a_sentence(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(StorageError, match="rights"):
        WaveWriter(tmp_path / "a.wav", FORM)


def test_hopeless_names_are_sentences(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="longer than"):
        WaveWriter(tmp_path / ("n" * 252 + ".wav"), FORM)
    with pytest.raises(StorageError, match="cannot be the name"):
        WaveWriter(tmp_path / "a\0b.wav", FORM)
    with pytest.raises(StorageError, match="nowhere is not there"):
        WaveWriter(tmp_path / "nowhere" / "a.wav", FORM)
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(
        StorageError, match=r"is a file, not a folder|is not there|runs through something that is a file"
    ):
        WaveWriter(tmp_path / "file" / "a.wav", FORM)


@pytest.mark.parametrize(
    "name",
    [
        "Åse – 12A.wav",
        "渡し船.wav",
        "🎙️.wav",
        "e\u0301.wav",
        " leading.wav",
        "n" * 251 + ".wav",
        "ñ" * 120 + ".wav",
        "a" * 255,
    ],
)
def test_any_name_that_the_disk_takes(name: str, tmp_path: Path) -> None:
    with WaveWriter(tmp_path / name, FORM) as writer:
        writer.write(np.zeros((3, 3), np.float32))
    assert read_info(tmp_path / name).frames == 3
    assert len(list(tmp_path.iterdir())) == 1


def test_wrong_blocks_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="3 channels"), WaveWriter(tmp_path / "a.wav", FORM) as writer:
        writer.write(np.zeros((3, 2), np.float32))
    with pytest.raises(InputError, match="middle of a frame"), WaveWriter(tmp_path / "a.wav", FORM) as writer:
        writer.write_bytes(bytes(10))
    assert list(tmp_path.iterdir()) == []


def test_an_unfinished_file_can_be_read_by_us(tmp_path: Path, noise: Noise) -> None:
    writer = WaveWriter(tmp_path / "a.wav", FORM)
    writer.write(noise[:500, :3])
    [part] = tmp_path.glob("*.part-*")
    info = read_info(part)
    assert (info.frames, [note.kind for note in info.assumptions]) == (500, ["unfinished", "riff-size"])
    writer.abort()


def test_unknown_chunks_and_texts_are_kept(tmp_path: Path) -> None:
    cues = (Cue(5, "slate", "", 0), Cue(9, "", "door", 4))
    texts = {"INAM": "Åse", "ICMT": "two\nlines"}
    extra = [("Axml", b"odd"), ("umid", b"even")]
    with WaveWriter(tmp_path / "a.wav", FORM, cues=cues, info_list=texts, extra_chunks=extra) as writer:
        writer.write(np.zeros((10, 3), np.float32))
    with open_wave(tmp_path / "a.wav") as reader:
        info = reader.info
        assert info.cues == cues
        assert info.info_list == texts
        kept = {chunk.id: reader.read_chunk(chunk) for chunk in info.chunks}
    assert kept["Axml"] == b"odd"
    assert kept["umid"] == b"even"
    assert not info.assumptions


def test_large_chunks_come_in_pieces_of_the_promised_size(tmp_path: Path) -> None:
    with WaveWriter(tmp_path / "a.wav", FORM, extra_chunks=[("Axml", (5, iter([b"ab", b"cde"])))]) as writer:
        writer.write(np.zeros((10, 3), np.float32))
    with open_wave(tmp_path / "a.wav") as reader:
        assert reader.read_chunk(reader.info.chunks[-1]) == b"abcde"
        assert not reader.info.assumptions
    with pytest.raises(InputError, match="5 bytes but came with 2"):
        WaveWriter(tmp_path / "b.wav", FORM, extra_chunks=[("Axml", (5, iter([b"ab"])))]).close()
    assert len(list(tmp_path.iterdir())) == 1


text = st.text(st.characters(blacklist_categories=["Cs"], blacklist_characters="\0"), max_size=40)


@settings(max_examples=60, deadline=None)
@given(
    channels=st.integers(1, 128),
    rate=st.integers(1, 384_000),
    sample_format=st.sampled_from(SampleFormat),
    frames=st.integers(0, 300),
    time=st.integers(0, (1 << 64) - 1),
    history=text,
    scene=text,
    most=st.sampled_from([0, 2000, 0xFFFFFFFF]),
    title=text,
)
def test_any_header_comes_back_as_it_went(
    tmp_path_factory: pytest.TempPathFactory,
    channels: int,
    rate: int,
    sample_format: SampleFormat,
    frames: int,
    time: int,
    history: str,
    scene: str,
    most: int,
    title: str,
) -> None:
    path = tmp_path_factory.mktemp("round") / "a.wav"
    form = AudioFormat(rate, channels, sample_format)
    bext = Bext(time_reference=time, coding_history=history.rstrip(" "))
    document = IXml.build(scene=scene, bext=bext, audio=form)
    raw = np.random.default_rng(frames).integers(0, 256, frames * form.frame_bytes, np.uint8).tobytes()
    with WaveWriter(path, form, bext=bext, ixml=document, info_list={"INAM": title}, largest_riff_bytes=most) as writer:
        writer.write_bytes(raw)
    with open_wave(path) as reader:
        info = reader.info
        assert reader.read_bytes(0, frames + 1) == raw
    assert (info.format, info.frames, info.assumptions) == (form, frames, ())
    assert info.bext == bext
    assert info.ixml == document
    assert info.start_samples == time
    assert info.info_list["INAM"] == title.rstrip(" ")

"""Reading: exact against two libraries, and the laws of blocks and channels."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from rollsound.errors import InputError, StorageError
from rollsound.wave import SampleFormat, open_wave, read_info

Noise = NDArray[np.float32]
SUBTYPES = {
    "PCM_16": SampleFormat.PCM16,
    "PCM_24": SampleFormat.PCM24,
    "PCM_32": SampleFormat.PCM32,
    "FLOAT": SampleFormat.FLOAT32,
}


def _by_soundfile(path: Path, noise: Noise, subtype: str, container: str = "WAV") -> Path:
    soundfile.write(path, noise, 48000, subtype=subtype, format=container)
    return path


@pytest.mark.source("libsndfile 1.2 writes and reads, sample by sample", kind="library")
@pytest.mark.parametrize("container", ["WAV", "WAVEX", "RF64"])
@pytest.mark.parametrize("subtype", SUBTYPES)
@pytest.mark.parametrize("channels", [1, 2, 3, 8, 32, 128])
def test_samples_equal_libsndfile(channels: int, subtype: str, container: str, tmp_path: Path, noise: Noise) -> None:
    path = _by_soundfile(tmp_path / "a.wav", noise[:1001, :channels], subtype, container)
    wanted, _ = soundfile.read(path, dtype="float32", always_2d=True)
    with open_wave(path) as reader:
        assert reader.info.format.sample_format is SUBTYPES[subtype]
        assert reader.info.format.channels == channels
        assert np.array_equal(reader.read(0, 5000), wanted)
        if subtype == "FLOAT":
            with pytest.raises(InputError, match="floating point"):
                reader.read_ints(0, 1)
        else:
            assert np.array_equal(reader.read_ints(0, 5000), soundfile.read(path, dtype="int32", always_2d=True)[0])


@pytest.mark.source("FFmpeg libraries (PyAV), whose s32 holds 24 bits left-justified", kind="library")
@pytest.mark.parametrize("codec", ["pcm_s16le", "pcm_s24le", "pcm_s32le", "pcm_f32le"])
def test_samples_equal_ffmpeg(codec: str, tmp_path: Path, noise: Noise) -> None:
    path = tmp_path / "a.wav"
    layout = {"pcm_s16le": "s16", "pcm_f32le": "flt"}.get(codec, "s32")
    with av.open(path, "w", format="wav") as out:
        stream = out.add_stream(codec, rate=48000, layout="stereo")
        whole = (
            noise[:4000, :2] if layout == "flt" else (noise[:4000, :2] * (32767 if layout == "s16" else 2**31 - 256))
        )
        kind = {"s16": np.int16, "s32": np.int32, "flt": np.float32}[layout]
        frame = av.AudioFrame.from_ndarray(whole.astype(kind).reshape(1, -1), format=layout, layout="stereo")
        frame.sample_rate = 48000
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    with av.open(path) as back:
        blocks = [frame.to_ndarray().reshape(-1, 2) for frame in back.decode(audio=0)]
    wanted = np.concatenate(blocks)
    with open_wave(path) as reader:
        assert not reader.info.assumptions
        if codec == "pcm_f32le":
            assert np.array_equal(reader.read(0, 5000), wanted)
        else:
            shift = 16 if codec == "pcm_s16le" else 0
            assert np.array_equal(reader.read_ints(0, 5000), wanted.astype(np.int32) << shift)


@pytest.mark.parametrize("subtype", SUBTYPES)
@pytest.mark.parametrize("block", [1, 7, 999, 1000, 1001, 4000, 4001, 4002])
def test_blocks_together_are_the_whole(block: int, subtype: str, tmp_path: Path, noise: Noise) -> None:
    path = _by_soundfile(tmp_path / "a.wav", noise[:4001, :5], subtype)
    with open_wave(path) as reader:
        whole = reader.read(0, 4001)
        assert np.array_equal(np.concatenate(list(reader.blocks(block))), whole)
        part = list(reader.blocks(block, start=13, stop=2013))
        assert np.array_equal(np.concatenate(part), whole[13:2013])


@pytest.mark.parametrize("subtype", SUBTYPES)
def test_a_channel_alone_is_the_channel_of_the_whole(subtype: str, tmp_path: Path, noise: Noise) -> None:
    path = _by_soundfile(tmp_path / "a.wav", noise[:1001, :7], subtype)
    with open_wave(path) as reader:
        whole = reader.read(0, 1001)
        for channel in range(7):
            assert np.array_equal(reader.read_channel(channel, 3, 2000), whole[3:, channel])


@pytest.mark.parametrize("frames", [0, 1, 2, 4095, 4096, 4097])
def test_awkward_lengths(frames: int, tmp_path: Path) -> None:
    sound = np.random.default_rng(frames).uniform(-1, 1, (frames, 3)).astype(np.float32)
    path = _by_soundfile(tmp_path / "a.wav", sound, "PCM_24")
    with open_wave(path) as reader:
        assert reader.info.frames == frames
        assert reader.read(0, frames + 1).shape == (frames, 3)
        assert reader.read(frames, 10).shape == (0, 3)
        assert reader.read(frames + 100, 10).shape == (0, 3)
        assert len(list(reader.blocks(4096))) == -(-frames // 4096)


def test_pieces_larger_than_the_cache_are_joined(tmp_path: Path) -> None:
    sound = np.random.default_rng(3).uniform(-1, 1, (200_000, 4)).astype(np.float32)
    path = _by_soundfile(tmp_path / "a.wav", sound, "PCM_24")
    with open_wave(path) as reader:
        assert np.array_equal(reader.read(0, 200_000), soundfile.read(path, dtype="float32")[0])
        assert np.array_equal(reader.read_channel(2, 1, 199_998), reader.read(1, 199_998)[:, 2])


def test_wrong_questions_are_answered_in_sentences(tmp_path: Path, noise: Noise) -> None:
    path = _by_soundfile(tmp_path / "a.wav", noise[:10, :2], "PCM_24")
    with open_wave(path) as reader:
        with pytest.raises(InputError, match="2 channels; there is no number 3"):
            reader.read_channel(2, 0, 1)
        with pytest.raises(InputError, match="count from 0"):
            reader.read(-1, 1)
        with pytest.raises(InputError, match="at least one frame"):
            list(reader.blocks(0))


def test_what_is_not_there_is_a_storage_error(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="is not there"):
        read_info(tmp_path / "none.wav")
    with pytest.raises(StorageError, match="is a folder"):
        read_info(tmp_path)
    with pytest.raises(StorageError, match="cannot be the name"):
        read_info("a\0b.wav")
    with pytest.raises(StorageError, match="longer than"):
        read_info(tmp_path / ("n" * 300 + ".wav"))


@pytest.mark.parametrize("subtype", ["PCM_U8", "DOUBLE", "ULAW"])
def test_other_codings_are_refused_in_a_sentence(subtype: str, tmp_path: Path, noise: Noise) -> None:
    path = _by_soundfile(tmp_path / "a.wav", noise[:10, :1], subtype)
    with pytest.raises(InputError, match="not read"):
        read_info(path)


def test_a_file_that_shrinks_meanwhile_is_noticed(tmp_path: Path, noise: Noise) -> None:
    path = _by_soundfile(tmp_path / "a.wav", noise[:1000, :2], "PCM_24")
    with open_wave(path) as reader:
        with open(path, "r+b") as file:
            file.truncate(3000)
        with pytest.raises(InputError, match="became shorter"):
            reader.read(0, 1000)

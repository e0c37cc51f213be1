"""How fast files are read and written: 32 channels, 24 bits, against a plain read, libsndfile and a plain copy.

Files lie in the page cache, as after an offload. Every figure is the best of three, in megabytes of file per second.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from benchmarks.row import Row
from rollsound.wave import AudioFormat, SampleFormat, WaveWriter, open_wave, read_info

FORM = AudioFormat(48000, 32, SampleFormat.PCM24)
SECONDS = 60
BLOCK = 65536


def _best(job: Callable[[], object], times: int = 3) -> float:
    found = []
    for _ in range(times):
        began = time.perf_counter()
        job()
        found.append(time.perf_counter() - began)
    return min(found)


def _raw(path: Path) -> None:
    buffer = bytearray(1 << 20)
    with open(path, "rb", buffering=0) as file:
        while file.readinto(buffer):
            pass


def _blocks(path: Path) -> None:
    with open_wave(path) as reader:
        for _ in reader.blocks(BLOCK // 8):
            pass


def _channel(path: Path) -> None:
    with open_wave(path) as reader:
        for start in range(0, reader.info.frames, BLOCK):
            reader.read_channel(17, start, BLOCK)


def _soundfile(path: Path) -> None:
    with soundfile.SoundFile(path) as file:
        buffer = np.empty((BLOCK // 8, 32), np.float32)
        while len(file.read(out=buffer)) == len(buffer):
            pass


def _write(path: Path, block: np.ndarray, dither: bool) -> None:
    path.unlink(missing_ok=True)
    with WaveWriter(path, FORM) as writer:
        for _ in range(SECONDS * 48000 // len(block)):
            writer.write(block, dither=dither)


def _copy(source: Path, path: Path) -> None:
    path.unlink(missing_ok=True)
    shutil.copyfile(source, path)
    with open(path, "r+b") as file:
        os.fsync(file.fileno())


def run() -> list[Row]:
    """Measure; about twenty seconds."""
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as name:
        folder = Path(name)
        path = folder / "a.wav"
        block = np.random.default_rng(1).uniform(-0.5, 0.5, (8192, 32)).astype(np.float32)
        _write(path, block, False)
        size = path.stat().st_size / 1e6
        raw = size / _best(lambda: _raw(path))
        library = size / _best(lambda: _soundfile(path), 2)
        whole, one = size / _best(lambda: _blocks(path)), size / _best(lambda: _channel(path))
        copy = size / _best(lambda: _copy(path, folder / "c.wav"))
        plain = size / _best(lambda: _write(folder / "b.wav", block, False))
        noisy = size / _best(lambda: _write(folder / "b.wav", block, True))
        header = _best(lambda: read_info(path), 20) * 1e3
        reference = _best(lambda: soundfile.info(path), 20) * 1e3
    return [
        Row("read 32 ch 24 bit to float32", whole, "MB/s", "libsndfile float32", library, "several times libsndfile"),
        Row(
            "read 32 ch 24 bit, beside a plain read",
            whole,
            "MB/s",
            "plain read",
            raw,
            "a third or more",
        ),
        Row("read one channel of 32", one, "MB/s", "plain read", raw, "half of a plain read or more"),
        Row("write 32 ch 24 bit from float32", plain, "MB/s", "copy and flush", copy, "half of a copy or more"),
        Row("write 32 ch 24 bit with dither", noisy, "MB/s", "copy and flush", copy, "a quarter of a copy or more"),
        Row("read a file's header and metadata", header, "ms", "libsndfile header", reference, "under 1 ms"),
    ]


if __name__ == "__main__":
    for row in run():
        peer = f"{row.peer} {row.peer_value:.3g}, ratio {row.ratio:.2f}" if row.peer_value else ""
        print(f"{row.what:36} {row.ours:8.2f} {row.unit:5} {peer} ({row.goal})")

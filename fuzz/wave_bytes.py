"""Any bytes under the name of an audio file give a reader or one of our errors, in bounded time and memory.

``run(seconds, seed)`` mutates the files of ``tests/corpus``. Run alone: ``python -m fuzz.wave_bytes 120 1``. What
breaks the contract is kept under ``fuzz/found/``; move it to the corpus with a name once it is mended.
"""

from __future__ import annotations

import hashlib
import random
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from rollsound.errors import RollsoundError
from rollsound.wave import AudioFormat, SampleFormat, open_wave, recover

ROOT = Path(__file__).parent.parent
CORPUS = ROOT / "tests" / "corpus"
FOUND = ROOT / "fuzz" / "found"
FORM = AudioFormat(48000, 3, SampleFormat.PCM24)
LONGEST_SECONDS = 5.0
WORDS = [b"RIFF", b"RF64", b"BW64", b"WAVE", b"fmt ", b"data", b"bext", b"iXML", b"LIST", b"cue ", b"ds64", b"JUNK"]
WORDS += [
    b"\0\0\0\0",
    b"\xff\xff\xff\xff",
    b"\xff\xff\xff\x7f",
    b"\0\0\0\x80",
    b"\1\0\0\0",
    b"</BWFXML>",
    b"<BWFXML>",
    b"&",
]


@dataclass
class Outcome:
    """How often the target ran and how it ended."""

    runs: int = 0
    read: int = 0
    refused: int = 0
    broke: list[str] = field(default_factory=list)


def target(path: Path, folder: Path, *, assume: AudioFormat | None = None) -> bool:
    """Open, read a little of everything and recover. True if there was audio; our own errors are False.

    Anything else that is raised, or a reader that contradicts itself, is a defect.
    """
    out = folder / "out.wav"
    out.unlink(missing_ok=True)
    try:
        with open_wave(path, assume=assume) as reader:
            info = reader.info
            size = path.stat().st_size
            if not 0 <= info.frames * info.format.frame_bytes <= size:
                raise AssertionError(f"{info.frames} frames cannot lie in {size} bytes")
            if any(chunk.offset + chunk.size > size for chunk in info.chunks):
                raise AssertionError("a chunk goes past the end of the file")
            whole = reader.read(0, 10_000)
            one = reader.read_channel(info.format.channels - 1, 0, 10_000)
            if not np.array_equal(one, whole[:, -1], equal_nan=True):
                raise AssertionError("a channel alone differs from the whole")
            if len(info.track_names) != info.format.channels:
                raise AssertionError("not as many names as channels")
            raw = reader.read_bytes(0, info.frames)
        copy = recover(path, out, assume=assume)
        with open_wave(out) as again:
            if again.read_bytes(0, copy.frames) != raw:
                raise AssertionError("the recovered copy holds other samples")
    except RollsoundError:
        return False
    return True


def mutate(raw: bytes, rng: random.Random, others: list[bytes]) -> bytes:
    """One to six small damages."""
    work = bytearray(raw)
    moves: list[Callable[[bytearray], None]] = [
        lambda w: w.__setitem__(_at(w, rng), rng.randrange(256)),
        lambda w: w.__setitem__(_at(w, rng, 900), rng.randrange(256)),
        lambda w: _put(w, _at(w, rng, 900), rng.choice(WORDS)),
        lambda w: _put(w, _at(w, rng), rng.choice(WORDS)),
        lambda w: w.__delitem__(slice(_at(w, rng), None)),
        lambda w: w.__delitem__(slice(a := _at(w, rng), a + rng.randrange(1, 64))),
        lambda w: w.__setitem__(slice(a := _at(w, rng), a), rng.randbytes(rng.randrange(1, 64))),
        lambda w: w.__setitem__(slice(a := _at(w, rng), a + 200), bytes(200)),
        lambda w: w.extend(rng.choice(others)[: rng.randrange(1, 4000)]),
        lambda w: w.__setitem__(slice(_at(w, rng), None), rng.choice(others)[_at(w, rng) :]),
    ]
    for _ in range(rng.randrange(1, 7)):
        if work:
            rng.choice(moves)(work)
    return bytes(work)


def _at(work: bytearray, rng: random.Random, most: int = 1 << 30) -> int:
    return rng.randrange(max(1, min(len(work), most)))


def _put(work: bytearray, at: int, word: bytes) -> None:
    work[at : at + len(word)] = word


def run(seconds: float, seed: int = 1) -> Outcome:
    """Mutate for so long; defects are written to ``fuzz/found``."""
    rng = random.Random(seed)
    seeds = [path.read_bytes() for path in sorted(CORPUS.glob("*.wav"))]
    outcome, end = Outcome(), time.monotonic() + seconds
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "in.wav"
        while time.monotonic() < end:
            raw = mutate(rng.choice(seeds), rng, seeds)
            path.write_bytes(raw)
            outcome.runs += 1
            began = time.monotonic()
            try:
                heard = target(path, folder, assume=FORM if rng.random() < 0.3 else None)
                outcome.read += heard
                outcome.refused += not heard
                if time.monotonic() - began > LONGEST_SECONDS:
                    raise AssertionError(f"it took {time.monotonic() - began:.1f} s")
            except Exception:
                outcome.broke.append(_keep(raw, traceback.format_exc()))
    return outcome


def _keep(raw: bytes, trace: str) -> str:
    FOUND.mkdir(exist_ok=True)
    name = hashlib.sha256(raw).hexdigest()[:12]
    (FOUND / f"{name}.wav").write_bytes(raw)
    return f"{name}: {trace.strip().splitlines()[-1]}\n{trace}"


if __name__ == "__main__":
    result = run(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0, int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    print(f"{result.runs} runs: {result.read} read, {result.refused} refused, {len(result.broke)} broke the contract")
    for each in result.broke[:5]:
        print(each)
    sys.exit(bool(result.broke))

"""How fast cards are resampled, compared, mirrored and mended, beside a plain copy and an outside resampler.

Run: python -m benchmarks.bench_conform
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soxr

from benchmarks.row import Row
from rollsound.conform.carry_out import carry_out
from rollsound.conform.damage import DamageScan
from rollsound.conform.model import ClockMap, Outcome, TrackAlignment
from rollsound.conform.plan import Mode
from rollsound.conform.planning import make_plan
from rollsound.conform.resample import Resampler
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

RATE = 48_000
TRACKS = 32
MINUTES = 2
REPEATS = 3


def best(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Shortest of a few runs in seconds."""
    spent = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


def resampling() -> list[Row]:
    """One track on one core, in blocks as the mirror reads it."""
    card = (0.1 * np.random.default_rng(1).standard_normal(60 * RATE)).astype(np.float32)
    frames = 59 * RATE
    line = Resampler.of_array(card, ClockMap.straight(0.25, 37.0, frames))
    knots = np.arange(0, frames + 4800, 4800)
    positions = np.asarray(0.25 + knots * (1 + 37e-6) + 0.3 * np.sin(knots / 500_000), np.float64)
    curve = Resampler.of_array(card, ClockMap(knots, positions))

    def blocks(resampler: Resampler) -> None:
        for at in range(0, frames, 1 << 16):
            resampler.read(at, min(1 << 16, frames - at))

    blocks(line)
    peer = best(lambda: soxr.resample(card[:frames], 1_000_037.0, 1_000_000.0, quality="VHQ"))
    rows = []
    for name, resampler in (("a line", line), ("knots every 100 ms", curve)):
        ours = best(lambda resampler=resampler: blocks(resampler))  # type: ignore[misc]
        rows.append(
            Row(
                f"resample along {name}", 59 / ours, "x real time", "soxr VHQ, constant ratio", 59 / peer, "300 or more"
            )
        )
    return rows


def comparing() -> Row:
    """Looking for damage on one track, the card already aligned."""
    rng = np.random.default_rng(2)
    card = 0.1 * rng.standard_normal(60 * RATE) * (1 + np.sin(np.arange(60 * RATE) / 9000.0))
    radio = card + 0.001 * rng.standard_normal(card.size)

    def scan() -> None:
        damage = DamageScan(RATE)
        for at in range(0, card.size, 1 << 16):
            damage.feed(radio[at : at + (1 << 16)], card[at : at + (1 << 16)])
        damage.finish()

    scan()
    return Row("find damage, one track", 60 / best(scan), "x real time", goal="300 or more")


def write_poly(path: Path, frames: int) -> None:
    """A 32-track file of noise."""
    form = AudioFormat(RATE, TRACKS, SampleFormat.PCM24)
    bext = Bext(description="sSCENE=12A\r\n", time_reference=36_000 * RATE)
    ixml = IXml.build(scene="12A", take="3", file_uid="NBF1", audio=form, tracks=[f"T{n}" for n in range(TRACKS)])
    second = np.random.default_rng(3).integers(0, 256, RATE * form.frame_bytes, dtype=np.uint8).tobytes()
    with WaveWriter(path, form, bext=bext, ixml=ixml) as writer:
        for _ in range(frames // RATE):
            writer.write_bytes(second)


def mirroring(folder: Path) -> list[Row]:
    """Whole jobs, flushed to the disk, beside a copy of the same file flushed likewise."""
    frames = MINUTES * 60 * RATE
    source = folder / "NF12A-T3.wav"
    write_poly(source, frames)
    cards = []
    for n in range(8):
        path = folder / f"card{n}.wav"
        with WaveWriter(path, AudioFormat(RATE, 1, SampleFormat.PCM24)) as writer:
            writer.write((0.1 * np.random.default_rng(n).standard_normal(frames + RATE)).astype(np.float32))
        cards.append(path)

    def copy() -> None:
        target = folder / "copy.wav"
        shutil.copyfile(source, target)
        with open(target, "r+b") as file:
            os.fsync(file.fileno())
        target.unlink()

    def mirror(count: int) -> Callable[[], None]:
        alignments = [
            TrackAlignment(
                "12A-3",
                n,
                f"T{n}",
                Outcome.PLACED,
                "",
                card_name=f"Card {n}",
                card_path=str(cards[n]),
                map=ClockMap.straight(1234.5, 20.0 + n, frames),
            )
            for n in range(count)
        ]
        take = make_plan(alignments, {"12A-3": [source]}, Mode.MIRROR, folder / "out").takes[0]

        def work() -> None:
            carry_out(take)
            shutil.rmtree(folder / "out")

        return work

    size = source.stat().st_size / 1e6
    copied, none, eight = [], [], []
    for _ in range(REPEATS):  # turn by turn, so that a busy disk is unfair to nobody
        copied.append(best(copy, 1))
        none.append(best(mirror(0), 1))
        eight.append(best(mirror(8), 1))
    peer = size / min(copied)
    return [
        Row(
            "mirror a 32-track file, nothing replaced",
            size / min(none),
            "MB/s",
            "copyfile and flush",
            peer,
            "0.5 of it",
        ),
        Row("mirror a 32-track file, 8 tracks replaced", size / min(eight), "MB/s", "copyfile and flush", peer),
        Row("the same, tracks replaced", 8 * 60 * MINUTES / min(eight), "x real time a track", goal="300 or more"),
    ]


def run() -> list[Row]:
    """All rows."""
    with tempfile.TemporaryDirectory() as folder:
        return [*resampling(), comparing(), *mirroring(Path(folder))]


if __name__ == "__main__":
    for row in run():
        beside = f" | {row.peer} {row.peer_value:.0f} | ratio {row.ratio:.2f}" if row.peer_value else ""
        print(f"{row.what}: {row.ours:.0f} {row.unit}{beside} | goal {row.goal}")

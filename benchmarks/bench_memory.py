"""The largest memory each long command ever holds, on short and on long material: it must not grow with length."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from benchmarks.bench_inspect import RATE_HZ, write_poly
from benchmarks.row import Row
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

# The kernel's own high-water mark of this program; the figure that children inherit over a fork is not used.
_PROGRAM = """
import sys
from rollsound.cli.app import run
run(sys.argv[1:])
for line in open("/proc/self/status"):
    if line.startswith("VmHWM"):
        print(line.split()[1], file=sys.stderr)
"""


def peak_memory_mb(arguments: list[str]) -> float:
    """High-water mark of a command run as a program of its own."""
    done = subprocess.run([sys.executable, "-c", _PROGRAM, *arguments], capture_output=True, text=True, check=False)
    return int(done.stderr.strip().splitlines()[-1]) / 1024


def write_day(folder: Path, minutes: float) -> None:
    """One take of eight tracks, two of them radio mics whose cards run along."""
    rng = np.random.default_rng(5)
    start, block = 36_000 * RATE_HZ, RATE_HZ * 10
    names = ["Mix", "Boom 1", "Ane", "Ivo", "Boom 2", "Boom 3", "Plant", "Guide"]
    (folder / "recorder").mkdir(parents=True)
    (folder / "cards").mkdir()
    one, eight = (AudioFormat(RATE_HZ, n, SampleFormat.PCM24) for n in (1, 8))
    ixml = IXml.build(scene="1", take="1", tracks=names)
    with (
        WaveWriter(folder / "recorder" / "1T1.wav", eight, bext=Bext(time_reference=start), ixml=ixml) as take,
        WaveWriter(folder / "cards" / "Ane.wav", one, bext=Bext(time_reference=start)) as ane,
        WaveWriter(folder / "cards" / "Ivo.wav", one, bext=Bext(time_reference=start)) as ivo,
    ):
        for _ in range(round(minutes * 6)):
            hills = np.repeat(rng.uniform(0, 1, (100, 8)).astype(np.float32) ** 3, block // 100, axis=0)
            sound = rng.standard_normal((block, 8)).astype(np.float32) * hills * 0.1
            ane.write(sound[:, 2:3])
            ivo.write(sound[:, 3:4])
            take.write(sound + rng.standard_normal((block, 8)).astype(np.float32) * 1e-4)


def run() -> list[Row]:
    """Linux only; elsewhere nothing is returned."""
    if not Path("/proc/self/status").exists():
        return []
    rows = []
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as name:
        root = Path(name)
        sizes = {}
        for length, poly_minutes, day_minutes in (("short", 0.5, 1.0), ("long", 4.0, 20.0)):
            here = root / length
            here.mkdir()
            write_poly(here / "poly.wav", poly_minutes)
            write_day(here / "day", day_minutes)
            conform = ["conform", str(here / "day/recorder"), "--cards", str(here / "day/cards")]
            sizes[length] = {
                "inspect, 32 tracks, 4 min beside 30 s": peak_memory_mb(["inspect", str(here / "poly.wav")]),
                "conform, 8 tracks, 20 min beside 1 min": peak_memory_mb([*conform, "--out", str(here / "mirrors")]),
                "offload, 1.4 GB beside 180 MB": peak_memory_mb(
                    ["offload", str(here), "--to", str(root / f"{length} to")]
                ),
            }
        for what, large in sizes["long"].items():
            rows.append(Row(what, large, "MB", "short", sizes["short"][what], "under 600"))
    return rows


if __name__ == "__main__":
    for row in run():
        print(row)

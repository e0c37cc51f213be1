"""How long an offload to two places takes, with digests and read-back, against copying twice and digesting twice."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

from benchmarks.row import Row
from rollsound.actions.offload import offload
from rollsound.turnover.forget import forget_cached

FILES = 12
FILE_BYTES = 64 << 20


def _card(folder: Path) -> None:
    folder.mkdir()
    block = os.urandom(8 << 20)
    for n in range(FILES):
        with open(folder / f"NBF_{n:03d}.wav", "wb") as file:
            for k in range(FILE_BYTES // len(block)):
                file.write(block[n * 64 + k :] + block[: n * 64 + k])
            file.flush()
            os.fsync(file.fileno())


def _peer(card: Path, a: Path, b: Path, flush: bool, forget: bool) -> float:
    """Two plain copies and two digests of the copies, one after the other.

    ``flush`` waits for the disks as we do; ``forget`` also has the digests read from the disk, as our read-back is.
    """
    start = time.perf_counter()
    for place in (a, b):
        subprocess.run(["cp", "-r", str(card), str(place)], check=True)
    if flush:
        subprocess.run(["sync", "-f", str(a)], check=True)
    if forget:
        for path in (*a.rglob("*.wav"), *b.rglob("*.wav")):
            with open(path, "rb") as file:
                forget_cached(file.fileno())
    for place in (a, b):
        files = sorted(str(path) for path in place.rglob("*.wav"))
        subprocess.run(["xxhsum", "-q", *files], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def _ours(card: Path, a: Path, b: Path) -> float:
    start = time.perf_counter()
    result = offload(card, [a, b])
    taken = time.perf_counter() - start
    if not result.complete:
        raise RuntimeError("the offload did not complete")
    return taken


def _best(rounds: int) -> dict[str, float]:
    best: dict[str, float] = {}
    with tempfile.TemporaryDirectory(dir=os.environ.get("ROLLSOUND_BENCH_DIR")) as folder:
        root = Path(folder)
        _card(root / "card")
        for n in range(rounds):
            # Taking turns, so that what else the machine does hits all alike.
            for name in ("peer", "ours", "flushed", "from disk"):
                a, b = root / f"{name}{n}a", root / f"{name}{n}b"
                for place in (a, b):
                    place.mkdir()
                subprocess.run(["sync"], check=True)
                if name == "ours":
                    taken = _ours(root / "card", a, b)
                else:
                    taken = _peer(root / "card", a, b, flush=name != "peer", forget=name == "from disk")
                best[name] = min(best.get(name, taken), taken)
                shutil.rmtree(a)
                shutil.rmtree(b)
    return best


def run() -> list[Row]:
    """Measure; needs ``cp``, ``sync`` and ``xxhsum``, and returns nothing where they are not there."""
    if not all(shutil.which(tool) for tool in ("cp", "sync", "xxhsum")):
        return []
    best = _best(3)
    size = f"{FILES * FILE_BYTES / 1e6:.0f} MB in {FILES} files to two places, digests and read-back"
    return [
        Row(size, best["ours"], "s", "two cp + two xxhsum", best["peer"], "no slower than 1.3 x"),
        Row(size, best["ours"], "s", "two cp + sync + two xxhsum", best["flushed"], "no slower than 1.3 x"),
        Row(size, best["ours"], "s", "the same, digests read from the disk", best["from disk"], "no slower than 1.3 x"),
    ]


if __name__ == "__main__":
    for row in run():
        print(f"{row.what}: {row.ours:.2f} {row.unit}; {row.peer}: {row.peer_value:.2f}; ratio {row.ratio:.2f}")

"""Look for damage in a take's radio tracks: one pass over the recorder's file, all tracks that have a card at once."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.damage import DamageResult, DamageScan, Span
from rollsound.conform.plan import TrackPlan
from rollsound.conform.sound import CardSound
from rollsound.progress import Progress
from rollsound.wave import TakeReader

_BLOCK_FRAMES = 1 << 16


@dataclass(frozen=True)
class Compared:
    """What was found on one track over everything that its card covers."""

    spans: tuple[Span, ...]
    compared_frames: int
    level_difference_db: float | None


def compare_tracks(
    take: TakeReader,
    tracks: Mapping[int, tuple[TrackPlan, CardSound]],
    pool: Executor,
    progress: Progress,
    job: str,
) -> dict[int, Compared]:
    """Compare each track (by index) with its card."""
    scans = {index: _TrackScan(take, index, sound) for index, (_, sound) in tracks.items()}
    total = take.info.frames
    for at in range(0, total if scans else 0, _BLOCK_FRAMES):
        progress.tell(job, at, total, "frames", "comparing")
        block = take.read(at, min(_BLOCK_FRAMES, total - at))
        list(pool.map(lambda scan, at=at, block=block: scan.feed(at, block), scans.values()))
    return {index: scan.finish() for index, scan in scans.items()}


class _TrackScan:
    """One scan for each stretch that the card covers without a gap."""

    def __init__(self, take: TakeReader, index: int, sound: CardSound) -> None:
        self._index = index
        self._sound = sound
        rate, bits = take.info.format.sample_rate_hz, take.info.format.sample_format.bits
        self._scans = [
            (start, stop, DamageScan(rate, bits, start_sample=start)) for start, stop in sound.runs() if stop > start
        ]

    def feed(self, at: int, block: NDArray[np.float32]) -> None:
        for start, stop, scan in self._scans:
            begin, end = max(at, start), min(at + block.shape[0], stop)
            if end > begin:
                radio = block[begin - at : end - at, self._index].astype(np.float64)
                scan.feed(radio, self._sound.read(begin, end - begin))

    def finish(self) -> Compared:
        results = [scan.finish() for _, _, scan in self._scans]
        return Compared(
            tuple(span for result in results for span in result.spans),
            sum(result.compared_frames for result in results),
            _longest(results),
        )


def _longest(results: list[DamageResult]) -> float | None:
    known = [result for result in results if np.isfinite(result.level_difference_db)]
    if not known:
        return None
    return round(max(known, key=lambda each: each.compared_frames).level_difference_db, 2)

"""Slices of waveforms for the eye: from the kept overview, or from the sound itself when looked at closely."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.media_model import MediaTake
from rollsound.errors import InputError
from rollsound.wave import StoredOverview, open_wave, read_overview

MOST_COLUMNS = 4000
MOST_TRACKS = 128
FULL_SCALE = 32767
_MOST_SAMPLES = 1 << 22
Values = NDArray[np.float32]


class TrackSlice(BaseModel):
    """Lowest and highest sample of each column, in 1/32767 of full scale."""

    model_config = ConfigDict(frozen=True)

    track: int
    lows: list[int]
    highs: list[int]


class Waveform(BaseModel):
    """A part of a take, as many columns as were asked for (fewer when it has fewer samples)."""

    model_config = ConfigDict(frozen=True)

    from_sample: int
    to_sample: int
    columns: int
    tracks: list[TrackSlice]
    unmeasured: list[int] = Field(default_factory=list, description="tracks that have no kept waveform yet")


def waveform(take: MediaTake, tracks: Sequence[int], from_sample: int, to_sample: int, columns: int) -> Waveform:
    """Lows and highs of some tracks (from 1; all when none is named) between two samples of a take.

    Raises
    ------
    InputError
        when there is no such part or track, or too much is asked for at once
    StorageError, BrokenFileError
        when the file is gone, or its overview cannot be read
    """
    wanted = list(tracks) or [track.index for track in take.tracks]
    known = {track.index: track for track in take.tracks}
    if unknown := [index for index in wanted if index not in known]:
        raise InputError(f"{take.name} has {len(known)} tracks; there is no number {unknown[0]}")
    if not 1 <= columns <= MOST_COLUMNS or len(wanted) > MOST_TRACKS:
        raise InputError(f"ask for 1 to {MOST_COLUMNS} columns of at most {MOST_TRACKS} tracks")
    start, stop = max(0, from_sample), min(to_sample, take.frames)
    if start >= stop:
        raise InputError(f"{take.name} has {take.frames} samples; nothing lies from {from_sample} to {to_sample}")
    columns = min(columns, stop - start)
    edges = start + (np.arange(columns + 1, dtype=np.int64) * (stop - start)) // columns
    slices: list[TrackSlice] = []
    unmeasured: list[int] = []
    for n, member in enumerate(take.members):
        own = [known[index] for index in wanted if known[index].member == n]
        if not own:
            continue
        kept = _overview(member.overview, _stamp(member.overview)) if member.overview is not None else None
        # Two columns a bin look the same as one; only closer than that is the sound itself worth reading.
        close = kept is None or 2 * (stop - start) / columns < kept.frames_per_bin[0]
        if close and (stop - start) * max(member.channels, 1) <= _MOST_SAMPLES:
            with open_wave(member.path) as reader:
                sound = np.ascontiguousarray(reader.read(start, stop - start).T)
            for track in own:
                one = sound[track.channel - 1]
                slices.append(_slice(track.index, *_columns(one, one, edges - start)))
        elif kept is None:
            unmeasured += [track.index for track in own]
        else:
            level = _level(kept, (stop - start) / columns)
            per_bin = kept.frames_per_bin[level]
            lows, highs = kept.lowest[level], kept.highest[level]
            bins = edges // per_bin
            for track in own:
                c = track.channel - 1
                slices.append(_slice(track.index, *_columns(lows[:, c], highs[:, c], bins)))
    slices.sort(key=lambda each: each.track)
    return Waveform(from_sample=start, to_sample=stop, columns=columns, tracks=slices, unmeasured=unmeasured)


def _level(kept: StoredOverview, frames_per_column: float) -> int:
    """The coarsest zoom that still has a bin for each column."""
    fitting = [level for level, per_bin in enumerate(kept.frames_per_bin) if per_bin <= frames_per_column]
    return max(fitting, default=0)


def _columns(lows: Values, highs: Values, edges: NDArray[np.int64]) -> tuple[Values, Values]:
    """Lowest and highest between each pair of edges; every column shows at least one value."""
    size = lows.shape[0]
    if not size:
        nothing = np.zeros(edges.size - 1, np.float32)
        return nothing, nothing
    starts = np.minimum(edges[:-1], size - 1)
    # reduceat takes everything up to the next start, and the last to the end: cut there first.
    stop = int(min(max(edges[-1], starts[-1] + 1), size))
    low = np.minimum.reduceat(lows[:stop], starts)
    high = np.maximum.reduceat(highs[:stop], starts)
    beyond = edges[:-1] >= size  # a member that is shorter than its take
    low[beyond] = high[beyond] = 0.0
    return low, high


def _slice(track: int, lows: Values, highs: Values) -> TrackSlice:
    return TrackSlice.model_construct(track=track, lows=_whole(lows), highs=_whole(highs))


def _whole(values: Values) -> list[int]:
    kept: list[int] = np.clip(np.rint(np.nan_to_num(values) * FULL_SCALE), -32768, 32767).astype(int).tolist()
    return kept


def _stamp(path: Path | None) -> int:
    try:
        return path.stat().st_mtime_ns if path is not None else 0
    except OSError:
        return 0


@functools.lru_cache(maxsize=48)
def _overview(path: Path, _stamp: int) -> StoredOverview:
    """Kept in memory while it is looked at; a set of monos has many."""
    return read_overview(path)

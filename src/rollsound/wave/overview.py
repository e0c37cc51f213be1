"""Keep a waveform's overview beside the index: 16-bit lows, highs and rms at each zoom, in one small file."""

from __future__ import annotations

import io
import os
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import BrokenFileError, storage
from rollsound.wave.disk import ByteSource, discard, part_name
from rollsound.wave.samples import Floats

_VERSION = 1
_STEPS = 32767.0
_LARGEST_BYTES = 1 << 30


class OverviewLike(Protocol):
    """What can be written: level k holds arrays of shape (bins, channels) for bins of ``frames_per_bin[k]`` frames."""

    @property
    def sample_rate_hz(self) -> int: ...
    @property
    def frames(self) -> int: ...
    @property
    def frames_per_bin(self) -> tuple[int, ...]: ...
    @property
    def lowest(self) -> tuple[Floats, ...]: ...
    @property
    def highest(self) -> tuple[Floats, ...]: ...
    @property
    def rms(self) -> tuple[Floats, ...]: ...


@dataclass(frozen=True)
class StoredOverview:
    """An overview as it was kept: values to 1/32767 of full scale, lows rounded down and highs up.

    Levels above full scale (float files) are kept through ``scale``, the largest magnitude of the file.
    """

    sample_rate_hz: int
    frames: int
    frames_per_bin: tuple[int, ...]
    lowest: tuple[Floats, ...]
    highest: tuple[Floats, ...]
    rms: tuple[Floats, ...]


def write_overview(path: Path | str, overview: OverviewLike) -> None:
    """Write an overview, replacing an older one of this name in a single step.

    Raises
    ------
    StorageError
        when the disk fails or is full; an older file is then still whole
    """
    path = Path(path)
    scale = max((float(np.abs(a).max()) for a in (*overview.lowest, *overview.highest) if a.size), default=1.0)
    scale = max(scale, 1.0) if np.isfinite(scale) else 1.0
    arrays: dict[str, NDArray[np.generic]] = {
        "head": np.array([_VERSION, overview.sample_rate_hz, overview.frames], np.int64),
        "frames_per_bin": np.array(overview.frames_per_bin, np.int64),
        "scale": np.array([scale], np.float64),
    }
    for level in range(len(overview.frames_per_bin)):
        arrays[f"lowest{level}"] = _small(overview.lowest[level], scale, np.floor)
        arrays[f"highest{level}"] = _small(overview.highest[level], scale, np.ceil)
        arrays[f"rms{level}"] = _small(overview.rms[level], scale, np.rint)
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)  # type: ignore[arg-type]
    part = part_name(path)
    try:
        with storage(path):
            with open(part, "xb") as file:
                file.write(buffer.getbuffer())
                file.flush()
                os.fsync(file.fileno())
            os.replace(part, path)
    except BaseException:
        discard(part)
        raise


def read_overview(path: Path | str) -> StoredOverview:
    """Read an overview.

    Raises
    ------
    BrokenFileError
        when the file is no overview, or of another version; measure the audio again
    """
    path = Path(path)
    with ByteSource(path) as source:
        raw = source.read(0, min(source.size, _LARGEST_BYTES))
    try:
        with np.load(io.BytesIO(raw), allow_pickle=False) as kept:
            version, rate, frames = (int(each) for each in kept["head"])
            if version != _VERSION:
                raise ValueError(f"version {version}")
            per_bin = tuple(int(each) for each in kept["frames_per_bin"])
            step = float(kept["scale"][0]) / _STEPS

            def levels(name: str) -> tuple[Floats, ...]:
                return tuple(kept[f"{name}{k}"].astype(np.float32) * np.float32(step) for k in range(len(per_bin)))

            return StoredOverview(rate, frames, per_bin, levels("lowest"), levels("highest"), levels("rms"))
    except (ValueError, KeyError, TypeError, IndexError, EOFError, OSError, OverflowError, zipfile.BadZipFile) as error:
        raise BrokenFileError(
            f"{path} is not an overview that can be read; measure its audio again", path=str(path)
        ) from error


def _small(
    values: Floats, scale: float, rounding: Callable[[NDArray[np.float64]], NDArray[np.float64]]
) -> NDArray[np.int16]:
    scaled = rounding(np.nan_to_num(np.asarray(values, np.float64)) * (_STEPS / scale))
    return np.clip(scaled, -_STEPS, _STEPS).astype(np.int16)

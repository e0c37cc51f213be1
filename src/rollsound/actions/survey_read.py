"""The plan that a survey belongs to, and its recordings: tracks of files, read in blocks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.actions.plan_read import PlanRead, read_plan
from rollsound.errors import InputError
from rollsound.progress import Progress
from rollsound.show.model import Plan, Site
from rollsound.wave import WaveReader, open_wave

F32 = NDArray[np.float32]
BLOCK_FRAMES = 131_072


@dataclass(frozen=True)
class AskedSite:
    """A site of a plan, and the plan as it was read."""

    read: PlanRead
    site: Site

    @property
    def path(self) -> Path:
        """Where the plan was read."""
        return self.read.path

    @property
    def plan(self) -> Plan:
        """The whole plan."""
        return self.read.plan

    @property
    def written(self) -> dict[str, Any]:
        """The sound of the site as it is written; empty when there is none yet."""
        for each in self.read.document["sites"]:
            if each["id"] == self.site.id:
                return dict(each.get("sound") or {})
        return {}


def read_site(path: Path, site: str) -> AskedSite:
    """Read a show's folder, or a YAML or JSON text of a plan, and find a site in it.

    Raises
    ------
    MistakesError, InputError
        when the plan has mistakes, or no such site
    StorageError
        when it is not there
    """
    read = read_plan(path)
    found = next((each for each in read.plan.sites if each.id == site), None)
    if found is None:
        there = ", ".join(each.id for each in read.plan.sites) or "none yet; write it into the plan first"
        raise InputError(f"{path} has no site '{site}'; there are: {there}")
    return AskedSite(read, found)


class Recording:
    """One track of a file, open for reading; use it in a ``with`` statement.

    Parameters
    ----------
    track
        from 1; 0 for the only one
    or_only
        whether the track of a file that has just one is meant, whatever was named for others

    Raises
    ------
    InputError
        when the file holds no sound, has no such track, or has several and none was named
    StorageError
        when it cannot be read
    """

    def __init__(self, path: Path, track: int = 0, *, or_only: bool = False) -> None:
        self._reader: WaveReader = open_wave(path)
        self.path = path
        info = self._reader.info
        try:
            alone = or_only and info.format.channels == 1
            self.channel = self._channel(0 if alone else track, info.format.channels)
        except InputError:
            self._reader.close()
            raise
        self.sample_rate_hz = info.format.sample_rate_hz
        self.frames = info.frames
        bext = info.bext
        self.recorded = f"{bext.origination_date} {bext.origination_time}".strip("\0 ") if bext else ""

    def _channel(self, track: int, channels: int) -> int:
        if not track and channels > 1:
            raise InputError(
                f"{self.path.name} has {channels} tracks; name the microphone's with --track, from 1 to {channels}"
            )
        if not 0 <= track <= channels:
            raise InputError(f"{self.path.name} has no track {track}; it has {channels}")
        return max(track, 1) - 1

    @property
    def seconds(self) -> float:
        """Its length."""
        return self.frames / self.sample_rate_hz

    def blocks(self, progress: Progress, doing: str) -> Iterator[F32]:
        """The track in blocks of shape (frames,), telling how far it is."""
        for at in range(0, self.frames, BLOCK_FRAMES):
            progress.tell(doing, at, self.frames, "frames", self.path.name)
            yield self._reader.read_channel(self.channel, at, BLOCK_FRAMES)
        progress.tell(doing, self.frames, self.frames, "frames", self.path.name)

    def read(self, start: int, frames: int) -> F32:
        """A part of the track, shape (frames,) or fewer at its end."""
        return self._reader.read_channel(self.channel, start, frames)

    def __enter__(self) -> Recording:
        return self

    def __exit__(self, *_: object) -> None:
        self._reader.close()

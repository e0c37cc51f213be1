"""How the ends of links and routes are written: ``recorder:line-in 3``, ``stage-receiver:net 1-8``, ``track 6-13``."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass

TRACK = "track"
"""The name that a recorder's tracks have as if they were a port."""
_END = re.compile(r"(?:([a-z0-9][a-z0-9-]*)\s*:\s*)?([a-z0-9][a-z0-9-]*)(?:\s+(\d{1,5})(?:\s*[-–]\s*(\d{1,5}))?)?")
_EXAMPLE = "write a piece, a port and channels, such as 'recorder:line-in 3' or 'stage-receiver:net 1-8'"
_INSIDE = "write a port and channels, such as 'net 1-8', or tracks, such as 'track 6-13'"


@dataclass(frozen=True, slots=True)
class End:
    """One end as it is written. ``first`` and ``last`` are channels from 1, both 0 for the whole port."""

    piece: str
    port: str
    first: int = 0
    last: int = 0

    def channels(self, most: int) -> range:
        """The channels of a port that has ``most`` of them."""
        return range(self.first, self.last + 1) if self.first else range(1, most + 1)

    def __str__(self) -> str:
        span = f" {self.first}" if self.first else ""
        span += f"-{self.last}" if self.last > self.first else ""
        return f"{self.piece}:{self.port}{span}" if self.piece else f"{self.port}{span}"


@functools.lru_cache(maxsize=8192)
def read_end(text: str, inside: str = "") -> End:
    """Read an end.

    Parameters
    ----------
    inside
        id of the piece that it lies in, where the piece is left out

    Raises
    ------
    ValueError
        with what is wrong, as the end of a sentence that begins with its place
    """
    found = _END.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"is '{text[:60]}'; {_INSIDE if inside else _EXAMPLE}")
    piece, port, first, last = found.groups()
    if not inside and piece is None:
        raise ValueError(f"is '{text[:60]}', which names no piece; {_EXAMPLE}")
    if inside and piece is not None and piece != inside:
        raise ValueError(f"is '{text[:60]}', which is another piece; a route stays inside '{inside}'")
    low = int(first) if first else 0
    high = int(last) if last else low
    if first and low < 1:
        raise ValueError(f"is '{text[:60]}'; channels are counted from 1")
    if high < low:
        raise ValueError(f"is '{text[:60]}', which runs backwards; write the smaller channel first")
    return End(piece or inside, port, low, high)

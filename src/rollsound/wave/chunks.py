"""What a chunk looks like, and how to find one again where the sizes cannot be trusted.

Source: Microsoft RIFF (1991) for chunks and padding; ITU-R BS.2088-1 for ``ds64``.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass, field
from itertools import islice

from rollsound.wave.disk import ByteSource

ALL_ONES_32 = 0xFFFFFFFF
ALL_ONES_64 = 0xFFFFFFFFFFFFFFFF
HEADER_SEARCH_BYTES = 1 << 20
TAIL_SEARCH_BYTES = 4 << 20
MOST_CANDIDATES = 1000
"""Known names looked into in one search. Sound holds one by chance in hundreds of megabytes; only a file made to waste
time holds more."""
KNOWN_IDS = frozenset(
    b"fmt |data|bext|iXML|LIST|cue |fact|JUNK|junk|PAD |pad |FLLR|ds64|axml|bxml|sxml|chna|levl|link|umid|qlty|mext"
    b"|smpl|inst|plst|PEAK|cart|r64m|id3 |ID3 |_PMX|DISP|MD5 |ubxt".split(b"|")
)
_ANY_KNOWN = re.compile(b"|".join(re.escape(name) for name in sorted(KNOWN_IDS)))
_NAME = re.compile(rb"[!-~][ -~]{3}")


def is_name(raw: bytes) -> bool:
    """True if these four bytes can be the name of a chunk."""
    return len(raw) == 4 and _NAME.match(raw) is not None


def header_at(source: ByteSource, at: int) -> tuple[bytes, int] | None:
    """Name and stated size of the chunk at this place, or None if there can be none."""
    raw = source.read(at, 8)
    return (raw[:4], int.from_bytes(raw[4:], "little")) if len(raw) == 8 and is_name(raw[:4]) else None


def after(source: ByteSource, end: int, size: int) -> tuple[int, bool]:
    """Where the chunk after a payload of this size and end starts, and whether the pad byte between is missing."""
    if size % 2 == 0:
        return end, False
    padded, bare = source.read(end + 1, 4), source.read(end, 4)
    missing = is_name(bare) and (bare in KNOWN_IDS or not is_name(padded)) and padded not in KNOWN_IDS
    return (end, True) if missing else (end + 1, False)


def chain_reaches_end(source: ByteSource, at: int) -> bool:
    """True if chunks follow one another from here and the last one ends where the file ends."""
    for _ in range(64):
        if at in (source.size, source.size + 1):
            return True
        found = header_at(source, at)
        if found is None or at + 8 + found[1] > source.size:
            return False
        at, _missing = after(source, at + 8 + found[1], found[1])
    return False


def starts_chunk(source: ByteSource, at: int) -> bool:
    """True if a chunk surely starts here: a known name whose payload fits, or a chain that ends with the file."""
    found = header_at(source, at)
    if found is None:
        return False
    name, size = found
    return (name in KNOWN_IDS and at + 8 + size <= source.size) or chain_reaches_end(source, at)


def find_chunk(source: ByteSource, start: int, *, only: frozenset[bytes] = KNOWN_IDS) -> int | None:
    """The first known chunk name from ``start`` on, within the bytes that headers take."""
    window = source.read(start, HEADER_SEARCH_BYTES)
    for match in islice(_ANY_KNOWN.finditer(window), MOST_CANDIDATES):
        at = start + match.start()
        if match[0] in only and (match[0] == b"data" or starts_chunk(source, at)):
            return at
    return None


def find_tail(source: ByteSource, start: int) -> int | None:
    """Where the chunks after the audio start, when its size cannot say so: the first chain that ends with the file."""
    first = max(start, source.size - TAIL_SEARCH_BYTES)
    window = source.read(first, TAIL_SEARCH_BYTES)
    for match in islice(_ANY_KNOWN.finditer(window), MOST_CANDIDATES):
        if match[0] not in (b"data", b"fmt ", b"ds64") and chain_reaches_end(source, first + match.start()):
            return first + match.start()
    return None


@dataclass(frozen=True)
class Sizes64:
    """What a ``ds64`` chunk says."""

    riff: int = 0
    data: int = 0
    table: dict[str, int] = field(default_factory=dict)

    @classmethod
    def from_bytes(cls, payload: bytes) -> Sizes64:
        """Read a payload; one cut short says nothing."""
        if len(payload) < 16:
            return cls()
        riff, data = struct.unpack_from("<QQ", payload)
        table = {}
        count = int.from_bytes(payload[24:28], "little")
        for at in range(28, min(len(payload), 28 + 12 * count) - 11, 12):
            table[payload[at : at + 4].decode("latin-1")] = int.from_bytes(payload[at + 4 : at + 12], "little")
        return cls(riff, data, table)

    def data_size(self) -> int:
        """The size of the audio; all 32 ones if it was never filled in."""
        return ALL_ONES_32 if self.data == ALL_ONES_64 else self.data

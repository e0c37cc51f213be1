"""A plan with the radio part of radio.yaml, for tests of the pages Radio and Reach."""

from __future__ import annotations

import copy
import struct
import zlib
from pathlib import Path
from typing import Any

from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.show.text import read_text

PART = Path(__file__).with_name("radio.yaml")
INES = Author("Ines", "ines", "this machine")


def radio_part() -> dict[str, Any]:
    """The radio part, as it is written."""
    return copy.deepcopy(read_text(PART.read_text("utf-8")).document["radio"])


def with_radio(show: Show, part: dict[str, Any] | None = None) -> None:
    """Give a show this radio part."""
    before = show.document().get("radio", ABSENT)
    show.edit([Change("/radio", before, part or radio_part())], INES)


def png(width_px: int, height_px: int, note: bytes = b"") -> bytes:
    """A grey picture, with words in it that are not drawn."""
    rows = b"".join(b"\0" + b"\x80" * width_px for _ in range(height_px))
    head = struct.pack(">IIBBBBB", width_px, height_px, 8, 0, 0, 0, 0)
    chunks = (b"IHDR", head), (b"tEXt", b"note\0" + note), (b"IDAT", zlib.compress(rows)), (b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body)) for name, body in chunks
    )

"""Text in fixed fields and old chunks, whose encoding nobody wrote down."""

from __future__ import annotations


def decode_text(raw: bytes) -> str:
    """Text up to the first NUL: UTF-8 if it is that, else Latin-1. Trailing blanks go."""
    raw = raw.split(b"\0", 1)[0]
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    return text.rstrip(" ")


def encode_text(text: str, size: int) -> bytes:
    """UTF-8 (ASCII stays ASCII) cut to ``size`` bytes between characters, filled with NULs."""
    raw = text.split("\0", 1)[0].encode("utf-8", "replace")[:size]
    while raw:
        try:
            raw.decode("utf-8")
            break
        except UnicodeDecodeError:
            raw = raw[:-1]
    return raw.ljust(size, b"\0")

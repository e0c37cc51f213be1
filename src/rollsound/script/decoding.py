"""The text of a script or sheet, whatever encoding it was saved in. What was guessed is told."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

from rollsound.errors import BrokenFileError, InputError

LARGEST_BYTES = 50_000_000
"""Far more than any script; more is some other file."""
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_OTHERS = {
    b"%PDF": "a PDF",
    b"PK\x03\x04": "a packed document",
    b"\xd0\xcf\x11\xe0": "a document of an office program",
    b"{\\rtf": "a formatted text (RTF)",
    b"<?xm": "an XML document",
}


@dataclass(frozen=True)
class Decoded:
    """A text, and one sentence on what about its bytes was not as it should be; empty when all was."""

    text: str
    note: str = ""


def decode(data: bytes, name: str) -> Decoded:
    """Read bytes as text.

    UTF-8 is what Fountain is written in. UTF-16 is known by its mark or its zeros. Anything else is read as the
    Western code page 1252, and told: names with accents may be wrong then. UTF-8 with single spoilt bytes stays UTF-8.

    Raises
    ------
    InputError
        when it is too large for a script, or is another kind of document
    BrokenFileError
        when its bytes are no text
    """
    if len(data) > LARGEST_BYTES:
        raise InputError(f"{name} is too large for a script; name its text in Fountain or a CSV sheet")
    for magic, what in _OTHERS.items():
        if data.startswith(magic):
            raise InputError(
                f"{name} is {what}, not plain text; export the script as Fountain, or the breakdown as CSV"
            )
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _marked(data, encoding, name)
    if b"\0" in data:
        return _with_zeros(data, name)
    try:
        return Decoded(data.decode("utf-8"))
    except UnicodeDecodeError as error:
        return _spoilt(data, error, name)


def _marked(data: bytes, encoding: str, name: str) -> Decoded:
    try:
        return Decoded(data.decode(encoding))
    except UnicodeDecodeError:
        text = data.decode(encoding, "replace")
        line = text.count("\n", 0, text.find("\ufffd")) + 1
        return Decoded(
            text,
            f"{name} breaks off or is damaged in line {line}; what can be read was read, so look at that line",
        )


def _with_zeros(data: bytes, name: str) -> Decoded:
    even, odd = data[0:4000:2].count(0), data[1:4000:2].count(0)
    half = min(len(data), 4000) // 2
    for zeros, others, encoding in ((odd, even, "utf-16-le"), (even, odd, "utf-16-be")):
        if zeros > half * 0.4 and others < half * 0.05:
            return _marked(data[: len(data) & ~1], encoding, name)
    raise BrokenFileError(
        f"{name} holds bytes that are no text; export the script again as Fountain in UTF-8", path=name
    )


def _spoilt(data: bytes, error: UnicodeDecodeError, name: str) -> Decoded:
    line = data.count(b"\n", 0, error.start) + 1
    repaired = data.decode("utf-8", "replace")
    spoilt = repaired.count("\ufffd") - data.count("\ufffd".encode())
    others = sum(1 for letter in repaired if ord(letter) > 127) - repaired.count("\ufffd")
    if others > spoilt:
        return Decoded(
            repaired,
            f"{name} has bytes that are no UTF-8, first in line {line}; save it again as UTF-8",
        )
    return Decoded(
        data.decode("cp1252", "replace"),
        f"{name} is not UTF-8 (line {line}) and was read as the Western code page 1252; "
        "look at names with accents, and save it as UTF-8",
    )

"""The broadcast extension chunk, versions 0 to 2.

Source: EBU Tech 3285 version 2 (2011), coding history by EBU R 98.
"""

from __future__ import annotations

import re
import struct
import unicodedata
from dataclasses import dataclass, replace

from rollsound.errors import InputError
from rollsound.wave.model import AudioFormat
from rollsound.wave.text import decode_text, encode_text

FIXED_BYTES = 602
_UNSET = 0x7FFF
_FIXED = struct.Struct("<256s32s32s10s8sIIH")
_LINE = re.compile(r"^[a-z]?([A-Z][A-Z0-9_]*)=(.*)$")
_HUNDREDTHS = (
    "loudness_value_lufs",
    "loudness_range_lu",
    "loudness_true_peak_dbtp",
    "loudness_momentary_lufs",
    "loudness_short_term_lufs",
)
_TEXTS = (
    "description",
    "originator",
    "originator_reference",
    "origination_date",
    "origination_time",
    "coding_history",
)


@dataclass(frozen=True)
class Bext:
    """The fields of a ``bext`` chunk.

    ``time_reference`` counts samples from midnight at the file's sample rate. Loudness fields are None when unset
    (0x7FFF in the file); a measured zero is a zero. ``reserved`` keeps bytes that the version leaves undefined.
    """

    description: str = ""
    originator: str = ""
    originator_reference: str = ""
    origination_date: str = ""
    origination_time: str = ""
    time_reference: int = 0
    version: int = 2
    umid: bytes = b""
    loudness_value_lufs: float | None = None
    loudness_range_lu: float | None = None
    loudness_true_peak_dbtp: float | None = None
    loudness_momentary_lufs: float | None = None
    loudness_short_term_lufs: float | None = None
    coding_history: str = ""
    reserved: bytes = b""

    @classmethod
    def from_bytes(cls, payload: bytes) -> Bext:
        """Read a payload; one that is cut short is taken as if zeros followed."""
        fixed = payload[:FIXED_BYTES].ljust(FIXED_BYTES, b"\0")
        description, originator, reference, date, time, low, high, version = _FIXED.unpack_from(fixed)
        known: dict[str, float | None] = {}
        if version >= 2:
            values = struct.unpack_from("<5h", fixed, 412)
            known = {
                name: None if value == _UNSET else value / 100 for name, value in zip(_HUNDREDTHS, values, strict=True)
            }
        reserved = fixed[_reserved_from(version) :]
        return cls(
            description=decode_text(description),
            originator=decode_text(originator),
            originator_reference=decode_text(reference),
            origination_date=decode_text(date),
            origination_time=decode_text(time),
            time_reference=low | high << 32,
            version=version,
            umid=fixed[348:412].rstrip(b"\0") if version >= 1 else b"",
            coding_history=decode_text(payload[FIXED_BYTES:]),
            reserved=reserved if any(reserved) else b"",
            **known,
        )

    def to_bytes(self) -> bytes:
        """The payload, of even length. The version is raised to what the filled fields need."""
        version = self.version
        loudness = [getattr(self, name) for name in _HUNDREDTHS]
        if self.umid:
            version = max(version, 1)
        if any(value is not None for value in loudness):
            version = max(version, 2)
        if not 0 <= self.time_reference < 1 << 64:
            raise InputError(f"a time reference of {self.time_reference} samples does not fit; it counts from midnight")
        payload = bytearray(FIXED_BYTES)
        _FIXED.pack_into(
            payload,
            0,
            encode_text(self.description, 256),
            encode_text(self.originator, 32),
            encode_text(self.originator_reference, 32),
            encode_text(self.origination_date, 10),
            encode_text(self.origination_time, 8),
            self.time_reference & 0xFFFFFFFF,
            self.time_reference >> 32,
            version,
        )
        if version >= 1:
            payload[348:412] = self.umid[:64].ljust(64, b"\0")
        if version >= 2:
            struct.pack_into("<5h", payload, 412, *(_hundredths(value) for value in loudness))
        room = FIXED_BYTES - _reserved_from(version)
        if self.reserved:
            payload[-room:] = self.reserved[-room:].rjust(room, b"\0")
        payload += self.coding_history.encode("utf-8")
        if len(payload) % 2:
            payload.append(0)
        return bytes(payload)

    def with_history(self, line: str) -> Bext:
        """The same with one more line of coding history; the lines before stay as they are."""
        before = self.coding_history
        if before and not before.endswith("\n"):
            before += "\r\n"
        return replace(self, coding_history=f"{before}{line.rstrip()}\r\n")

    def ascii(self) -> Bext:
        """The same with every text folded to ASCII, as the standard asks of a new file."""
        return replace(self, **{name: _fold(getattr(self, name)) for name in _TEXTS})  # type: ignore[arg-type]

    @property
    def lines(self) -> dict[str, str]:
        """Fields that older recorders write into the description as ``sSCENE=12A``: name without its letter to text."""
        found = (_LINE.match(line.strip()) for line in re.split(r"[\r\n]+", self.description))
        return {match[1]: match[2].strip() for match in found if match}


def history_line(form: AudioFormat, text: str = "") -> str:
    """One line of coding history, for instance ``A=PCM,F=48000,W=24,M=multi,T=mirror from card``.

    Source: EBU R 98 for the fields; ``multi`` for more than two channels is common practice.
    """
    mode = {1: "mono", 2: "stereo"}.get(form.channels, "multi")
    line = f"A=PCM,F={form.sample_rate_hz},W={form.sample_format.bits},M={mode}"
    clean = " ".join(text.replace(",", " ").split())
    return f"{line},T={clean}" if clean else line


def _reserved_from(version: int) -> int:
    return {0: 348, 1: 412}.get(version, 422)


def _hundredths(value: float | None) -> int:
    if value is None:
        return _UNSET
    scaled = round(value * 100) if abs(value) < 1000 else _UNSET
    if not -0x8000 <= scaled < _UNSET:
        raise InputError(f"a loudness of {value} cannot be written; it must lie between -327.68 and 327.66")
    return scaled


def _fold(text: str) -> str:
    """Letters without their accents; what then is not ASCII becomes a question mark."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return plain.encode("ascii", "replace").decode("ascii")

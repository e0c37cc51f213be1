"""LIST/INFO texts and cue points with their labels.

Source: Microsoft RIFF "Multimedia Programming Interface and Data Specifications 1.0" (1991), as summarised at
wavref.til.cafe; in a plain data chunk the sample offset of a cue point counts frames by common practice.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping, Sequence

from rollsound.errors import InputError
from rollsound.wave.model import Cue
from rollsound.wave.text import decode_text

_LTXT = struct.Struct("<II4sHHHH")


def walk_list(payload: bytes) -> Iterator[tuple[str, bytes]]:
    """The sub-chunks of a LIST payload (its first four bytes are its kind); stops at the first that is cut."""
    at = 4
    while at + 8 <= len(payload):
        size = int.from_bytes(payload[at + 4 : at + 8], "little")
        yield payload[at : at + 4].decode("latin-1"), payload[at + 8 : at + 8 + size]
        at += 8 + size + size % 2


def parse_info(payload: bytes) -> dict[str, str]:
    """The texts of a LIST/INFO chunk by their four-letter names; the first of each name counts."""
    texts: dict[str, str] = {}
    for name, body in walk_list(payload):
        texts.setdefault(name, decode_text(body))
    return texts


def build_info(texts: Mapping[str, str]) -> bytes:
    """The payload of a LIST/INFO chunk."""
    out = bytearray(b"INFO")
    for name, text in texts.items():
        out += _sub_chunk(name.encode("latin-1", "replace")[:4].ljust(4), text.encode("utf-8", "replace") + b"\0")
    return bytes(out)


def parse_cues(payload: bytes, labels: bytes = b"") -> tuple[Cue, ...]:
    """Cue points in order of time, joined with the labels, notes and lengths of a LIST/adtl payload."""
    named: dict[tuple[str, int], str] = {}
    lengths: dict[int, int] = {}
    for kind, body in walk_list(labels):
        if len(body) < 4:
            continue
        identity = int.from_bytes(body[:4], "little")
        if kind in ("labl", "note"):
            named.setdefault((kind, identity), decode_text(body[4:]))
        elif kind == "ltxt" and len(body) >= 8:
            lengths.setdefault(identity, int.from_bytes(body[4:8], "little"))
    cues = []
    for at in range(4, min(len(payload), 4 + 24 * int.from_bytes(payload[:4], "little")) - 23, 24):
        identity, _, _, _, _, frame = struct.unpack_from("<II4sIII", payload, at)
        cues.append(
            Cue(frame, named.get(("labl", identity), ""), named.get(("note", identity), ""), lengths.get(identity, 0))
        )
    return tuple(sorted(cues, key=lambda cue: cue.frame))


def build_cues(cues: Sequence[Cue]) -> tuple[bytes, bytes]:
    """The payloads of a ``cue `` chunk and of the LIST/adtl chunk that names its points."""
    points, labels = bytearray(struct.pack("<I", len(cues))), bytearray(b"adtl")
    for identity, cue in enumerate(cues, 1):
        if not (0 <= cue.frame < 1 << 32 and 0 <= cue.length_frames < 1 << 32):
            raise InputError(
                f"a cue point at sample {cue.frame} cannot be written; this kind of list ends at 4294967295"
            )
        points += struct.pack("<II4sIII", identity, cue.frame, b"data", 0, 0, cue.frame)
        for kind, text in ((b"labl", cue.label), (b"note", cue.note)):
            if text:
                labels += _sub_chunk(kind, struct.pack("<I", identity) + text.encode("utf-8", "replace") + b"\0")
        if cue.length_frames:
            labels += _sub_chunk(b"ltxt", _LTXT.pack(identity, cue.length_frames, b"rgn ", 0, 0, 0, 0))
    return bytes(points), bytes(labels) if len(labels) > 4 else b""


def _sub_chunk(name: bytes, body: bytes) -> bytes:
    body += b"\0" * (len(body) % 2)
    return name + struct.pack("<I", len(body)) + body

"""The picture under the drawing of a ground: found in the show's folder, looked into before it is used, never altered.

Only its head and its frame are read here; what draws it decodes it, and never more of it than ``MOST_PIXELS``.
"""

from __future__ import annotations

import base64
import contextlib
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from rollsound.errors import InputError
from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.radio.model import Ground

LARGEST_BYTES = 20_000_000
MOST_PIXELS = 50_000_000
MOST_ASPECT_OFF = 0.1
"""By how much width over height of a picture may differ from that of its ground, as a share."""
KINDS = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp"}
_REMEDY = "Put a PNG, JPEG or WebP into the show's folder and name it at the ground, in the plan's text."
_NO_SIZE = frozenset({0xC4, 0xC8, 0xCC})
"""Markers of a JPEG between C0 and CF that do not tell its size."""
_TAIL_BYTES = 65_536
"""Some cameras write more behind the end of a JPEG."""

Stamp = tuple[str, int, int]


@dataclass(frozen=True)
class GroundImage:
    """A picture as it lies on the disk, with its size in pixels."""

    body: bytes
    kind: str
    """``image/png``, ``image/jpeg`` or ``image/webp``."""
    width_px: int
    height_px: int

    @property
    def address(self) -> str:
        """The whole picture as an address, for a drawing that may fetch nothing."""
        return f"data:{self.kind};base64,{base64.b64encode(self.body).decode()}"

    def aspect_off(self, ground: Ground) -> float:
        """By which share width over height is off that of the ground: 0 fits, 0.1 is a tenth too wide or too high."""
        ratio = (self.width_px / self.height_px) / (ground.width_m / ground.depth_m)
        return max(ratio, 1 / ratio) - 1


def image_of(folder: Path, ground: Ground) -> GroundImage | None:
    """The picture of a ground; None where it names none.

    Parameters
    ----------
    folder
        of the show; nothing that lies elsewhere is ever read

    Raises
    ------
    InputError
        when it is not there, no picture, broken off, or too large
    """
    if not ground.image:
        return None
    told = f"the picture of the ground '{ground.id}'"
    kind = KINDS.get(Path(ground.image).suffix.lower())
    if kind is None:
        raise InputError(f"{told} is no PNG, JPEG or WebP by its name; save it as one of these and name that")
    body = _read(folder.resolve(), ground.image)
    if body is None:
        raise InputError(f"{told} is not in the show's folder, or cannot be read; put it there, or take its name out")
    if len(body) > LARGEST_BYTES:
        raise InputError(f"{told} is larger than {LARGEST_BYTES // 1_000_000} MB; save a smaller one")
    found = _looked_into(body)
    if found is None or found.kind != kind:
        raise InputError(f"{told} is no whole {kind.removeprefix('image/').upper()} picture; save it again")
    if found.width_px * found.height_px > MOST_PIXELS:
        size = f"{found.width_px} × {found.height_px}"
        raise InputError(f"{told} has {size} pixels; save one of {MOST_PIXELS // 1_000_000} million or less")
    return found


def _read(folder: Path, name: str) -> bytes | None:
    """The file, and never more of it than one byte too many; None where it lies elsewhere or cannot be read."""
    with contextlib.suppress(OSError, ValueError):  # a name that no disk takes, or a file that nobody may open
        path = (folder / name).resolve()
        if path.is_relative_to(folder) and path.is_file():
            with path.open("rb") as file:
                return file.read(LARGEST_BYTES + 1)
    return None


def image_or_note(folder: Path, ground: Ground) -> tuple[GroundImage | None, str]:
    """The picture, or the sentence why there is none; both empty where none is named."""
    try:
        return image_of(folder, ground), ""
    except InputError as error:
        return None, f"{error.sentence[:1].upper()}{error.sentence[1:].removesuffix('.')}."


def image_findings(folder: Path, grounds: Iterable[Ground]) -> Iterator[Finding]:
    """One finding a ground that names a picture: it cannot be drawn, it is out of scale, or it fits."""
    for ground in grounds:
        image, why = image_or_note(folder, ground)
        at = ["radio", "grounds", ground.id, "image"]
        if why:
            yield about_plan(
                Area.REACH,
                Weight.WATCH,
                f"picture of {ground.id}",
                "ground picture",
                why,
                why="Maps are drawn without it.",
                remedy=_REMEDY,
                at=at,
            )
        elif image is not None:
            yield _scale(ground, image, at)


def _scale(ground: Ground, image: GroundImage, at: list[str]) -> Finding:
    off = image.aspect_off(ground)
    sizes = f"{image.width_px} × {image.height_px} pixels on {ground.width_m:g} × {ground.depth_m:g} m"
    good = off <= MOST_ASPECT_OFF
    return about_plan(
        Area.REACH,
        Weight.FINE if good else Weight.WATCH,
        f"picture of {ground.id}",
        "image without scale",
        f"The picture of {ground.id} has the form of its ground: {sizes}."
        if good
        else f"The picture of {ground.id} is stretched to its ground, {sizes}: {100 * off:.0f} % out of form.",
        why="" if good else "Walls and antennas do not stand where the picture shows them.",
        remedy=""
        if good
        else "Cut the picture at the edges of the ground, or correct the ground's width and depth in the plan's text.",
        numbers={"aspect_off_percent": 100 * off},
        at=at,
    )


def image_stamps(folder: Path, grounds: Iterable[Ground]) -> tuple[Stamp, ...]:
    """What tells a picture from one that was put in its place: name, size in bytes, time in ns."""
    found: list[Stamp] = []
    for each in grounds:
        if each.image:
            try:
                stat = (folder / each.image).stat()
                found.append((each.image, stat.st_size, stat.st_mtime_ns))
            except (OSError, ValueError):
                found.append((each.image, -1, 0))
    return tuple(found)


def _looked_into(body: bytes) -> GroundImage | None:
    """Kind and size, when the file is whole."""
    for kind, size in (("image/png", _png), ("image/jpeg", _jpeg), ("image/webp", _webp)):
        found = size(body)
        if found is not None and min(found) > 0:
            return GroundImage(body, kind, *found)
    return None


def _png(body: bytes) -> tuple[int, int] | None:
    """Every chunk with its check sum, from the head to the end. Source: PNG, third edition, clauses 5.2 to 5.6."""
    if not body.startswith(b"\x89PNG\r\n\x1a\n") or body[12:16] != b"IHDR" or len(body) < 33:
        return None
    at, has_data = 8, False
    while at + 12 <= len(body):
        length, name = int.from_bytes(body[at : at + 4], "big"), body[at + 4 : at + 8]
        end = at + 8 + length
        if end + 4 > len(body) or zlib.crc32(body[at + 4 : end]) != int.from_bytes(body[end : end + 4], "big"):
            return None
        if name == b"IEND":
            return (int.from_bytes(body[16:20], "big"), int.from_bytes(body[20:24], "big")) if has_data else None
        has_data = has_data or name == b"IDAT"
        at = end + 4
    return None


def _jpeg(body: bytes) -> tuple[int, int] | None:
    """The size in the frame's head, where the end is there. Source: ITU-T T.81 (09/1992), B.1.1 and B.2.2."""
    if not body.startswith(b"\xff\xd8\xff") or b"\xff\xd9" not in body[-_TAIL_BYTES:]:
        return None
    at = 2
    while at + 9 <= len(body) and body[at] == 0xFF:
        marker = body[at + 1]
        if marker == 0xFF:  # filling
            at += 1
            continue
        if 0xC0 <= marker <= 0xCF and marker not in _NO_SIZE:
            return int.from_bytes(body[at + 7 : at + 9], "big"), int.from_bytes(body[at + 5 : at + 7], "big")
        length = int.from_bytes(body[at + 2 : at + 4], "big")
        if marker == 0xDA or length < 2:
            return None
        at += 2 + length
    return None


def _webp(body: bytes) -> tuple[int, int] | None:
    """The size in the first chunk, where the file is as long as it says. Source: RFC 9649, section 2."""
    if body[:4] != b"RIFF" or body[8:12] != b"WEBP" or len(body) < 30:
        return None
    if int.from_bytes(body[4:8], "little") + 8 > len(body):
        return None
    form = body[12:16]
    if form == b"VP8X":
        return int.from_bytes(body[24:27], "little") + 1, int.from_bytes(body[27:30], "little") + 1
    if form == b"VP8L" and body[20] == 0x2F:
        bits = int.from_bytes(body[21:25], "little")
        return (bits & 0x3FFF) + 1, ((bits >> 14) & 0x3FFF) + 1
    if form == b"VP8 " and body[23:26] == b"\x9d\x01\x2a":
        return int.from_bytes(body[26:28], "little") & 0x3FFF, int.from_bytes(body[28:30], "little") & 0x3FFF
    return None

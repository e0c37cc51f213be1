"""Style, scripts, fonts and marks: read once, named by their content, kept by browsers for good.

Files are served from a table made at the start; no path from outside ever reaches the disk.
"""

from __future__ import annotations

import functools
import gzip
import hashlib
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

_TYPES = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "woff2": "font/woff2",
    "txt": "text/plain; charset=utf-8",
    "json": "application/json",
}
_PACKED = frozenset({"css", "js", "svg", "txt", "json"})
_FOR_GOOD = "public, max-age=31536000, immutable"


@dataclass(frozen=True)
class StaticFile:
    """One file as it is sent."""

    body: bytes
    type: str
    packs: bool

    @functools.cached_property
    def packed(self) -> bytes | None:
        """The body packed, made when it is first asked for; nothing where packing gains nothing."""
        return gzip.compress(self.body, 9, mtime=0) if self.packs else None


@functools.cache
def files() -> dict[str, StaticFile]:
    """Every file by its name under ``static/``."""
    found: dict[str, StaticFile] = {}
    _walk(resources.files("rollsound.web").joinpath("static"), "", found)
    return found


@functools.cache
def version() -> str:
    """A name for this very content; one for all files, so that scripts may import each other by relative names."""
    digest = hashlib.sha256()
    for name, file in sorted(files().items()):
        digest.update(f"{name}\0{len(file.body)}\0".encode() + file.body)
    return digest.hexdigest()[:16]


def static_url(name: str) -> str:
    """The address of a file, with its content's name in it.

    Raises
    ------
    KeyError
        when there is no such file
    """
    files()[name]
    return f"/static/{version()}/{name}"


def static_answer(request: Request, asked_version: str, name: str) -> Response:
    """The file, packed where the browser can unpack it."""
    file = files().get(name)
    if file is None:
        raise HTTPException(404, "Not Found")
    headers = {"cache-control": _FOR_GOOD if asked_version == version() else "no-cache", "vary": "accept-encoding"}
    if "gzip" in request.headers.get("accept-encoding", "") and file.packed is not None:
        return Response(file.packed, headers={**headers, "content-encoding": "gzip"}, media_type=file.type)
    return Response(file.body, headers=headers, media_type=file.type)


def _walk(folder: Traversable, prefix: str, found: dict[str, StaticFile]) -> None:
    for each in folder.iterdir():
        if each.is_dir():
            _walk(each, f"{prefix}{each.name}/", found)
            continue
        ending = each.name.rpartition(".")[2]
        if ending in _TYPES:
            found[prefix + each.name] = StaticFile(each.read_bytes(), _TYPES[ending], ending in _PACKED)

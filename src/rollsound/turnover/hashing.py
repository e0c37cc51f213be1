"""Digests as a media hash list writes them, and the digest of a folder made from the digests of what it holds.

Source: ASC MHL Specification 1.0 (15 March 2022), XML vocabulary 2.0; C4: SMPTE ST 2114:2017.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any, Protocol

import xxhash

from rollsound.errors import InputError

C4_LETTERS = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
C4_LENGTH = 90


class Hasher(Protocol):
    """What every digest function here offers."""

    def update(self, data: Any, /) -> None:
        """Take in more bytes."""

    def digest(self) -> bytes:
        """The digest so far."""


# In the order the schema wants them, which is also the order in which they are written.
_MAKERS: dict[str, Any] = {
    "c4": hashlib.sha512,
    "md5": lambda: hashlib.md5(usedforsecurity=False),
    "sha1": lambda: hashlib.sha1(usedforsecurity=False),
    "xxh128": xxhash.xxh3_128,
    "xxh3": xxhash.xxh3_64,
    "xxh64": xxhash.xxh64,
}
ALGORITHMS = tuple(_MAKERS)
# Quickest first, for choosing which of several recorded digests to prove a file by.
QUICKEST = ("xxh128", "xxh3", "xxh64", "sha1", "md5", "c4")


def new_hasher(algorithm: str) -> Hasher:
    """A fresh hasher.

    Raises
    ------
    InputError
        when the algorithm is none of a media hash list
    """
    maker = _MAKERS.get(algorithm)
    if maker is None:
        raise InputError(f"'{algorithm}' is no digest of a media hash list; choose one of: {', '.join(ALGORITHMS)}")
    hasher: Hasher = maker()
    return hasher


def written(algorithm: str, digest: bytes) -> str:
    """A digest as a manifest writes it: lower-case hexadecimal, or the 90 letters of a C4 identifier."""
    return c4_text(digest) if algorithm == "c4" else digest.hex()


def raw(algorithm: str, text: str) -> bytes:
    """The bytes behind a written digest. Raises InputError when it is not one."""
    try:
        return _c4_bytes(text) if algorithm == "c4" else bytes.fromhex(text)
    except ValueError as error:
        raise InputError(f"'{text}' is no {algorithm} digest") from error


def c4_text(digest: bytes) -> str:
    """SHA-512 bytes as a C4 identifier: ``c4`` and base 58, padded to 90 letters."""
    value = int.from_bytes(digest, "big")
    letters = ""
    while value:
        value, rest = divmod(value, 58)
        letters = C4_LETTERS[rest] + letters
    return "c4" + letters.rjust(C4_LENGTH - 2, C4_LETTERS[0])


def _c4_bytes(text: str) -> bytes:
    if len(text) != C4_LENGTH or not text.startswith("c4"):
        raise ValueError(text)
    value = 0
    for letter in text[2:]:
        value = value * 58 + C4_LETTERS.index(letter)
    try:
        return value.to_bytes(64, "big")
    except OverflowError as error:
        raise ValueError(text) from error


def digest_of(algorithm: str, data: bytes) -> str:
    """The written digest of some bytes."""
    hasher = new_hasher(algorithm)
    hasher.update(data)
    return written(algorithm, hasher.digest())


def _of_list(algorithm: str, digests: list[str]) -> str:
    return digest_of(algorithm, b"".join(raw(algorithm, text) for text in sorted(digests)))


def folder_digests(algorithm: str, files: Mapping[str, str], folders: Iterable[str] = ()) -> dict[str, tuple[str, str]]:
    """Content and structure digest of every folder.

    Parameters
    ----------
    files
        relative path (``/`` between its parts) to written digest
    folders
        folders to count even if no file lies in them

    Returns
    -------
    dict
        folder path to (content, structure); the root is ``"."``. Deepest folders first.

    Source: ASC MHL Specification 1.0, directory hashes: the digest of the children's digests, sorted as text; for the
    structure digest each child's is first digested together with its name.
    """
    children: dict[str, dict[str, str | None]] = {".": {}}

    def add_folder(path: str) -> None:
        if path not in children:
            children[path] = {}
            parent, _, name = path.rpartition("/")
            add_folder(parent or ".")
            children[parent or "."][name] = None

    for path in folders:
        add_folder(path)
    for path, text in files.items():
        parent, _, name = path.rpartition("/")
        add_folder(parent or ".")
        children[parent or "."][name] = text
    done: dict[str, tuple[str, str]] = {}
    for folder in sorted(children, key=lambda path: (path == ".", -path.count("/"), path)):
        contents, structures = [], []
        for name, own in children[folder].items():
            content, inner = (own, own) if own else done[name if folder == "." else f"{folder}/{name}"]
            contents.append(content)
            structures.append(digest_of(algorithm, name.encode("utf-8") + raw(algorithm, inner)))
        done[folder] = (_of_list(algorithm, contents), _of_list(algorithm, structures))
    return done

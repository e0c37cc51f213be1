"""Names that every system can store: no reserved signs or words, no trailing dots, not too long, never two alike."""

from __future__ import annotations

import re
import unicodedata

_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
_FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')
LONGEST_BYTES = 120


def safe_name(text: str, otherwise: str = "unnamed") -> str:
    """The text as a name that any system can store. Letters of all scripts stay; forbidden signs become ``-``.

    Source: the naming rules of the file systems in use (FAT, exFAT, NTFS, APFS, ext4), common practice, no source.
    """
    plain = unicodedata.normalize("NFC", " ".join(text.encode("utf-8", "replace").decode("utf-8").split()))
    plain = "".join(sign for sign in plain if unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Cn"))
    plain = _FORBIDDEN.sub("-", " ".join(plain.split())).strip(" .")
    stem, dot, ending = plain.rpartition(".")
    if not dot or len(ending) > 8:
        stem, ending = plain, ""
    room = LONGEST_BYTES - len(ending.encode()) - len(dot)
    while len(stem.encode("utf-8")) > room:
        stem = stem[:-1]
    stem = stem.rstrip(" .")
    name = f"{stem}.{ending}" if ending else stem
    if name.split(".")[0].casefold().rstrip() in _RESERVED:
        name = f"_{name}"
    return name or otherwise


def distinct(name: str, taken: set[str]) -> str:
    """The name, with a number before its ending if one like it is taken (whatever its case); marks it as taken."""
    stem, dot, ending = name.rpartition(".")
    if not dot:
        stem, ending = name, ""
    result, number = name, 1
    while unicodedata.normalize("NFC", result).casefold() in taken:
        number += 1
        result = f"{stem} ({number}){dot}{ending}"
    taken.add(unicodedata.normalize("NFC", result).casefold())
    return result

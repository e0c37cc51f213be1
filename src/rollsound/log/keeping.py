"""How values, times and digests stand in the database."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

from rollsound.errors import InputError
from rollsound.log.changes import ABSENT, Absent
from rollsound.log.opening import BytesDamagedError

_DIGEST_BYTES = 16
_ENCODE = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), default=repr).encode


def text_of(value: Any) -> str:
    """A value as compact JSON.

    Raises
    ------
    InputError
        when it holds a number that is none, or letters that are no readable text
    """
    try:
        text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise InputError("a value holds half of a letter, which no file can keep; type it again") from error
    except ValueError as error:
        raise InputError("a value is infinite or no number; write a figure, or leave it empty") from error
    return text


def value_of(text: str) -> Any:
    """The value that ``text_of`` wrote."""
    try:
        return json.loads(text)
    except (TypeError, ValueError) as error:
        raise BytesDamagedError("a value in it is no longer readable") from error


def side_text(value: Any | Absent) -> str | None:
    """One side of a change; no text at all where nothing stood."""
    return None if value is ABSENT else text_of(value)


def side_of(text: str | None) -> Any | Absent:
    """What ``side_text`` wrote."""
    return ABSENT if text is None else value_of(text)


def digest_of(*parts: str | int | None) -> str:
    """A digest of a row, so that a byte that changed on the disk is noticed: SQLite itself checks only its structure.

    Parts keep their borders: ("ab", "c") is not ("a", "bc"), and None is not "".
    """
    text = _ENCODE(parts)
    return hashlib.blake2b(text.encode("utf-8", "surrogatepass"), digest_size=_DIGEST_BYTES).hexdigest()


def now() -> datetime:
    """The present moment in UTC."""
    return datetime.now(UTC)


def time_text(time: datetime) -> str:
    """A moment as it stands in the database; its order as text is that in time."""
    return time.astimezone(UTC).isoformat(timespec="microseconds")


def time_of(text: str) -> datetime:
    """The moment that ``time_text`` wrote."""
    try:
        return datetime.fromisoformat(text).astimezone(UTC)
    except (TypeError, ValueError) as error:
        raise BytesDamagedError("a time in it is no longer readable") from error

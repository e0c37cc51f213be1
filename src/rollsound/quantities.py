"""Units at the border: what people write in, what they read out.

Inside, everything is a float with its unit in the name. Pint knows the units; this module
knows how a mixer writes them.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Sequence
from typing import Any

from rollsound.errors import InputError

_DECIBELS = {"dB", "dBFS", "dBTP", "dBm", "dBu", "dBA", "dB SPL", "LUFS", "LU", "ppm"}
_NUMBER = re.compile(r"^\s*([+−-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")

_BYTES = re.compile(
    r"(?<![\w.,/-])\d{4,}(?= bytes)|(?<=\bbyte )\d{4,}\b|(?<=\bends after )\d{4,}\b"
    r"|(?<=bytes were read, not )\d{4,}\b|(?<=\bonly the first )\d{4,}\b"
)


# The units that nearly every plan is written in, as powers of ten: for these the registry need not be loaded. Those
# that a prefix cannot be told from another unit in (Pa, min, cd) are left to it.
_PREFIXES = {"": 0, "µ": -6, "μ": -6, "m": -3, "k": 3, "M": 6, "G": 9}
_PREFIXED = {"Hz", "W", "Wh", "V", "A", "s"}
_LENGTHS = {"mm": -3, "cm": -2, "m": 0, "km": 3}
_MASSES = {"mg": -3, "g": 0, "kg": 3}


def _ten_to(written: str, unit: str) -> int | None:
    """How many powers of ten a common unit is over another one of its kind; none when the registry is to be asked."""
    for sizes in (_LENGTHS, _MASSES):
        if written in sizes and unit in sizes:
            return sizes[written] - sizes[unit]
    for base in _PREFIXED:
        if written.endswith(base) and unit.endswith(base):
            first, second = written.removesuffix(base), unit.removesuffix(base)
            if first in _PREFIXES and second in _PREFIXES:
                return _PREFIXES[first] - _PREFIXES[second]
    return None


@functools.cache
def _registry() -> Any:
    import pint  # loading it takes a third of a second, which a program that reads no quantity is spared

    return pint.UnitRegistry(cache_folder=None)


def parse(text: str, unit: str) -> float:
    """Read a quantity such as ``25 m``, ``3 ms`` or ``-18 dBFS`` and return it in ``unit``.

    A bare number is taken as already being in ``unit``.

    Raises
    ------
    InputError
        when the text is no number, or its unit is of another kind
    """
    match = _NUMBER.match(text)
    if not match:
        raise InputError(f"'{text}' is not a quantity; write a number and its unit, for example '25 {unit}'")
    value = float(match[1].replace(",", ".").replace("−", "-"))
    written = match[2]
    if not math.isfinite(value):
        raise InputError(
            f"'{text}' is too large to mean anything; write a number and its unit, for example '25 {unit}'"
        )
    if not written or written == unit:
        return value
    if unit in _DECIBELS:
        raise InputError(f"'{text}' is not in {unit}; write it as a number followed by {unit}")
    power = _ten_to(written, unit)
    try:
        if power is not None:  # dividing by a power of ten rounds once; multiplying by a fraction of ten twice
            result = value * 10.0**power if power >= 0 else value / 10.0**-power
        else:
            result = float(_registry().Quantity(value, written).to(unit).magnitude)
    except Exception as error:  # pint raises many kinds, some outside its own tree, for strange unit texts
        raise InputError(f"'{written}' cannot be turned into {unit}; write for example '25 {unit}'") from error
    if not math.isfinite(result):
        raise InputError(
            f"'{text}' is too large to mean anything; write a number and its unit, for example '25 {unit}'"
        )
    return result


def show_level(level_db: float, unit: str = "dBFS") -> str:
    """A level with one decimal; minus infinity is written out."""
    if math.isnan(level_db):
        return "not measured"
    if math.isinf(level_db):
        return "silence" if level_db < 0 else f"over range {unit}"
    return f"{true_minus(f'{level_db:.1f}')} {unit}"


def show_size(size_bytes: float) -> str:
    """A size as disks are sold: powers of ten."""
    size = float(size_bytes)
    for unit in ("bytes", "kB", "MB", "GB", "TB"):
        if abs(size) < 1000 or unit == "TB":
            return (
                f"{size:.0f} {unit}"
                if unit == "bytes"
                else f"{size:.3g} {unit}"
                if size < 100
                else f"{size:.0f} {unit}"
            )
        size /= 1000
    raise AssertionError("unreachable")


def show_time(seconds: float) -> str:
    """A length of time: ``0.8 s``, ``47 s``, ``3 min 05 s``, ``1 h 20 min``."""
    if seconds < 10:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def signed(number: float, digits: int = 0) -> str:
    """A difference with its sign, a true minus and thousands apart: ``+3.70``, ``−11,760``; nothing has no sign."""
    text = f"{number:+,.{digits}f}"
    return true_minus(text) if text.strip("+-0.,") else text[1:]


def true_minus(text: str) -> str:
    """A written number with a true minus sign, and none before zero."""
    return text.replace("-", "−" if text.strip("-0.") else "")


def group_bytes(sentence: str) -> str:
    """A sentence whose counts of bytes stand with thousands apart: ``29,956,536 bytes``, ``byte 40,001``."""
    return _BYTES.sub(lambda found: f"{int(found[0]):,}", sentence)


def show_ppm(rate_ppm: float) -> str:
    """A clock's rate against the recorder, signed."""
    return f"{signed(rate_ppm, 3)} ppm"


def count(number: int, noun: str) -> str:
    """A number of things: ``1 take``, ``2 takes``."""
    return f"{number} {noun}" if number == 1 else f"{number:,} {noun}s"


def several(names: Sequence[str], most: int = 4) -> str:
    """Names in a row, and how many more: ``Pack 1, Pack 2 and 3 more``."""
    if len(names) <= 1:
        return names[0] if names else "none"
    if len(names) <= most:
        return f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{', '.join(names[:most])} and {len(names) - most} more"

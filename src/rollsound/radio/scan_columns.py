"""Which column of a scan is the frequency and which the level, and in which units: by the header, or by shape."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

from rollsound.errors import InputError

_SEPARATORS = ("\t", ";", ",", " ")
_LONGEST_HEAD = 300
"""Lines before the first figures: analysers write their settings there."""
_LONGEST_LINE = 2_000
_NUMBER = re.compile(r"[+−-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_FREQ_UNIT = re.compile(r"(?<![a-zA-Z])([kMG]?Hz)(?![a-zA-Z])", re.IGNORECASE)
_LEVEL_UNIT = re.compile(
    r"(?<![a-zA-Z])(dB[uµμ]V(?!/m)|dBm(?!V)|dBmV|dB[uµμ]V/m|dBFS|dBW|dBV|mW|[uµμ]W|[uµμ]V|mV|%)(?![a-zA-Z])",
    re.IGNORECASE,
)
_MEASURED = re.compile(r"\d[\d.,]*\s*[a-zA-Zµμ%/]+")
"""A setting with its unit, such as the bandwidth of resolution: it says nothing of the columns."""
_FREQ_WORD = re.compile(r"freq|frequen|\bf\b|hz", re.IGNORECASE)
_LEVEL_WORD = re.compile(r"level|ampl|power|rssi|magnitude|signal|max|peak|pegel|niveau|nivel|db", re.IGNORECASE)


@dataclass(frozen=True)
class Columns:
    """Where the figures are. Units are empty where nothing tells them."""

    separator: str
    first_line: int
    freq: int = 0
    level: int = 1
    freq_unit: str = ""
    level_unit: str = ""


def fields_of(line: str, separator: str) -> list[str]:
    """One line in its fields; quotes around a field are taken off."""
    if separator == " ":
        return line.split()
    if '"' in line:
        return [field.strip() for field in next(csv.reader([line], delimiter=separator), [])]
    return [field.strip() for field in line.split(separator)]


def number_of(field: str) -> float | None:
    """A figure with a decimal point or comma, with its unit behind it or not; None when it is none."""
    text = field.strip().replace(",", ".", 1) if "." not in field else field.strip()
    try:
        return float(text)
    except ValueError:
        pass
    match = _NUMBER.match(text)
    if match is None:
        return None
    rest = text[match.end() :].strip()
    if rest and not _FREQ_UNIT.fullmatch(rest) and not _LEVEL_UNIT.fullmatch(rest):
        return None
    return float(match[0].replace("−", "-"))


def find_columns(lines: Sequence[str], name: str) -> Columns:
    """Look at the head of a scan.

    Raises
    ------
    InputError
        when there are no figures, or a unit that no level or frequency of a scan has
    """
    first, separator = _first_figures(lines, name)
    head = [line.strip() for line in lines[:first] if line.strip()]
    names = fields_of(head[-1].lstrip("#/!* "), separator) if head else []
    fields = fields_of(lines[first].strip(), separator)
    if separator == "," and _commas_everywhere(fields, names):
        raise InputError(
            f"{name}, line {first + 1}, has commas in its figures and between them; export it with semicolons"
        )
    freq, level = _by_names(names) if len(names) >= 2 else (0, 1)
    if max(freq, level) >= len(fields):
        freq, level = 0, 1
    remarks = [_MEASURED.sub(" ", line) for line in head]
    freq_unit = _unit(_FREQ_UNIT, [fields[freq], names[freq] if freq < len(names) else "", *remarks])
    level_unit = _unit(_LEVEL_UNIT, [fields[level], names[level] if level < len(names) else "", *remarks])
    return Columns(separator, first, freq, level, _freq_unit(freq_unit), _level_unit(level_unit, name))


def _first_figures(lines: Sequence[str], name: str) -> tuple[int, str]:
    seen = 0
    for at, line in enumerate(lines):
        text = line.strip()
        if not text:
            continue
        seen += 1
        if seen > _LONGEST_HEAD:
            break
        if len(text) > _LONGEST_LINE:
            raise InputError(
                f"{name}, line {at + 1}, is longer than any line of a scan; export it as CSV, a line a point"
            )
        for separator in _SEPARATORS:
            if separator not in text:
                continue
            fields = fields_of(text, separator)
            if len(fields) > 1 and all(number_of(field) is not None for field in fields[:2]):
                return at, separator
    if not any(line.strip() for line in lines):
        raise InputError(f"{name} is empty; export the scan again")
    raise InputError(
        f"{name} has no line that begins with a frequency and a level; export the scan as CSV, frequency first"
    )


def _commas_everywhere(fields: Sequence[str], names: Sequence[str]) -> bool:
    """Whether decimal commas stand between columns that are apart by commas too: ``470,025,-95,5``."""
    filled = [field for field in fields if field]
    if len(names) >= 2:
        return len(filled) > len(names)
    return len(filled) == 4 and all(re.fullmatch(r"[+−-]?\d+", field) for field in filled)


def _by_names(names: Sequence[str]) -> tuple[int, int]:
    freq = next((at for at, name in enumerate(names) if _FREQ_WORD.search(name)), 0)
    others = [at for at in range(len(names)) if at != freq]
    return freq, next((at for at in others if _LEVEL_WORD.search(names[at])), others[0])


def _unit(pattern: re.Pattern[str], places: Sequence[str]) -> str:
    return next((found[1] for found in map(pattern.search, places) if found is not None), "")


def _freq_unit(text: str) -> str:
    return {"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz"}.get(text.lower(), "")


def _level_unit(text: str, name: str) -> str:
    plain = text.lower().replace("µ", "u").replace("μ", "u")
    if plain in ("", "dbm", "dbuv"):
        return {"": "", "dbm": "dBm", "dbuv": "dBuV"}[plain]
    raise InputError(f"{name} has its levels in {text}; export them in dBm, or in dBµV at 50 ohm")

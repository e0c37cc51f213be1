"""The figures behind a finding, as a person reads them."""

from __future__ import annotations

import math

from rollsound.finding import Finding
from rollsound.quantities import show_level, show_size, show_time

_UNITS = {
    "ppm": "ppm", "hz": "Hz", "mhz": "MHz", "khz": "kHz", "db": "dB", "m": "m", "mw": "mW", "w": "W", "wh": "Wh",
    "v": "V", "a": "A", "h": "h", "c": "°C", "kg": "kg", "lu": "LU", "samples": "samples", "frames": "frames",
}  # fmt: skip
_LEVELS = {"dbfs": "dBFS", "dbtp": "dBTP", "dbm": "dBm", "lufs": "LUFS"}
_TIMES = frozenset({"s", "seconds", "second"})


def arithmetic(finding: Finding) -> list[tuple[str, str]]:
    """Name and value of each figure, in the order they were given; the unit is told by the end of its name."""
    return [_told(name, value) for name, value in finding.numbers.items()]


def _told(name: str, value: float) -> tuple[str, str]:
    words = name.replace("-", "_").split("_")
    unit = words[-1].lower()
    plain = " ".join(words[:-1]) or name
    if math.isnan(value):
        return (plain if unit in _LEVELS or unit in _UNITS or unit in _TIMES else " ".join(words)), "not measured"
    if unit in _LEVELS:
        return plain, show_level(value, _LEVELS[unit])
    if unit in _TIMES:
        return plain if len(words) > 1 else "in all", _time(value)
    if unit == "bytes":
        return plain, show_size(value)
    if unit in _UNITS and len(words) > 1:
        return plain, f"{_number(value)} {_UNITS[unit]}"
    return " ".join(words), _number(value)


def _time(seconds: float) -> str:
    if 0 < abs(seconds) < 1:
        return f"{_number(seconds * 1000)} ms"
    return show_time(seconds) if seconds >= 0 else f"−{show_time(-seconds)}"


def _number(value: float) -> str:
    if math.isinf(value):
        return "without end"
    if value == int(value) and abs(value) < 1e12:
        return f"{int(value)}".replace("-", "−")
    return f"{value:.3g}".replace("-", "−") if abs(value) < 1000 else f"{value:.0f}".replace("-", "−")

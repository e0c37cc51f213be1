"""The figures every verdict of the fault scan rests on, read once from ``thresholds.toml``."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass
from importlib import resources


@dataclass(frozen=True)
class Threshold:
    """One figure, its unit and where it comes from."""

    value: float
    unit: str
    source: str
    note: str = ""


@functools.cache
def thresholds() -> dict[str, Threshold]:
    """Every figure by its name, ``family.figure``."""
    text = resources.files("rollsound.measure").joinpath("thresholds.toml").read_text(encoding="utf-8")
    return {
        f"{family}.{figure}": Threshold(**row)
        for family, rows in tomllib.loads(text).items()
        for figure, row in rows.items()
    }


def threshold(name: str) -> float:
    """The value of one figure, in the unit its row states. KeyError if there is none of that name."""
    return float(thresholds()[name].value)


def source_of(family: str) -> str:
    """Where a family's figures come from, as one short text."""
    kinds = {row.source.split(";")[0].split(":")[0] for name, row in thresholds().items() if name.startswith(family)}
    return "; ".join(sorted(kinds))


def amplitude(name: str) -> float:
    """A figure in dBFS as an amplitude."""
    return float(10.0 ** (threshold(name) / 20.0))


def power(name: str) -> float:
    """A figure in dB or dBFS as a power ratio."""
    return float(10.0 ** (threshold(name) / 10.0))

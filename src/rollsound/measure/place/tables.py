"""The tables behind the ratings of a place: curves, efforts, bounds, each with its source in the file."""

from __future__ import annotations

import functools
from collections.abc import Mapping

from rollsound.facts import Caution, table
from rollsound.facts.rows import notes_of, read_rows
from rollsound.written import LevelDba, Part

NOISE, SPEECH, LIMITS = "place_noise", "place_speech", "place_limits"


class Effort(Part):
    """How loud somebody speaks, 1 m in front of the mouth."""

    id: str
    name: str
    level: LevelDba
    source: str
    status: str


@functools.cache
def nc_curves() -> Mapping[int, tuple[float, ...]]:
    """Levels in dB of each NC curve in the octaves 63 Hz to 8 kHz, the lowest curve first."""
    return {int(row["curve"]): tuple(map(float, row["levels_db"])) for row in table(NOISE)["nc"]}


@functools.cache
def nr_coefficients() -> tuple[tuple[float, float], ...]:
    """a in dB and b of the NR curves in the octaves 63 Hz to 8 kHz."""
    return tuple((float(row["a_db"]), float(row["b"])) for row in table(NOISE)["nr"])


@functools.cache
def efforts() -> Mapping[str, Effort]:
    """Vocal efforts by id, from the softest."""
    return read_rows(SPEECH, "effort", Effort)


@functools.cache
def grades() -> tuple[tuple[str, float], ...]:
    """Grades of intelligibility from the best, each with the least of speech over interference in dB."""
    return tuple((str(row["id"]), float(row["least_db"])) for row in table(SPEECH)["grade"])


@functools.cache
def _figures(file: str, name: str) -> Mapping[str, tuple[float, str]]:
    return {row["id"]: (float(row["value"]), str(row["source"])) for row in table(file)[name]}


def limit(id: str) -> float:
    """A bound in the unit that its row states. KeyError if there is none of that name."""
    return _figures(LIMITS, "limit")[id][0]


def limit_source(id: str) -> str:
    """Where a bound comes from."""
    return _figures(LIMITS, "limit")[id][1]


def figure(id: str) -> float:
    """A figure of speech in the unit that its row states."""
    return _figures(SPEECH, "figure")[id][0]


def figure_source(id: str) -> str:
    """Where a figure of speech comes from."""
    return _figures(SPEECH, "figure")[id][1]


def burst_caution() -> Caution:
    """The caution on balloons, claps and sweeps."""
    row = table(LIMITS)["caution"][0]
    return Caution(str(row["id"]), str(row["text"]), str(row["source"]))


def notes(*subjects: str) -> tuple[str, ...]:
    """What a reader of these tables must be told."""
    return tuple(note for subject in subjects for note in notes_of(subject))

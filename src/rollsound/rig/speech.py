"""How loud a source is where it enters: vocal efforts, distance, people who speak up in noise, and peaks over the mean.

Efforts are those of ISO 9921 in the table that the survey of a place reads as well.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import read_rows
from rollsound.rig.model import Source
from rollsound.rig.volts import TABLE
from rollsound.written import Decibels, LevelDba, Part

Unit: TypeAlias = Literal["dB SPL", "dBu", "dBFS"]
NEAREST_M = 0.02
_QUIET_DBA = 40.0
"""Up to here nobody speaks up (van Heusden and others, from memory)."""
_NOT_QUIETER = "its quietest is not written, and taken to be as loud as its loudest"


class _Effort(Part):
    id: str
    name: str
    level: LevelDba
    source: str
    status: str


class _Crest(Part):
    id: str
    crest: Decibels
    source: str
    status: str


@dataclass(frozen=True)
class SourceLevel:
    """How loud a source is where it enters: mean levels of its loudest and quietest, and peaks over the mean."""

    loudest_db: float
    quietest_db: float
    crest_db: float
    unit: Unit
    """``dB SPL`` at its microphone, or ``dBFS`` of a source that is digital from the start."""
    assumed: tuple[str, ...] = ()

    @property
    def peak_db(self) -> float:
        """Loudest peaks."""
        return self.loudest_db + self.crest_db


@dataclass(frozen=True)
class NotKnown:
    """Why a level cannot be told, as the end of a sentence, and what to write."""

    why: str


@functools.cache
def _efforts() -> Mapping[str, _Effort]:
    return read_rows("place_speech", "effort", _Effort)


@functools.cache
def _crests() -> Mapping[str, _Crest]:
    return read_rows(TABLE, "crest", _Crest)


@functools.cache
def _figures() -> Mapping[str, tuple[float, str]]:
    return {row["id"]: (float(row["value"]), str(row["source"])) for row in table(TABLE)["figure"]}


def figure(id: str) -> float:
    """A figure of levels, in the unit that its row states."""
    return _figures()[id][0]


def figure_source(id: str) -> str:
    """Where a figure of levels comes from."""
    return _figures()[id][1]


def effort_dba(effort: str) -> float:
    """A-weighted level of a vocal effort, 1 m in front of the mouth."""
    return float(_efforts()[effort].level)


def crest_db(kind: str) -> float:
    """Peaks over the mean level of a kind of source."""
    return float(_crests()[kind].crest)


def at_distance_db(distance_m: float, from_m: float = 1.0) -> float:
    """What direct sound gains or loses from one distance to another.

    Near the chest or under clothing this law fails: there a level is an estimate.

    Raises
    ------
    InputError
        for a distance that is nearer than any microphone is to a mouth
    """
    if distance_m < NEAREST_M or from_m < NEAREST_M:
        raise InputError(
            f"a distance of {min(distance_m, from_m):g} m is nearer than {NEAREST_M:g} m; write it as it is"
        )
    return -20.0 * math.log10(distance_m / from_m)


def lombard_db(noise_dba: float, from_dba: float = 0.0) -> float:
    """How much louder people speak in a noise than in one of ``from_dba``, by themselves."""
    return _risen(noise_dba) - _risen(from_dba)


def _risen(noise_dba: float) -> float:
    low, high = table(TABLE)["lombard"]
    bend = float(high["from_dba"])
    below = min(noise_dba, bend) - float(low["from_dba"])
    return float(low["rise_db"]) * max(below, 0.0) + float(high["rise_db"]) * max(noise_dba - bend, 0.0)


def source_level(source: Source, distance_m: float | None = None) -> SourceLevel | NotKnown:
    """How loud a source is where it enters, or at another distance.

    Parameters
    ----------
    distance_m
        from the source to a microphone that hears it too; its own when None
    """
    crest = float(source.crest_db) if source.crest_db is not None else crest_db(source.kind)
    if source.level_dbfs is not None:
        return SourceLevel(source.level_dbfs, source.level_dbfs, crest, "dBFS")
    name = source.name or source.id
    loud = source.level_spl if source.level_spl is not None else _spoken(source.effort)
    assumed: list[str] = []
    if loud is None:
        if source.kind not in ("voice", "song", "talkback") or source.noise_dba is None:
            return NotKnown(f"how loud {name} is, is not written; write an effort or a level")
        loud = effort_dba("normal") + lombard_db(max(float(source.noise_dba), _QUIET_DBA), _QUIET_DBA)
        assumed.append(f"a normal voice that speaks up in {source.noise_dba:g} dBA of noise")
    quiet = source.quiet_spl if source.quiet_spl is not None else _spoken(source.quiet)
    if quiet is None:
        quiet = loud
        assumed.append(_NOT_QUIETER)
    away = distance_m if distance_m is not None else source.distance_m
    if away is None:
        return NotKnown(f"how far {name} is from its microphone is not written; write its distance")
    away = max(float(away), NEAREST_M)
    by_distance = at_distance_db(away)
    return SourceLevel(loud + by_distance, min(quiet, loud) + by_distance, crest, "dB SPL", tuple(assumed))


def _spoken(effort: str | None) -> float | None:
    return None if effort is None else effort_dba(effort)

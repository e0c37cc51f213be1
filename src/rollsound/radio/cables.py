"""What cables, connectors and splitters take: ``facts/radio_cables.toml`` and the show's own cables before it."""

from __future__ import annotations

import functools

import numpy as np

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of, read_rows, row_of, with_own
from rollsound.radio.elementwise import Array, Values, above_zero, elementwise, not_negative
from rollsound.radio.model import Cable, RadioPart


@functools.cache
def _table() -> dict[str, Cable]:
    return read_rows("radio_cables", "cable", Cable)


def cables(radio: RadioPart | None = None) -> dict[str, Cable]:
    """All cables by id; one of the show goes before the table's with its id."""
    return with_own(_table(), radio.cables if radio else ())


def cable(radio: RadioPart | None, id: str) -> Cable:
    """The cable of an id.

    Raises
    ------
    InputError
        when there is none
    """
    return row_of(cables(radio), id, "antenna cable")


def loss_db(cable: Cable, length_m: float, freq_hz: float) -> float:
    """Loss of a length of cable, without its connectors."""
    return per_100_m_db(cable.k1, cable.k2, freq_hz) * float(not_negative(length_m, "a length of cable")) / 100


@elementwise
def per_100_m_db(k1: Array, k2: Array, freq_hz: Array) -> Values:
    """Loss of 100 m: k1·√f + k2·f, f in MHz.

    Source: usual form of cable makers: loss of the skin and of the dielectric.
    """
    freq_mhz = above_zero(freq_hz, "a frequency") / 1e6
    return k1 * np.sqrt(freq_mhz) + k2 * freq_mhz


def from_two_points(
    first_hz: float, first_db_100m: float, second_hz: float, second_db_100m: float
) -> tuple[float, float]:
    """k1 and k2 of a cable measured at two frequencies.

    Parameters
    ----------
    first_db_100m, second_db_100m
        loss in dB of 100 m

    Raises
    ------
    InputError
        when the frequencies are the same, or no cable loses like that
    """
    f1, f2 = (float(above_zero(f, "a frequency")) / 1e6 for f in (first_hz, second_hz))
    if abs(f1 - f2) < 1e-6 * max(f1, f2):
        raise InputError("the two points lie at one frequency; measure the second one well away from it")
    k2 = (second_db_100m / f2**0.5 - first_db_100m / f1**0.5) / (f2**0.5 - f1**0.5)
    k1 = first_db_100m / f1**0.5 - k2 * f1**0.5
    if not (k1 >= 0 and k2 >= 0):
        raise InputError(
            f"no cable loses {first_db_100m:g} dB at {f1:g} MHz and {second_db_100m:g} dB at {f2:g} MHz in 100 m: the "
            "loss rises with frequency, faster than its root and slower than in proportion; look at the readings again"
        )
    return k1, k2


def connectors_db(number: int, freq_hz: float = 600e6, *, planning: bool = False) -> float:
    """What so many connectors take.

    Parameters
    ----------
    planning
        take the cautious figures of licensing authorities, which rise with frequency
    """
    rows = table("radio_cables")
    if not planning:
        return number * float(rows["about"]["connector_db"])
    points = np.asarray(rows["about"]["connector_planning"], float)
    return number * float(np.interp(freq_hz / 1e6, points[:, 0], points[:, 1]))


def splitter_db(ways: int, excess_db: float | None = None) -> float:
    """What a passive splitter takes from each way: 10 log N and a little more; nothing for one way.

    Raises
    ------
    InputError
        when there is no way at all
    """
    if ways < 1:
        raise InputError(f"a splitter has {ways} ways; it needs one or more")
    excess = float(table("radio_cables")["about"]["splitter_excess_db"]) if excess_db is None else excess_db
    return 10 * float(np.log10(ways)) + (excess if ways > 1 else 0.0)


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody has verified."""
    return notes_of("radio_cables")

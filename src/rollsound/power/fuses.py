"""Fuses: large enough for the load, small enough for the wire, able to break a short circuit."""

from __future__ import annotations

from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.facts import table


def standard_a() -> tuple[float, ...]:
    """Standard values of blade fuses."""
    return tuple(float(each) for each in table("power_conductors")["fuse"]["standard_a"])


def least_a(current_a: float) -> float:
    """The least rating for a continuous current: 1.25 times.

    Source: NEC 210.20(A) and 215.3, from memory.
    """
    return float(current_a * table("power_conductors")["fuse"]["over_continuous"])


@dataclass(frozen=True)
class FuseChoice:
    """The fuse to take, or why there is none."""

    fuse_a: float | None
    least_a: float
    most_a: float | None
    """What the wire bears; none where no table has it."""
    sentence: str


def choose(worst_current_a: float, carries_a: float | None) -> FuseChoice:
    """The smallest standard fuse that bears a load and still guards its wire.

    Parameters
    ----------
    worst_current_a
        at the lowest voltage of the battery, where a load of constant power takes most
    carries_a
        what the wire carries; none when not known
    """
    if worst_current_a < 0:
        raise InputError(f"a current of {worst_current_a:g} A cannot be; write 0 A or more")
    least = least_a(worst_current_a)
    fuse = next((each for each in standard_a() if each >= least - 1e-9), None)
    if fuse is None:
        sentence = f"No blade fuse bears {worst_current_a:.1f} A for long; divide the load over several wires."
    elif carries_a is not None and fuse > carries_a:
        sentence = (
            f"{worst_current_a:.1f} A ask for a fuse of {fuse:g} A, but the wire bears {carries_a:g} A; take a "
            "thicker wire."
        )
        fuse = None
    else:
        bears = f"the wire bears {carries_a:g} A" if carries_a is not None else "no table says what the wire bears"
        sentence = f"{fuse:g} A: at least {least:.1f} A for {worst_current_a:.1f} A without end, and {bears}."
    return FuseChoice(fuse, least, carries_a, sentence)

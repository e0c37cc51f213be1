"""Peukert's law in its two forms, which are often taken for each other: what lead-acid gives at a greater current."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rollsound.errors import InputError


def hours_from_rated(capacity_ah: float, rated_hours: float, exponent: float, current_a: float) -> float:
    """Hours at a current, of a battery whose ampere-hours are stated for ``rated_hours``: H · (C / (I·H))^k.

    Source: Peukert's law, rated-hours form.
    """
    _all_above_zero(capacity_ah, rated_hours, exponent, current_a)
    return float(rated_hours * (capacity_ah / (current_a * rated_hours)) ** exponent)


def capacity_at_ah(capacity_ah: float, rated_hours: float, exponent: float, current_a: float) -> float:
    """Ampere-hours that it gives at a current."""
    return current_a * hours_from_rated(capacity_ah, rated_hours, exponent, current_a)


def hours_from_one_ampere(peukert_capacity: float, exponent: float, current_a: float) -> float:
    """Hours at a current, of a battery whose capacity is stated at one ampere: Cp / I^k.

    Source: Peukert's law, one-ampere form; nearly no data sheet states Cp.
    """
    _all_above_zero(peukert_capacity, exponent, current_a)
    return float(peukert_capacity / current_a**exponent)


def one_ampere_capacity(capacity_ah: float, rated_hours: float, exponent: float) -> float:
    """The capacity at one ampere of a battery rated over hours: C · (C/H)^(k−1)."""
    _all_above_zero(capacity_ah, rated_hours, exponent)
    return float(capacity_ah * (capacity_ah / rated_hours) ** (exponent - 1))


def exponent_of(first_a: float, first_h: float, second_a: float, second_h: float) -> float:
    """The exponent from two discharges: ln(t1/t2) / ln(I2/I1).

    Raises
    ------
    InputError
        when both are at the same current
    """
    _all_above_zero(first_a, first_h, second_a, second_h)
    if first_a == second_a:
        raise InputError("two discharges at the same current tell no exponent; take a second current")
    return math.log(first_h / second_h) / math.log(second_a / first_a)


@dataclass(frozen=True)
class Forms:
    """What each form gives for the same numbers, and which one was asked for."""

    rated_h: float
    one_ampere_h: float
    sentence: str


def both_forms(capacity: float, rated_hours: float, exponent: float, current_a: float) -> Forms:
    """The same numbers in both forms, with a sentence that says how far the wrong one would lead."""
    rated = hours_from_rated(capacity, rated_hours, exponent, current_a)
    one = hours_from_one_ampere(capacity, exponent, current_a)
    sentence = (
        f"Taken as {capacity:g} Ah rated over {rated_hours:g} h, {current_a:g} A last {rated:.1f} h; taken as a "
        f"capacity stated at 1 A, {one:.1f} h. A label with hours on it means the first."
    )
    return Forms(rated, one, sentence)


def follows(
    capacity_ah: float,
    rated_hours: float,
    exponent: float,
    currents_a: tuple[float, ...],
    printed_ah: tuple[float, ...],
    within_ah: float = 0.5,
) -> bool:
    """Whether a printed table of capacities by current follows the exponent that it says it has."""
    return all(
        abs(capacity_at_ah(capacity_ah, rated_hours, exponent, current) - printed) <= within_ah
        for current, printed in zip(currents_a, printed_ah, strict=True)
    )


def _all_above_zero(*values: float) -> None:
    if any(not (value > 0 and math.isfinite(value)) for value in values):
        raise InputError("Peukert's law needs capacity, hours, exponent and current above 0")

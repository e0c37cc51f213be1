"""How proofs of the kit part are told: findings with their place in the plan."""

from __future__ import annotations

from rollsound.finding import AboutPlan, Area

finding = AboutPlan(Area.SIGNAL)
"""Places begin with their part: a battery of the power part travels as well."""


def kilograms(mass_kg: float) -> str:
    """A mass as one says it: grams below a kilogram, and no more digits than a scale gives."""
    if 0 < mass_kg < 0.9995:
        return f"{mass_kg * 1000:.0f} g"
    text = f"{mass_kg:.1f}".removesuffix(".0") if mass_kg < 99.95 else f"{mass_kg:,.0f}"
    return f"{text} kg"


def watt_hours(content_wh: float) -> str:
    """A battery's content; with two decimals where a limit could hang on them."""
    text = f"{content_wh:.2f}".rstrip("0").rstrip(".")
    return f"{text} Wh"


_MORE = {"battery": "batteries", "bank": "banks", "device": "devices", "person": "people"}


def several(number: int, noun: str) -> str:
    """A number of things, the word that tells of it wherever it stands: ``3 people``, ``3 devices with a battery``."""
    words = noun.split()
    at = next((n for n, word in enumerate(words) if word in _MORE), None)
    if number != 1 and at is not None:
        words[at] = _MORE[words[at]]
    return f"{number} {' '.join(words)}" if at is not None or number == 1 else f"{number} {noun}s"

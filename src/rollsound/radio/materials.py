"""What walls take: ``facts/radio_materials.toml`` and the show's own materials before it."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.radio.elementwise import Array, Values, above_zero, elementwise, not_negative
from rollsound.radio.model import RadioPart
from rollsound.radio.units import wavelength_m

STEEPEST_DEG = 85.0
"""Nearer to grazing, a real wall is gone round or left out, and the slab of the formula is no picture of it."""


@dataclass(frozen=True)
class Electric:
    """εr = a·f^b and σ = c·f^d in S/m, f in GHz."""

    id: str
    a: float
    b: float
    c: float
    d: float
    freq_ghz: tuple[float, float]
    """Where the figures were found; elsewhere they are an extrapolation."""

    def permittivity(self, freq_hz: float) -> complex:
        """Relative permittivity; its imaginary part, below 0, is the loss: 17.98·σ/f(GHz)."""
        eps, sigma = self.at(freq_hz)
        return complex(eps, -17.98 * sigma / (freq_hz / 1e9))

    def at(self, freq_hz: float) -> tuple[float, float]:
        """εr and σ in S/m."""
        freq_ghz = float(above_zero(freq_hz, "a frequency")) / 1e9
        return self.a * freq_ghz**self.b, self.c * freq_ghz**self.d


@dataclass(frozen=True)
class WallMaterial:
    """What a wall is made of: a slab of one material, or a loss that is known whole."""

    id: str
    name: str
    source: str
    status: str
    electric: Electric | None = None
    thickness_m: float = 0.0
    base_db: float = 0.0
    rise_db_ghz: float = 0.0

    def loss_db(self, freq_hz: float, angle_deg: float = 0.0) -> float:
        """What is taken from a signal that comes ``angle_deg`` away from straight through."""
        return loss_db(self, freq_hz, angle_deg)

    def note(self, freq_hz: float) -> str:
        """What to tell of the figure at a frequency; empty when there is nothing."""
        if self.electric is None or self.electric.freq_ghz[0] <= freq_hz / 1e9 <= self.electric.freq_ghz[1]:
            return ""
        low, high = self.electric.freq_ghz
        return (
            f"{self.name}: the figures are given for {low:g} to {high:g} GHz; at {freq_hz / 1e6:g} MHz they are an "
            "extrapolation."
        )


@functools.cache
def electric() -> dict[str, Electric]:
    """Electric figures of building materials by id."""
    rows = table("radio_materials")["electric"]
    return {name: Electric(name, **row | {"freq_ghz": tuple(row["freq_ghz"])}) for name, row in rows.items()}


@functools.cache
def _table() -> dict[str, WallMaterial]:
    return {name: _wall(name, row) for name, row in table("radio_materials")["wall"].items()}


def _wall(name: str, row: Mapping[str, Any]) -> WallMaterial:
    if "electric" in row:
        rows = table("radio_materials")["about"]
        source = f"{rows['electric_source']}; {rows['slab_source']}"
        return WallMaterial(
            name, row["name"], source, rows["electric_status"], electric()[row["electric"]], row["thickness_m"]
        )
    base = row.get("fixed_db", row.get("base_db"))
    return WallMaterial(
        name, row["name"], row["source"], row["status"], base_db=base, rise_db_ghz=row.get("rise_db_ghz", 0.0)
    )


def materials(radio: RadioPart | None = None) -> dict[str, WallMaterial]:
    """All that walls are made of, by id; a material of the show goes before the table's with its id."""
    own = {
        each.id: WallMaterial(each.id, each.name or each.id, each.source, each.status, base_db=each.loss_db)
        for each in (radio.materials if radio else ())
    }
    return {**_table(), **own}


def material(radio: RadioPart | None, id: str) -> WallMaterial:
    """The material of an id.

    Raises
    ------
    InputError
        when there is none
    """
    found = materials(radio)
    if id not in found:
        raise InputError(
            f"'{id}' is no material of a wall; there are: {', '.join(sorted(found))}; or write your own in the plan"
        )
    return found[id]


def loss_db(material: WallMaterial, freq_hz: float, angle_deg: float = 0.0, thickness_m: float | None = None) -> float:
    """What a wall takes from a signal through it.

    Parameters
    ----------
    angle_deg
        away from straight through; only a slab's loss depends on it
    thickness_m
        of a slab, in place of the table's
    """
    if material.electric is None:
        return material.base_db + material.rise_db_ghz * freq_hz / 1e9
    eta = material.electric.permittivity(freq_hz)
    thick = material.thickness_m if thickness_m is None else thickness_m
    return slab_db(eta.real, eta.imag, thick, freq_hz, min(abs(angle_deg), STEEPEST_DEG))


@elementwise
def slab_db(
    eta_real: Array, eta_imaginary: Array, thickness_m: Array, freq_hz: Array, angle_deg: Array | float = 0.0,
    across: str = "electric",
) -> Values:  # fmt: skip
    """Loss through one even slab between air and air, with all reflections inside it.

    Parameters
    ----------
    eta_real, eta_imaginary
        relative permittivity, its imaginary part 0 or below
    angle_deg
        away from straight through
    across
        which field lies along the wall: ``electric`` (TE) or ``magnetic`` (TM)

    Raises
    ------
    InputError
        when a thickness is below 0, or ``across`` is neither

    Source: ITU-R P.2040-3, eq. 37, 43 and 44.
    """
    if across not in ("electric", "magnetic"):
        raise InputError(f"'{across}' is neither electric nor magnetic: name the field that lies along the wall")
    thick = not_negative(thickness_m, "a thickness")
    eta = np.asarray(eta_real, float) + 1j * np.asarray(eta_imaginary, float)
    sine = np.sin(np.radians(np.asarray(angle_deg, float)))
    cosine = np.sqrt(1 - sine**2)
    inside = np.sqrt(eta - sine**2)
    if across == "electric":
        r = (cosine - inside) / (cosine + inside)
    else:
        r = (eta * cosine - inside) / (eta * cosine + inside)
    q = 2 * np.pi * thick / np.asarray(wavelength_m(freq_hz)) * inside
    through = (1 - r**2) * np.exp(-1j * q) / (1 - r**2 * np.exp(-2j * q))
    with np.errstate(divide="ignore"):
        return np.asarray(-20 * np.log10(np.abs(through)))


@elementwise
def bulk_db_m(eps: Array, sigma_s_m: Array) -> Values:
    """Loss of one metre inside a material that loses little: 1636·σ/√ε.

    Source: ITU-R P.2040, 2.1, from memory.
    """
    return 1636 * sigma_s_m / np.sqrt(above_zero(eps, "a permittivity"))


@elementwise
def skin_depth_m(sigma_s_m: Array, freq_hz: Array) -> Values:
    """How deep a field goes into a good conductor: 1/√(π·f·μ0·σ).

    Source: textbook form.
    """
    return 1 / np.sqrt(np.pi * above_zero(freq_hz, "a frequency") * 4e-7 * np.pi * sigma_s_m)


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody has verified."""
    return notes_of("radio_materials")

"""Wind on masts: the force of a gust, the moment at the foot, and the weight that keeps a tripod standing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of

_TABLE = "kit_wind"


def _figure(name: str) -> float:
    return float(table(_TABLE)["figures"][name])


@dataclass(frozen=True)
class Face:
    """What the wind meets: an area, its drag, and the height of its middle over the ground."""

    area_m2: float
    height_m: float
    drag: float


def pressure_pa(gust_ms: float, density_kg_m3: float | None = None) -> float:
    """Pressure of a gust, ``0.5·rho·v²``.

    Raises
    ------
    InputError
        when the speed is negative
    """
    if not gust_ms >= 0:
        raise InputError(f"a gust of {gust_ms:g} m/s is none; write its speed")
    return 0.5 * (density_kg_m3 if density_kg_m3 is not None else _figure("density_kg_m3")) * gust_ms**2


def force_n(face: Face, gust_ms: float) -> float:
    """Force of a gust on one face."""
    return pressure_pa(gust_ms) * face.drag * face.area_m2


def moment_nm(faces: Iterable[Face], gust_ms: float) -> float:
    """Moment of a gust at the foot."""
    return sum(force_n(face, gust_ms) * face.height_m for face in faces)


def mast(height_m: float, width_m: float, drag: float | None = None) -> Face:
    """A mast as the wind meets it: its middle stands at half its height."""
    return Face(height_m * width_m, height_m / 2, drag if drag is not None else _figure("cylinder_drag"))


def needed_kg(moment: float, foot_m: float, safety: float | None = None) -> float:
    """The mass, mast and all, that keeps a tripod from going over.

    Parameters
    ----------
    foot_m
        from the middle to a foot; it tips over the line between two feet, which is half as far

    Raises
    ------
    InputError
        when the foot has no length
    """
    if not foot_m > 0:
        raise InputError("a tripod's foot needs a length over 0; write it under 'foot'")
    factor = _figure("safety") if safety is None else safety
    return factor * moment / (foot_m / 2) / _figure("gravity_m_s2")


def plate_drag() -> float:
    """Drag of a flat plate, for what says none."""
    return _figure("plate_drag")


def beaufort_ms(force: float) -> float:
    """Mean wind of a force on Beaufort's scale."""
    return _figure("beaufort_factor") * float(force**1.5)


def wind_source() -> str:
    """Where the figures come from."""
    row = table(_TABLE)["figures"]
    return f"{row['source']} ({row['status']})"


def notes() -> tuple[str, ...]:
    """What the reader of these figures must be told."""
    return notes_of(_TABLE)

"""What each wall of a ground takes from a signal straight through it, at any frequency."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.radio.materials import WallMaterial, material, materials
from rollsound.radio.model import Ground, RadioPart
from rollsound.radio.reach.answer import Term


@dataclass(frozen=True)
class WallLoss:
    """One wall: a loss written at it, or else its material's. Paths that cross it at a slant count as straight ones."""

    id: str
    material: WallMaterial | None
    """None where it is not known, and not asked for because the loss is written."""
    written_db: float | None

    def loss_db(self, freq_hz: float) -> float:
        """What it takes, 0 dB or more."""
        if self.written_db is not None:
            return self.written_db
        assert self.material is not None
        return _material_db(self.material, freq_hz)

    def term(self, freq_hz: float) -> Term:
        """One crossing of it."""
        name = f"wall {self.id}" + (f", {self.material.name}" if self.material is not None else "")
        if self.written_db is not None or self.material is None:
            assert self.written_db is not None
            return Term(f"wall-{self.id}", name, -self.written_db, "as written at the wall, or fitted", "own")
        note = self.material.note(freq_hz)
        return Term(f"wall-{self.id}", name, -self.loss_db(freq_hz), self.material.source, self.material.status, note)


# A slab takes a while to reckon, and a ground has a hundred walls of three materials.
@functools.lru_cache(maxsize=4096)
def _material_db(material: WallMaterial, freq_hz: float) -> float:
    return material.loss_db(freq_hz)


def walls_at(radio: RadioPart, ground: Ground) -> tuple[WallLoss, ...]:
    """The walls of a ground, in the order of the plan.

    Raises
    ------
    InputError
        when a material is asked for and unknown, or a wall is said to give more than it gets
    """
    known = materials(radio)
    found = tuple(
        WallLoss(wall.id, material(radio, wall.material), None)
        if wall.loss_db is None
        else WallLoss(wall.id, known.get(wall.material), float(wall.loss_db))
        for wall in ground.walls
    )
    for wall in found:
        if not wall.loss_db(ground.frequency_hz) >= 0:
            raise InputError(
                f"wall '{wall.id}' of the ground '{ground.id}' has a loss of {wall.loss_db(ground.frequency_hz):g} dB; "
                "a wall takes 0 dB or more"
            )
    return found

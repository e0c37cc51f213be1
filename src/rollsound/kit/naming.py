"""Names within the kit part: what they name must be there, and what is written as text must be readable."""

from __future__ import annotations

from rollsound.kit.kinds import models_wrong
from rollsound.kit.lifting import slope_of
from rollsound.kit.model import KitPart
from rollsound.wrong import Wrong, not_there


def names_wrong(kit: KitPart) -> list[Wrong]:
    """Kinds, loads and masts that are not there, and ramps that cannot be read."""
    items = {item.id for item in kit.items}
    cases = {item.travels_in for item in kit.items if item.travels_in}
    found = models_wrong(kit)
    lower = {case.casefold() for case in cases}
    for move in kit.moves:
        if move.load.casefold() not in lower and move.load not in items:
            found.append(Wrong(("kit", "moves", move.id, "load"), not_there(move.load, "the load", cases | items)))
        if move.slope and slope_of(move.slope) is None:
            told = f"is '{move.slope[:40]}'; write rise to run, such as 1:12"
            found.append(Wrong(("kit", "moves", move.id, "slope"), told))
    for mast in kit.raised:
        found += [
            Wrong(("kit", "raised", mast.id, field), not_there(name, "the item", items))
            for field, names in (("item", (mast.item,)), ("carries", mast.carries))
            for name in names
            if name not in items
        ]
    return found

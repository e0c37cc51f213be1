"""What the kit part can be asked: is all there that it names, can it be moved, may it fly, will customs take it.

Every check that ran answers, with a fine finding where it holds; where there is nothing to prove it stays silent.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping

from rollsound.finding import Finding, Weight
from rollsound.kit import carnet
from rollsound.kit.air_proofs import Travelling, air_proofs, travelling
from rollsound.kit.carnet import GeneralList, general_list
from rollsound.kit.handling_proofs import handling_proofs
from rollsound.kit.kinds import kinds_of, resolved
from rollsound.kit.model import Kind, KitPart
from rollsound.kit.naming import names_wrong
from rollsound.kit.telling import finding
from rollsound.kit.totals import totals
from rollsound.quantities import count


def proofs(
    kit: KitPart,
    *,
    date: dt.date | None = None,
    batteries: Iterable[Travelling] = (),
    listed: bool | None = None,
) -> list[Finding]:
    """Every proof over the kit part, each with at least one finding; ``refs`` are ``plan#`` and a JSON Pointer.

    Parameters
    ----------
    date
        of the flight, if there is one
    batteries
        further ones, such as those of the power part
    listed
        whether the list for customs is held against its rules; when None, if the kit says anything for it
    """
    further = list(batteries)
    if not (kit.items or kit.moves or kit.raised or further):
        return []
    kinds = kinds_of(kit)
    result: list[Finding] = list(_names(kit))
    if kit.items:
        result += handling_proofs(kit, kinds, totals(kit, kinds))
    result += air_proofs([*travelling(kit, kinds), *further], kit.travellers, date)
    result += _contents_unknown(kit, kinds)
    if listed or (listed is None and carnet.begun(kit)):
        result += carnet_proofs(kit, general_list(kit, kinds))
    return result


def carnet_proofs(kit: KitPart, made: GeneralList) -> Iterator[Finding]:
    """What customs would refuse, or that the list stands."""
    names = {item.id: item.name for item in kit.items}
    for flaw in made.flaws:
        yield finding(
            flaw.weight,
            names[flaw.item],
            "customs list",
            flaw.sentence,
            remedy=flaw.remedy,
            at=("kit", "items", flaw.item, flaw.field),
            source=carnet.source(),
        )
    if not made.flaws and made.lines:
        yield finding(
            Weight.FINE,
            "customs list",
            "customs list",
            f"The list for customs stands: {count(len(made.lines), 'line')}, {count(made.pieces, 'piece')}, "
            f"{made.value:,.2f} {made.currency}.",
            why="Issuing bodies differ: have yours look at it before it is printed.",
            source=carnet.source(),
            numbers={"lines": float(len(made.lines)), "pieces": float(made.pieces), "mass_kg": made.mass_kg},
        )


def _names(kit: KitPart) -> Iterator[Finding]:
    wrong = names_wrong(kit)
    for each in wrong:
        yield finding(
            Weight.STOP,
            each.place,
            "kit list",
            f"The kit, {each.place}: {each.sentence}.",
            remedy="Correct it on the page Plan.",
            at=each.at,
        )
    if not wrong:
        yield finding(Weight.FINE, "the kit", "kit list", "All that the kit names is there.", at=("kit",))


def _contents_unknown(kit: KitPart, kinds: Mapping[str, Kind]) -> Iterator[Finding]:
    for item in kit.items:
        made = resolved(item, kinds)
        if item.count and made.battery is None and "batter" in made.category.casefold():
            yield finding(
                Weight.WATCH,
                item.name,
                "battery by air",
                f"{item.name} is a battery, and the kit does not say what it holds.",
                remedy="Write 'battery' with chemistry, voltage and capacity, or name its kind under 'model'.",
                at=("kit", "items", item.id, "battery"),
            )

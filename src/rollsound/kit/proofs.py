"""What the kit part can be asked: is all there that it names, can it be moved, may it fly, will customs take it.

Every check that ran answers, with a fine finding where it holds; where there is nothing to prove it stays silent.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping

from rollsound.finding import Finding, Ref, Weight
from rollsound.kit import carnet
from rollsound.kit.air_proofs import Travelling, air_proofs, travelling
from rollsound.kit.carnet import Flaw, GeneralList, general_list
from rollsound.kit.handling_proofs import handling_proofs
from rollsound.kit.kinds import kinds_of, resolved
from rollsound.kit.model import Kind, KitPart
from rollsound.kit.naming import names_wrong
from rollsound.kit.telling import finding
from rollsound.kit.totals import totals
from rollsound.quantities import count
from rollsound.wrong import pointer

MOST_APART = 3
"""Items with one flaw in common, above which they are told together."""
_PLURAL = re.compile(r"\b(?:has|is|goes)\b")


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
        result += carnet_proofs(general_list(kit, kinds))
    return result


def carnet_proofs(made: GeneralList) -> Iterator[Finding]:
    """What customs would refuse, or that the list stands."""
    alike: dict[tuple[Weight, str, str], list[Flaw]] = {}
    for flaw in made.flaws:
        alike.setdefault((flaw.weight, flaw.field, flaw.words), []).append(flaw)
    for flaws in alike.values():
        told = [flaws] if len(flaws) > MOST_APART else [[flaw] for flaw in flaws]
        yield from (_flawed(each) for each in told)
    if not made.flaws and made.lines:
        yield finding(
            Weight.FINE,
            "customs list",
            "customs list",
            f"The list for customs stands: {count(len(made.lines), 'line')}, {count(made.pieces, 'piece')}, "
            f"{made.value:,.2f} {made.currency}.",
            why="Issuing bodies differ: have yours look at it before it is printed.",
            source=carnet.list_source(),
            numbers={"lines": float(len(made.lines)), "pieces": float(made.pieces), "mass_kg": made.mass_kg},
        )


def _flawed(flaws: list[Flaw]) -> Finding:
    """One flaw, or one that many items share."""
    first = flaws[0]
    what = first.sentence
    if len(flaws) > 1:
        words = _PLURAL.sub(lambda found: {"has": "have", "is": "are", "goes": "go"}[found[0]], first.words)
        named = "; ".join(flaw.name for flaw in flaws[:MOST_APART])
        what = f"{count(len(flaws), 'item')} {words}: {named}; and {len(flaws) - MOST_APART} more."
    return finding(
        first.weight,
        first.name if len(flaws) == 1 else "items",
        "customs list",
        what,
        remedy=first.remedy,
        at=("kit", "items", first.item, first.field),
        source=carnet.list_source(),
        numbers={"items": float(len(flaws))},
    ).model_copy(update={"refs": tuple(Ref(path=f"plan#{pointer(('kit', 'items', f.item, f.field))}") for f in flaws)})


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

"""What is wrong with a power part beyond its form: names that point at nothing, sizes and contents that cannot be."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from rollsound.errors import InputError
from rollsound.power.chemistry import chemistries
from rollsound.power.cold import points_of
from rollsound.power.contents import contents_of
from rollsound.power.model import Battery, Feeding, Phase, PowerPart, Supply
from rollsound.power.wires import wire_wrong
from rollsound.wrong import Wrong, not_there

MOST_IN_A_ROW = 20


def names_wrong(
    power: PowerPart,
    *,
    piece_ids: Collection[str] = (),
    item_ids: Collection[str] = (),
    site_ids: Collection[str] = (),
    day_ids: Collection[str] = (),
) -> tuple[Wrong, ...]:
    """Every mistake, each with its place.

    Parameters
    ----------
    piece_ids, item_ids, site_ids, day_ids
        what the plan has of each
    """
    found: list[Wrong] = []
    for battery in power.batteries:
        found += _battery(battery)
    batteries = [battery.id for battery in power.batteries]
    supplies = [supply.id for supply in power.supplies]
    for supply in power.supplies:
        found += _supply(supply, batteries, supplies, site_ids, item_ids)
        for feeding in supply.feeds:
            found += _feeding(supply, feeding, piece_ids, item_ids)
    found += _too_deep(power)
    for phase in power.phases:
        found += _phase(phase, supplies, day_ids)
    for socket in power.sockets:
        if socket.site and socket.site not in site_ids:
            found.append(_wrong(not_there(socket.site, "the site", site_ids), "sockets", socket.id, "site"))
    for row in power.cold:
        if row.id not in chemistries():
            found.append(_wrong(f"is no chemistry; there are: {', '.join(chemistries())}", "cold", row.id))
        else:
            found += _shares(row.share, "cold", row.id, "share")
    return tuple(dict.fromkeys(found))


def _wrong(sentence: str, *at: str) -> Wrong:
    return Wrong(("power", *at), sentence)


def _shares(shares: dict[str, float], *at: str) -> Iterator[Wrong]:
    try:
        points_of(shares)
    except InputError as error:
        yield _wrong(error.sentence, *at)


def _battery(battery: Battery) -> Iterator[Wrong]:
    at = ("batteries", battery.id)
    try:
        contents_of(battery)
    except InputError as error:
        yield _wrong(error.sentence, *at)
    if battery.cold_factor:
        yield from _shares(battery.cold_factor, *at, "cold_factor")
    for name, volts in (("full", battery.full_v), ("cutoff", battery.cutoff_v)):
        if volts is not None and volts <= 0:
            yield _wrong("is 0 V or less; write what its data sheet has", *at, name)
    if battery.cutoff_v is not None and battery.voltage_v is not None and battery.cutoff_v >= battery.voltage_v:
        yield _wrong(
            f"is taken off at {battery.cutoff_v:g} V, which is not under its nominal {battery.voltage_v:g} V",
            *at,
            "cutoff",
        )


def _supply(
    supply: Supply,
    batteries: Collection[str],
    supplies: Collection[str],
    sites: Collection[str],
    items: Collection[str],
) -> Iterator[Wrong]:
    at = ("supplies", supply.id)
    if supply.battery and supply.battery not in batteries:
        yield _wrong(not_there(supply.battery, "the batteries", batteries), *at, "battery")
    if supply.from_supply and supply.from_supply not in supplies:
        yield _wrong(not_there(supply.from_supply, "the supply", supplies), *at, "from_supply")
    if supply.site and supply.site not in sites:
        yield _wrong(not_there(supply.site, "the site", sites), *at, "site")
    if supply.item and supply.item not in items:
        yield _wrong(not_there(supply.item, "the item", items), *at, "item")
    named = [
        word
        for word, there in (
            ("a battery", supply.battery),
            ("another supply", supply.from_supply),
            ("the mains", supply.mains),
        )
        if there
    ]
    if len(named) > 1:
        yield _wrong(f"runs on {' and '.join(named)} at once; name one of them, or write two supplies", *at)
    if supply.output_v is not None and supply.output_v <= 0:
        yield _wrong("gives out 0 V or less; write its output, for example 12 V", *at, "output")
    if supply.wire is not None and (sentence := wire_wrong(supply.wire)):
        yield _wrong(sentence, *at, "wire")


def _too_deep(power: PowerPart) -> Iterator[Wrong]:
    """Supplies behind so many others that nobody could have wired them."""
    above = {supply.id: supply.from_supply for supply in power.supplies}
    for id in above:
        way, here = {id}, above[id]
        while here and here not in way:
            way.add(here)
            here = above.get(here, "")
        if len(way) > MOST_IN_A_ROW and not here:
            sentence = f"stands behind more than {MOST_IN_A_ROW} other supplies; feed it more directly"
            yield _wrong(sentence, "supplies", id, "from_supply")


def _feeding(supply: Supply, feeding: Feeding, pieces: Collection[str], items: Collection[str]) -> Iterator[Wrong]:
    at = ("supplies", supply.id, "feeds", feeding.id)
    if feeding.piece and feeding.piece not in pieces:
        yield _wrong(not_there(feeding.piece, "the piece of the rig", pieces), *at, "piece")
    if feeding.item and feeding.item not in items:
        yield _wrong(not_there(feeding.item, "the item of the kit", items), *at, "item")
    if not feeding.piece and not feeding.item and feeding.draw_w is None:
        yield _wrong("names neither a piece, an item nor a draw; write one, for example draw: 12 W", *at)
    if feeding.wire is not None and (sentence := wire_wrong(feeding.wire)):
        yield _wrong(sentence, *at, "wire")


def _phase(phase: Phase, supplies: Collection[str], days: Collection[str]) -> Iterator[Wrong]:
    at = ("phases", phase.id)
    for name in phase.supplies:
        if name not in supplies:
            yield _wrong(not_there(name, "the supply", supplies), *at, "supplies")
    if phase.day and phase.day not in days:
        yield _wrong(not_there(phase.day, "the day", days), *at, "day")
    if phase.from_ == phase.to:
        yield _wrong(f"begins and ends at {phase.from_}; write when it ends", *at, "to")


def without_wrong(power: PowerPart, wrong: Collection[Wrong]) -> PowerPart:
    """The part without those entries that are wrong, so that the rest can still be worked out."""
    bad = {each.at for each in wrong}

    def fine(*at: str) -> bool:
        return not any(each[: len(at) + 1] == ("power", *at) for each in bad)

    supplies = []
    for supply in power.supplies:
        own = [each for each in bad if each[:3] == ("power", "supplies", supply.id) and each[3:4] != ("feeds",)]
        if not own:
            feeds = tuple(each for each in supply.feeds if fine("supplies", supply.id, "feeds", each.id))
            supplies.append(supply.model_copy(update={"feeds": feeds}))
    return power.model_copy(
        update={
            "batteries": tuple(each for each in power.batteries if fine("batteries", each.id)),
            "supplies": tuple(supplies),
            "phases": tuple(each for each in power.phases if fine("phases", each.id)),
            "sockets": tuple(each for each in power.sockets if fine("sockets", each.id)),
            "cold": tuple(each for each in power.cold if fine("cold", each.id)),
        }
    )

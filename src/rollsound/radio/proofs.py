"""What the radio part of the plan can be asked: are the carriers clean, legal and clear, and is everybody heard.

Every check that ran answers, with a fine finding where it holds; where there is nothing to prove it stays silent.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from rollsound.errors import InputError
from rollsound.finding import Finding, Weight
from rollsound.quantities import count, several
from rollsound.radio.asking import Asking
from rollsound.radio.carriers.answer import Audit, Hold, Limit
from rollsound.radio.carriers.task import Task
from rollsound.radio.chains import chains
from rollsound.radio.kinds import transmitter
from rollsound.radio.legal import region_of
from rollsound.radio.levels import ProductLevel, product_levels
from rollsound.radio.model import RadioPart, Transmitter
from rollsound.radio.naming import names_wrong
from rollsound.radio.neighbour_proofs import neighbour_proofs
from rollsound.radio.raster import whole
from rollsound.radio.reach_proofs import reach_proofs
from rollsound.radio.regions import Verdict, verdict
from rollsound.radio.rules import SOURCE as PRACTICE
from rollsound.radio.spare_proofs import spare_proofs
from rollsound.radio.telling import FORMS, LICENCE, finding, form_of, hold_in_words, khz, mhz

FAR_HZ = 1_000_000_000
"""A margin from here on means that nothing comes near."""
MOST_TOLD = 20
_PLACES = (Limit.RANGE, Limit.STEP, Limit.WINDOW)


def proofs(
    radio: RadioPart,
    asking: Asking,
    audit: Audit | None = None,
    carriers_hz: Mapping[str, int] | None = None,
    *,
    tasks: Sequence[Task] = (),
    site_ids: Collection[str] | None = None,
    reach: bool = True,
    asked_for: Collection[str] | None = None,
) -> list[Finding]:
    """Every proof over the radio part, each with at least one finding; ``refs`` are ``plan#`` and a JSON Pointer.

    Parameters
    ----------
    audit
        of the carriers; what needs one is left out without it
    carriers_hz
        those of the plan when None
    tasks
        the questions of each site alone, where the audit is of several; the whole question when there are none
    site_ids
        ids of the plan's sites, for names of sites that are not there
    reach
        whether acting areas and walking lines are gone over
    asked_for
        ids of the transmitters that something is said of, such as those of one site; all when None
    """
    if not (radio.transmitters or radio.receivers or radio.grounds or radio.control):
        return []
    carriers = carriers_of(radio) if carriers_hz is None else dict(carriers_hz)
    wrong = [*asking.wrong, *names_wrong(radio, site_ids)]
    result = [
        finding(
            Weight.STOP,
            each.place,
            "radio plan",
            f"The radio part, {each.place}: {each.sentence}.",
            remedy="Correct it on the page Plan, or in the plan's text.",
            at=each.at[1:],  # the part of the plan stands first in it
        )
        for each in wrong
    ] or [finding(Weight.FINE, "the radio part", "radio plan", "All that the radio part names is there and can be.")]
    there = [t for t in radio.transmitters if asked_for is None or t.id in asked_for]
    if there:
        result += _placed(there, carriers)
        result += _within_region(radio, there, carriers)
    if audit is not None and carriers:
        result += _audited(radio, asking, audit, carriers, tasks or (asking.task,))
    result += neighbour_proofs(radio)
    return [*result, *reach_proofs(radio)] if reach else result


def carriers_of(radio: RadioPart) -> dict[str, int]:
    """The carriers that the plan has, in whole hertz."""
    return {
        t.id: hertz
        for t in radio.transmitters
        if t.frequency_hz is not None and (hertz := whole(t.frequency_hz)) is not None
    }


def _placed(there: Collection[Transmitter], carriers: Mapping[str, int]) -> Iterator[Finding]:
    without = [t for t in there if t.id not in carriers]
    numbers = {"transmitters": float(len(there)), "without_carrier": float(len(without))}
    if not without:
        every = count(len(there), "transmitter")
        what = "The one transmitter has a carrier." if len(there) == 1 else f"All {every} have a carrier."
        yield finding(Weight.FINE, "carriers", "carrier chosen", what, numbers=numbers)
    elif len(without) == len(there) and not any(t.on_air for t in without):
        yield finding(
            Weight.WATCH,
            "carriers",
            "carrier chosen",
            f"No carrier is chosen yet for {count(len(without), 'transmitter')}.",
            remedy="Find carriers on the page Radio, or with radio plan on the command line.",
            at=["transmitters"],
            numbers=numbers,
        )
        return
    for t in without:
        yield finding(
            Weight.STOP if t.priority == 1 or t.on_air else Weight.WATCH,
            t.name,
            "carrier chosen",
            f"{t.name} is on the air, and the plan has no carrier for it." if t.on_air else f"{t.name} has no carrier.",
            why="Switched on anywhere, it harms what is planned.",
            remedy="Find one for it on the page Radio or with radio plan --mode add, or leave it off.",
            at=["transmitters", t.id],
            numbers=numbers,
        )


def _within_region(
    radio: RadioPart, asked_for: Collection[Transmitter], carriers: Mapping[str, int]
) -> Iterator[Finding]:
    region = region_of(radio)
    if region is None:
        if not radio.region:  # one that is not there is told as a mistake
            yield finding(
                Weight.WATCH,
                "region",
                "region limits",
                "The plan names no region, so no carrier was held against limits of power, band and width.",
                remedy=f"Write the region's id under 'region'. {LICENCE}",
                at=["region"],
            )
        return
    there = [t for t in asked_for if t.id in carriers and _known(radio, t)]
    found = False
    sources: dict[str, None] = {}
    for t in there:
        made = transmitter(radio, t)
        half = made.width_hz / 2
        freq = carriers[t.id]
        power = made.power_mw if made.power_mw > 0 else None
        for said in verdict(region, freq - half, freq + half, power, "conducted", t.kind, made.gain_dbi):
            source = f"{said.band.source} ({said.band.status})" if said.band else "table of regions"
            if said.verdict is Verdict.LISTED:
                sources[source] = None
                continue
            found = True
            sure = said.band is None or said.band.status != "from memory"
            yield finding(
                Weight.STOP if sure and said.verdict is not Verdict.TOO_WIDE else Weight.WATCH,
                t.name,
                "region limits",
                f"{t.name} at {mhz(freq)}: {said.sentence}",
                why="" if sure else "The figure is from memory, and was not read again.",
                remedy=LICENCE,
                at=["transmitters", t.id, "frequency"],
                source=source,
                numbers={"power_mw": made.power_mw, "width_khz": made.width_hz / 1e3, "carrier_mhz": freq / 1e6},
            )
    if there and not found:
        yield finding(
            Weight.FINE,
            "region",
            "region limits",
            f"Of {count(len(there), 'carrier')} each is listed in {region.name} for its use, power, band and width; a "
            f"listing is no permission. {LICENCE}",
            source="; ".join(list(sources)[:4]),
            numbers={"carriers": float(len(there))},
        )


def _known(radio: RadioPart, t: Transmitter) -> bool:
    try:
        transmitter(radio, t)
    except InputError:
        return False
    return True


def _audited(
    radio: RadioPart, asking: Asking, audit: Audit, carriers: Mapping[str, int], tasks: Sequence[Task]
) -> Iterator[Finding]:
    names = {t.id: t.name for t in radio.transmitters}
    levels = levels_of(radio, asking.task, carriers)
    yield from _clean(audit, names, levels or ())
    yield from _unavoidable(audit, names)
    every = (*audit.broken, *audit.unavoidable)
    yield from _each(
        [hold for hold in every if hold.limit in _PLACES],
        names,
        "inside tuning",
        "Every carrier lies inside its tuning range, on its raster, and inside the window of its receiver.",
        "Choose a frequency that it can tune to: the page Radio, and radio plan on the command line, find one.",
    )
    occupied = [hold for hold in every if hold.limit is Limit.OCCUPIED]
    if asking.task.occupied or occupied:
        yield from _each(
            occupied,
            names,
            "occupied spectrum",
            f"Every carrier is clear of occupied spectrum: {count(len(asking.task.occupied), 'range')}, guard and all.",
            "Move it: repair on the page Radio, or radio plan --mode repair, keeps the rest where it is.",
        )
    yield from spare_proofs(radio, tasks, carriers)
    yield from _products(names, levels)


def levels_of(radio: RadioPart, task: Task, carriers: Mapping[str, int]) -> tuple[ProductLevel, ...] | None:
    """What every product that some guard protects from amounts to, the most harmful first.

    None where no receiver hears anything, or a kind is named that is not there: nothing can be said of levels then.
    """
    forms = [form for form in FORMS.values() if any(g.protection_hz.get(form) for g in task.guards.values())]
    try:
        inputs = chains(radio, carriers)
    except InputError:  # a kind that is not there, which is told by its name
        return None
    return product_levels(task, carriers, inputs, forms=forms, most=20_000) if inputs else None


def _clean(audit: Audit, names: Mapping[str, str], levels: Iterable[ProductLevel]) -> Iterator[Finding]:
    broken = [hold for hold in audit.broken if hold.limit in FORMS or hold.limit is Limit.SPACING]
    # only so many relations are listed; who has none among them and a margin below nothing is told by what sets it
    listed = {id for hold in broken for id in (hold.hit, *(hold.sources if hold.limit is Limit.SPACING else ()))}
    below = [id for id, margin in audit.margins_hz.items() if margin < 0 and id not in listed and id in audit.set_by]
    broken += sorted((audit.set_by[id] for id in below), key=lambda hold: hold.margin_hz)
    if not broken:
        yield _all_clean(audit, names)
        return
    worst = {(each.hit, frozenset(each.sources)): each for each in reversed(tuple(levels))}
    by_hit: dict[str, list[Hold]] = {}
    for hold in broken:
        by_hit.setdefault(hold.hit, []).append(hold)
    for holds in list(by_hit.values())[:MOST_TOLD]:
        told = [(hold, worst.get((hold.hit, frozenset(hold.sources)))) for hold in holds]
        quiet = [level for hold, level in told if hold.limit in FORMS and level is not None and not level.heard]
        harmless = len(quiet) == len(told)
        hold, level = told[0]
        more = f"; {count(len(holds) - 1, 'more relation')} of it broken too" if len(holds) > 1 else ""
        why = f"At the receiver {level.receiver} this product is {level.verdict}." if level is not None else ""
        yield finding(
            Weight.WATCH if harmless else Weight.STOP,
            names.get(hold.hit, hold.hit),
            "carriers clean",
            f"{hold_in_words(hold, names)}{more}.",
            why=why,
            remedy="Repair the plan on the page Radio or with radio plan --mode repair, or move it by hand.",
            at=["transmitters", hold.hit, "frequency"],
            source=PRACTICE,
            numbers=_figures(hold) | ({"over_noise_db": level.over_noise_db} if level is not None else {}),
        )
    if len(by_hit) > MOST_TOLD:
        yield finding(
            Weight.STOP,
            "carriers",
            "carriers clean",
            f"{count(len(by_hit) - MOST_TOLD, 'more carrier')} are not clean.",
            remedy="Find other carriers on the page Radio, or with radio plan on the command line.",
            at=["transmitters"],
            source=PRACTICE,
        )


def _figures(hold: Hold) -> dict[str, float]:
    return {
        "margin_khz": hold.margin_hz / 1e3,
        "distance_khz": hold.distance_hz / 1e3,
        "required_khz": hold.required_hz / 1e3,
    }


def _all_clean(audit: Audit, names: Mapping[str, str]) -> Finding:
    number = len(audit.margins_hz)
    margin = audit.margin_hz
    if margin is None or margin >= FAR_HZ:
        what = "Nothing comes near the one carrier." if number == 1 else f"Nothing comes near any of {number} carriers."
        return finding(Weight.FINE, "carriers", "carriers clean", what, source=PRACTICE)
    hit = min(audit.margins_hz, key=lambda each: audit.margins_hz[each])
    hold = audit.set_by.get(hit)
    set_by = ""
    if hold is not None:
        other = form_of(hold, names) if hold.limit in FORMS else several([names.get(s, s) for s in hold.sources])
        set_by = f", of {names.get(hit, hit)}, set by {other}"
    return finding(
        Weight.FINE,
        "carriers",
        "carriers clean",
        f"All {count(number, 'carrier')} are clean; the smallest margin is {khz(margin)}{set_by}.",
        source=PRACTICE,
        numbers={"carriers": float(number), "margin_khz": margin / 1e3},
    )


def _unavoidable(audit: Audit, names: Mapping[str, str]) -> Iterator[Finding]:
    fixed = [hold for hold in audit.unavoidable if hold.limit in FORMS or hold.limit is Limit.SPACING]
    for hold in fixed[:MOST_TOLD]:
        yield finding(
            Weight.WATCH,
            names.get(hold.hit, hold.hit),
            "fixed carriers",
            f"{hold_in_words(hold, names)}; all of them are fixed.",
            why="No plan mends what fixed carriers do to each other.",
            remedy="Let one of them be moved, or never send with them at once.",
            at=["transmitters", hold.hit, "fixed"],
            source=PRACTICE,
            numbers=_figures(hold),
        )


def _each(
    holds: Iterable[Hold], names: Mapping[str, str], kind: str, holds_sentence: str, remedy: str
) -> Iterator[Finding]:
    told = list(holds)
    if not told:
        yield finding(Weight.FINE, "carriers", kind, holds_sentence)
    for hold in told[:MOST_TOLD]:
        yield finding(
            Weight.STOP,
            names.get(hold.hit, hold.hit),
            kind,
            f"{hold_in_words(hold, names)}.",
            remedy=remedy,
            at=["transmitters", hold.hit, "frequency"],
            numbers=_figures(hold),
        )


def _products(names: Mapping[str, str], levels: tuple[ProductLevel, ...] | None) -> Iterator[Finding]:
    """The products that will be heard, whatever their distance; or how far the strongest lies under the noise."""
    if levels is None:
        return
    source = "input intercepts of the receivers' kinds, in free space without walls; cubic curve"
    heard: dict[str, ProductLevel] = {}
    for each in levels:
        if each.heard:
            heard.setdefault(each.hit, each)
    for each in list(heard.values())[:MOST_TOLD]:
        sources = several([names.get(source, source) for source in each.sources])
        yield finding(
            Weight.WATCH,
            names.get(each.hit, each.hit),
            "products heard",
            f"At {each.receiver} a product of {sources} at {mhz(each.at_hz)}, {khz(each.distance_hz)} from "
            f"{names.get(each.hit, each.hit)}, {each.verdict}.",
            remedy="Move a carrier, turn power down, or give the antenna less gain.",
            at=["transmitters", each.hit, "frequency"],
            source=source,
            numbers={"level_dbm": each.level_dbm, "over_noise_db": each.over_noise_db},
        )
    if not levels:
        what = "No product falls so near to a carrier that its receiver could hear it."
        yield finding(Weight.FINE, "products", "products heard", what, source=source)
    elif not heard:
        strongest = max(levels, key=lambda each: each.over_noise_db)
        yield finding(
            Weight.FINE,
            "products",
            "products heard",
            f"No product will be heard; the strongest, at {strongest.receiver}, is {strongest.verdict}.",
            source=source,
            numbers={"level_dbm": strongest.level_dbm, "over_noise_db": strongest.over_noise_db},
        )

"""Is the kit's mass known, can its loads be lifted, rolled and taken over steps, and does every mast stand the gust."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rollsound.finding import Finding, Weight
from rollsound.kit import lifting, wind
from rollsound.kit.kinds import resolved
from rollsound.kit.model import Kind, KitItem, KitPart, Move, Raised, Zone
from rollsound.kit.telling import finding, kilograms, several
from rollsound.kit.totals import Totals
from rollsound.quantities import count

_ROLLING = {"trolley", "cart"}
MOST_NAMED = 4


def handling_proofs(kit: KitPart, kinds: Mapping[str, Kind], sums: Totals) -> Iterator[Finding]:
    """Mass, loads, moves and masts."""
    made = {item.id: (item, resolved(item, kinds)) for item in kit.items}
    yield from _mass(made, sums)
    yield from _loads(kit, made, sums)
    for move in kit.moves:
        yield from _move(move, made, sums)
    for raised in kit.raised:
        yield from _raised(raised, made)


def _mass(made: Mapping[str, tuple[KitItem, Kind]], sums: Totals) -> Iterator[Finding]:
    whole = sums.whole
    numbers = {"mass_kg": whole.mass_kg, "pieces": float(whole.pieces), "without_mass": float(len(whole.without_mass))}
    told = f"The kit weighs {kilograms(whole.mass_kg)} in {count(whole.pieces, 'piece')}"
    if not whole.without_mass:
        yield finding(Weight.FINE, "the kit", "kit mass", f"{told}.", at=("kit", "items"), numbers=numbers)
        return
    missing = len(whole.without_mass)
    names = "; ".join(made[id][0].name for id in whole.without_mass[:MOST_NAMED])
    more = f"; and {missing - MOST_NAMED} more" if missing > MOST_NAMED else ""
    yield finding(
        Weight.WATCH,
        "the kit",
        "kit mass",
        f"{told} and more: {count(missing, 'item')} {'says' if missing == 1 else 'say'} no mass ({names}{more}).",
        why="What is lifted, shipped or listed for customs is heavier than it is reckoned.",
        remedy="Weigh it and write it under 'mass', or name its kind under 'model'.",
        at=("kit", "items", whole.without_mass[0], "mass"),
        numbers=numbers,
    )


def _loads(kit: KitPart, made: Mapping[str, tuple[KitItem, Kind]], sums: Totals) -> Iterator[Finding]:
    """Cases and single things that are lifted by whoever is there, where the plan says nothing about it."""
    planned = {move.load.casefold() for move in kit.moves}
    best: tuple[Zone, ...] = ("knuckle to elbow",)
    men, women = lifting.filter_kg(best), lifting.filter_kg(best, women=True)
    # By place, not by name: two cases may be called alike, and neither hides the other.
    lifted = [
        (load.name, load.mass_kg, ("kit", "items", load.items[0], "travels_in"))
        for load in sums.loads
        if load.name and load.name.casefold() not in planned and not any(_rolls(made[id][1]) for id in load.items)
    ]
    for item, kind in made.values():
        if item.count and kind.mass_kg is not None and not (item.travels_in or item.id in planned or _rolls(kind)):
            lifted.append((item.name, kind.mass_kg, ("kit", "items", item.id, "mass")))
    heavy = [each for each in lifted if each[1] > women]
    for name, mass, at in heavy:
        over = f"over the best figure for one woman, {women:g} kg"
        if mass > men:
            over = f"over the best figure for one person, {men:g} kg for men and {women:g} kg for women"
        yield finding(
            Weight.WATCH,
            name,
            "lifting",
            f"{name} weighs {kilograms(mass)}: {over}.",
            why="Those are figures of a filter, held close between knuckle and elbow; from the floor far less.",
            remedy="Divide it, lift it in twos or wheel it; write how under 'moves' to have it reckoned.",
            at=at,
            source=lifting.filter_source(),
            numbers={"mass_kg": mass, "men_kg": men, "women_kg": women},
        )
    if lifted and not heavy:
        name, mass, _ = max(lifted, key=lambda each: each[1])
        nothing = "Of what says its mass, nothing" if sums.whole.without_mass else "Nothing"
        yield finding(
            Weight.FINE,
            "loads",
            "lifting",
            f"{nothing} that is lifted weighs more than {kilograms(mass)} ({name}), within {women:g} kg held close.",
            why="A filter, not a limit; from the floor or over the head far less.",
            source=lifting.filter_source(),
            numbers={"mass_kg": mass, "men_kg": men, "women_kg": women},
        )


def _move(move: Move, made: Mapping[str, tuple[KitItem, Kind]], sums: Totals) -> Iterator[Finding]:
    load = sums.load(move.load)
    if load is not None:
        mass, inside, short = load.mass_kg, [made[id][1] for id in load.items], len(load.without_mass)
    elif move.load in made:
        kind = made[move.load][1]
        mass, inside, short = kind.mass_kg or 0.0, [kind], int(kind.mass_kg is None)
    else:
        return  # told as a name that is not there
    name = move.name or move.load
    unknown = f" At least: {count(short, 'item')} of it say no mass." if short else ""
    if move.zones:
        yield _lifted(move, name, mass, unknown)
    slope = lifting.slope_of(move.slope) if move.slope else 0.0
    if slope is not None and (move.slope or not (move.zones or move.steps) or any(map(_rolls, inside))):
        yield _pushed(move, name, mass, slope, unknown)
    if move.steps:
        yield _over_steps(move, name, mass, inside, unknown)


def _lifted(move: Move, name: str, mass_kg: float, unknown: str) -> Finding:
    one = lifting.filter_kg(
        move.zones,
        women=move.women,
        arms_length=move.arms_length,
        per_minute=move.per_minute or 0.0,
        twist_deg=move.twist_deg,
    )
    guide = lifting.together_kg(one, move.people)
    holds = mass_kg <= guide
    who = several(move.people, "person")
    return finding(
        Weight.FINE if holds and not unknown else Weight.WATCH,
        name,
        "lifting",
        f"{name}: {kilograms(mass_kg)} lifted by {who}, {'within' if holds else 'over'} {guide:.1f} kg, "
        f"where no closer look is asked for.{unknown}",
        why="A filter, not a limit: the smallest figure of all zones that the hands pass, less for pace and twisting.",
        remedy=_remedy(
            holds, unknown, "Divide the load, lift it in greater number, nearer or less far; or have it assessed."
        ),
        at=("kit", "moves", move.id),
        source=lifting.filter_source(),
        numbers={"mass_kg": mass_kg, "guide_kg": guide, "people": float(move.people)},
    )


def _pushed(move: Move, name: str, mass_kg: float, slope: float, unknown: str) -> Finding:
    push = lifting.push(mass_kg, move.surface, slope, people=move.people, women=move.women)
    ground = "a good floor" if move.surface == "good" else "uneven ground"
    ramp = f" up a ramp of {move.slope}" if move.slope else ""
    each = " each" if move.people > 1 else ""
    return finding(
        Weight.FINE if push.holds and not unknown else Weight.WATCH,
        name,
        "rolling",
        f"{name}: {kilograms(mass_kg)} on {ground}{ramp} ask {push.rolling_n:.0f} N{each} to keep rolling, "
        f"{'within' if push.holds else 'over'} {push.rolling_guide_n:.0f} N.{unknown}",
        why=f"To start and to stop it up to {push.start_guide_n:.0f} N are within the guidance; about 20 m at a time.",
        remedy=_remedy(push.holds, unknown, "Push it in greater number, take it in two loads, or lay boards."),
        at=("kit", "moves", move.id),
        source=lifting.push_source(),
        numbers={
            "mass_kg": mass_kg,
            "rolling_n": push.rolling_n,
            "guide_n": push.rolling_guide_n,
            "start_guide_n": push.start_guide_n,
        },
    )


def _over_steps(move: Move, name: str, mass_kg: float, inside: list[Kind], unknown: str) -> Finding:
    """Over steps nothing is reckoned: what is stated is held against what there is."""
    aids = [kind for kind in inside if kind.stairs_kg is not None]
    at = ("kit", "moves", move.id)
    steps = count(move.steps, "step")
    outside = "Stairs lie outside the lifting filter, which has no figure for them."
    if not aids:
        return finding(
            Weight.WATCH,
            name,
            "steps",
            f"{name}: {kilograms(mass_kg)} over {steps}, and nothing states that this can be done.{unknown}",
            why=outside,
            remedy="Split the load, go in twos, or use a stair-climbing aid and write under 'stairs' what it takes.",
            at=at,
            source=lifting.filter_source(),
            numbers={"mass_kg": mass_kg, "steps": float(move.steps)},
        )
    aid = max(aids, key=lambda kind: kind.stairs_kg or 0.0)
    stated = aid.stairs_kg or 0.0
    carried = mass_kg - (aid.mass_kg or 0.0)
    holds = carried <= stated
    who = "one person" if move.people == 1 else several(move.people, "person")
    return finding(
        Weight.STOP if not holds else Weight.WATCH if unknown else Weight.FINE,
        name,
        "steps",
        f"{name}: {kilograms(carried)} over {steps} by {who} on {aid.name}, which is stated to take "
        f"{kilograms(stated)}{'' if holds else ', and no more'}.{unknown}",
        why=f"{outside} What is stated is not reckoned here: try it with this load before the day.",
        remedy=_remedy(holds, unknown, "Take it over the steps in two loads, or carry the batteries apart."),
        at=at,
        source="stated for this item, not reckoned; " + (aid.source or "the plan"),
        numbers={"mass_kg": mass_kg, "carried_kg": carried, "stated_kg": stated, "steps": float(move.steps)},
    )


def _raised(raised: Raised, made: Mapping[str, tuple[KitItem, Kind]]) -> Iterator[Finding]:
    if any(id not in made for id in (raised.item, *raised.carries)):
        return  # told as a name that is not there
    mast, tops = made[raised.item][1], [made[id][1] for id in raised.carries]
    name = raised.name or mast.name
    at = ("kit", "raised", raised.id)
    if raised.gust_ms is None or mast.height_m is None or mast.width_m is None or not mast.foot_m:
        wanted = "the gust that it is to stand" if raised.gust_ms is None else "its height, width and foot"
        yield finding(
            Weight.WATCH,
            name,
            "wind",
            f"{name}: the plan does not say {wanted}, so nothing is known of its footing.",
            remedy="Write 'gust' (not the mean wind) here, and 'height', 'width' and 'foot' at the mast.",
            at=at,
            source=wind.wind_source(),
        )
        return
    faces = [
        wind.mast(mast.height_m, mast.width_m, mast.drag),
        *(wind.Face(top.wind_area_m2 or 0.0, mast.height_m, top.drag or wind.plate_drag()) for top in tops),
    ]
    moment = wind.moment_nm(faces, raised.gust_ms)
    there = (mast.mass_kg or 0.0) + sum(top.mass_kg or 0.0 for top in tops) + raised.ballast_kg
    needed, just = wind.needed_kg(moment, mast.foot_m), wind.needed_kg(moment, mast.foot_m, 1.0)
    weight = Weight.FINE if there >= needed else Weight.WATCH if there >= just else Weight.STOP
    flat = [made[id][0].name for id in raised.carries if made[id][1].wind_area_m2 is None]
    unknown = f" Without {'; '.join(flat)}, whose area the wind meets is not written." if flat else ""
    told = {
        Weight.FINE: f"stands a gust of {raised.gust_ms:g} m/s with half as much again to spare",
        Weight.WATCH: f"only just stands a gust of {raised.gust_ms:g} m/s",
        Weight.STOP: f"goes over in a gust of {raised.gust_ms:g} m/s",
    }[weight]
    yield finding(
        Weight.WATCH if flat and weight is Weight.FINE else weight,
        name,
        "wind",
        f"{name} {told}: {kilograms(there)} stand there, {kilograms(needed)} are wanted.{unknown}",
        why=f"The wind's moment at the foot is {moment:.0f} N·m; it tips at half the length of its foot.",
        remedy=_ballast(needed - there, flat),
        at=at,
        source=wind.wind_source(),
        numbers={"moment_nm": moment, "needed_kg": needed, "there_kg": there, "gust_m_s": raised.gust_ms},
    )


def _ballast(short_kg: float, flat: list[str]) -> str:
    if short_kg > 0:
        return f"Add {kilograms(short_kg)} of ballast low down, guy it, or take it down before the wind comes."
    return "Write 'wind_area_m2' at what it carries." if flat else ""


def _remedy(holds: bool, unknown: str, otherwise: str) -> str:
    """What to do: a mass that is missing comes after what does not hold even without it."""
    if not holds:
        return otherwise
    return "Weigh what says no mass, and ask again." if unknown else ""


def _rolls(kind: Kind) -> bool:
    return kind.category.casefold() in _ROLLING

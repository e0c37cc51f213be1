"""Is everybody heard wherever they act and walk: reach over acting areas and along walking lines, as findings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from rollsound.errors import InputError
from rollsound.finding import Area, Finding, Weight
from rollsound.radio.model import ActingArea, Ground, RadioPart, WalkingLine
from rollsound.radio.reach.answer import WANTED_SHARE, Array
from rollsound.radio.reach.ground import along, places_of
from rollsound.radio.reach.link import Link, layouts_of, links, senders
from rollsound.radio.reach.over import over
from rollsound.radio.telling import finding

PLACES = 150
"""Of an acting area: enough for a proof that is asked for at every change; the page's map looks closer."""
STEP_M = 1.0
STOP_SHARE = 0.9
"""Below this share of time a scene cannot be recorded from there."""
_SOURCE = "link budget: powers, body, way and walls, antennas, cables, noise and fading, as the tables and the plan say"


def reach_proofs(radio: RadioPart) -> Iterator[Finding]:
    """One finding an acting area and a walking line of every ground that has antennas; silent where there is none.

    Where a ground has several layouts of antennas, the one that serves a place best is held against it, and named; a
    layout that leaves a receiver without an antenna is left out.
    """
    for ground in radio.grounds:
        if not (ground.antennas and senders(radio, ground) and (ground.areas or ground.lines)):
            continue
        names: Sequence[str | None] = layouts_of(ground) or (None,)
        by_layout: dict[str | None, Sequence[Link]] = {}
        why = ""
        for name in names:
            try:
                by_layout[name] = links(radio, ground, None, name)
            except InputError as error:
                why = error.sentence
        if not by_layout:
            yield _cannot(ground, why)
            continue
        for area in ground.areas:
            yield _heard(radio, ground, by_layout, area, places_of(area, PLACES))
        for line in ground.lines:
            yield _heard(radio, ground, by_layout, line, along(line, STEP_M)[0])


def _cannot(ground: Ground, why: str) -> Finding:
    return finding(
        Weight.WATCH,
        ground.id,
        "reach plan",
        f"Reach on {ground.id} cannot be reckoned: {why}.",
        area=Area.REACH,
        at=["grounds", ground.id],
    )


def _heard(
    radio: RadioPart,
    ground: Ground,
    by_layout: Mapping[str | None, Sequence[Link]],
    where: ActingArea | WalkingLine,
    at_m: Array,
) -> Finding:
    tried = {name: over(ground, heard, at_m, where.height_m) for name, heard in by_layout.items()}
    layout = max(tried, key=lambda name: (tried[name].share_of_time.min(), tried[name].margin_db.min()))
    found = tried[layout]
    at = int(np.lexsort((found.margin_db, found.share_of_time))[0])
    share = float(found.share_of_time[at])
    held = float(np.mean(found.share_of_time >= WANTED_SHARE))
    worst = {t.id: t.name for t in radio.transmitters}[by_layout[layout][int(found.worst[at])].transmitter]
    is_area = isinstance(where, ActingArea)
    what, listed = ("acting area", "areas") if is_area else ("walking line", "lines")
    name = where.name or where.id
    subject = f"{what} {name}"
    with_layout = f", with the layout {layout}" if layout else ""
    x, y = float(at_m[at, 0]), float(at_m[at, 1])
    good = share >= WANTED_SHARE
    if good:
        told = f"On {ground.id}, all are heard {'all over' if is_area else 'all along'} '{name}' for "
        told += f"{_percent(share)} of the time or more{with_layout}."
    else:
        told = f"On {ground.id}, {worst} is heard for only {_percent(share)} of the time at {x:.1f}, {y:.1f} m of "
        told += f"'{name}'{with_layout}."
    return finding(
        Weight.FINE if good else Weight.STOP if share < STOP_SHARE else Weight.WATCH,
        subject,
        f"reach of {what}",
        told,
        why="" if good else f"{_percent(WANTED_SHARE)} are wanted; {100 * held:.0f} % of its places have that.",
        remedy=""
        if good
        else "Bring an antenna nearer or turn it there, or raise the power; the page Reach, and radio "
        "reach on the command line, compare both.",
        area=Area.REACH,
        source=_SOURCE,
        numbers={
            "weakest_percent": 100 * share,
            "margin_db": float(found.margin_db[at]),
            "held_percent": 100 * held,
            "x_m": x,
            "y_m": y,
        },
        at=["grounds", ground.id, listed, where.id],
    )


def _percent(share: float) -> str:
    """Never rounded up to what it is not."""
    whole = int(share * 1000 + 1e-9) / 10
    return f"{whole:g} %"

"""The least power that holds everywhere on an acting area, and the battery hours that it buys."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from rollsound.errors import InputError
from rollsound.radio.model import ActingArea, Ground, RadioPart
from rollsound.radio.reach.along import area_named
from rollsound.radio.reach.answer import WANTED_SHARE, Array, Draw, LeastPower, PowerTried
from rollsound.radio.reach.ground import ground_of, places_of
from rollsound.radio.reach.link import Link, links
from rollsound.radio.reach.over import View, margins_db, share_of_time

_MOST_MISSING_DB = 1000.0


def least_power(
    radio: RadioPart,
    ground: str,
    transmitter: str,
    area: str,
    *,
    layout: str | None = None,
    wanted: float = WANTED_SHARE,
    draw: Draw | None = None,
    places: int = 900,
) -> LeastPower:
    """Try the powers of a transmitter's kind, the smallest first, at every place of an acting area.

    Parameters
    ----------
    wanted
        share of time, 0 to 1, that every place must hold for
    draw
        what the transmitter takes at each power; what its kind says when None

    Raises
    ------
    InputError
        when an id is unknown, nothing hears, or ``wanted`` is no share that can be held
    """
    drawn = ground_of(radio, ground)
    heard = links(radio, drawn, [transmitter], layout)
    draws = {} if draw is None else {transmitter: draw}
    [found] = _on(drawn, heard, area_named(drawn, area), layout, wanted, draws, places)
    return found


def least_powers(
    radio: RadioPart,
    ground: str,
    transmitters: Sequence[str] | None = None,
    *,
    layout: str | None = None,
    wanted: float = WANTED_SHARE,
    draws: Mapping[str, Draw] | None = None,
    places: int = 900,
) -> tuple[LeastPower, ...]:
    """The same for every transmitter on every acting area of a ground; ``draws`` by transmitter.

    Raises
    ------
    InputError
        also when the ground has no acting area
    """
    drawn = ground_of(radio, ground)
    if not drawn.areas:
        raise InputError(f"the ground '{drawn.id}' has no acting area; draw where the actors go")
    heard = links(radio, drawn, transmitters, layout)
    on_areas = [_on(drawn, heard, area, layout, wanted, draws or {}, places) for area in drawn.areas]
    return tuple(found for of_one in zip(*on_areas, strict=True) for found in of_one)


def _on(
    ground: Ground,
    heard: Sequence[Link],
    area: ActingArea,
    layout: str | None,
    wanted: float,
    draws: Mapping[str, Draw],
    places: int,
) -> list[LeastPower]:
    """Every transmitter on one area, whose places are looked at once for all."""
    if not 0 < wanted < 1:
        raise InputError(f"a share of time of {wanted:g} cannot be held; ask for more than 0 and less than 1")
    at_m = places_of(area, places)
    view = View(ground, heard, at_m, area.height_m)
    return [
        _least(link, area, at_m, margins_db(link, view.levels_dbm(link)), layout, wanted, draws.get(link.transmitter))
        for link in heard
    ]


def _least(
    link: Link, area: ActingArea, at_m: Array, margins: Array, layout: str | None, wanted: float, draw: Draw | None
) -> LeastPower:
    draw = _draw(draw, link)
    best = margins.max(axis=0)
    weakest = int(share_of_time(link, margins).argmin())
    tried = []
    for power_mw in link.sender.powers_mw:
        share = share_of_time(link, margins + _over(power_mw, link.sender.power_mw))
        worst = int(share.argmin())
        margin = float(best[worst]) + _over(power_mw, link.sender.power_mw)
        tried.append(PowerTried(power_mw, float(share[worst]), margin, _hours(draw, power_mw)))
    least = next((one for one in tried if one.share_of_time >= wanted), None)
    missing = _missing(link, margins + _over(link.sender.powers_mw[-1], link.sender.power_mw), wanted)
    now_hours = _hours(draw, link.sender.power_mw)
    gained = (
        least.battery_hours - now_hours
        if least is not None and least.battery_hours is not None and now_hours is not None
        else None
    )
    place = (float(at_m[weakest, 0]), float(at_m[weakest, 1]))
    return LeastPower(
        transmitter=link.transmitter,
        area=area.id,
        layout=layout or "",
        wanted_share=wanted,
        least_mw=least.power_mw if least else None,
        now_mw=link.sender.power_mw,
        tried=tuple(tried),
        weakest_at_m=place,
        missing_db=missing,
        hours_gained=gained,
        sentence=_sentence(link, area, wanted, least, tried[-1], missing, gained, place),
    )


def _over(power_mw: float, other_mw: float) -> float:
    return 10 * math.log10(power_mw / other_mw)


def _draw(draw: Draw | None, link: Link) -> Draw | None:
    """What is given, else what the transmitter's kind says."""
    sends = link.sender
    return draw or (Draw(sends.draws_w, sends.battery_wh) if sends.draws_w and sends.battery_wh else None)


def _hours(draw: Draw | None, power_mw: float) -> float | None:
    if draw is None:
        return None
    watts = next((watts for power, watts in draw.watts.items() if math.isclose(power, power_mw, rel_tol=1e-6)), None)
    return draw.battery_wh / watts if watts else None


def _missing(link: Link, margins: Array, wanted: float) -> float:
    """How many dB more are needed for the weakest place to hold; below 0 when there are some to spare."""
    low, high = -_MOST_MISSING_DB, _MOST_MISSING_DB
    for _ in range(50):
        middle = 0.5 * (low + high)
        if share_of_time(link, margins + middle).min() >= wanted:
            high = middle
        else:
            low = middle
    return high


def _sentence(
    link: Link,
    area: ActingArea,
    wanted: float,
    least: PowerTried | None,
    most: PowerTried,
    missing: float,
    gained: float | None,
    place: tuple[float, float],
) -> str:
    name, where = link.sender.name, area.name or area.id
    if least is None:
        return (
            f"{name}: no power up to {most.power_mw:g} mW holds {100 * wanted:g} % of the time everywhere on {where}; "
            f"at {place[0]:.1f}, {place[1]:.1f} m it holds {100 * most.share_of_time:.1f} %, and "
            f"{missing:.1f} dB are missing: "
            "bring an antenna nearer, or free its view"
        )
    told = (
        f"{name}: {least.power_mw:g} mW is enough on {where}: {100 * least.share_of_time:.2f} % of the time "
        "where it is weakest"
    )
    if gained is not None and abs(gained) >= 0.05:
        longer = "longer" if gained > 0 else "less"
        told += f"; the battery lasts {abs(gained):.1f} h {longer} than at {link.sender.power_mw:g} mW"
    return told

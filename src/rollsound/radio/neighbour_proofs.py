"""The neighbours, as findings: strong transmitters beside antennas, links and networks, radio worn on bodies."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rollsound.errors import InputError
from rollsound.finding import Finding, Weight
from rollsound.quantities import count, several
from rollsound.radio import control, exposure
from rollsound.radio.desense import SOURCE as DESENSE
from rollsound.radio.desense import STOP_DB, WATCH_DB, Neighbour, neighbours
from rollsound.radio.kinds import transmitter, transmitter_kinds, worn, worn_places
from rollsound.radio.model import RadioPart
from rollsound.radio.telling import finding
from rollsound.radio.units import DIPOLE_DBI, dbm_of_mw, mw_of_dbm

_WORN = ("body pack",)


def neighbour_proofs(radio: RadioPart) -> Iterator[Finding]:
    """Every proof about neighbours; silent where there is nothing of the kind.

    What names a kind, an antenna or a cable that is not there is passed over: that is told by its name.
    """
    yield from _strong(radio)
    yield from _links(radio)
    yield from _routers(radio)
    yield from _exposure(radio)


def _strong(radio: RadioPart) -> Iterator[Finding]:
    try:
        known = neighbours(radio, standing=True)
    except InputError:
        return
    names = {t.id: t.name for t in radio.transmitters}
    heavy = [each for each in known if (each.loss_db or 0.0) >= WATCH_DB]
    for each in heavy:
        yield _desensed(each, names)
    if known and not heavy:
        most = max(each.loss_db or 0.0 for each in known)
        yield finding(
            Weight.FINE,
            "monitor and talkback transmitters",
            "strong neighbour",
            f"No monitor or talkback transmitter takes more than {max(most, 0.1):.1f} dB from a receiver.",
            source=DESENSE,
            numbers={"most_db": most},
        )


def _desensed(each: Neighbour, names: dict[str, str]) -> Finding:
    name = names.get(each.transmitter, each.transmitter)
    loss = each.loss_db or 0.0
    takes = "drives the first stage to its end" if math.isinf(loss) else f"takes {loss:.1f} dB from every receiver"
    return finding(
        Weight.STOP if loss >= STOP_DB else Weight.WATCH,
        name,
        "strong neighbour",
        f"{name} stands {each.distance_m:.1f} m from the antenna {each.antenna} and {takes} behind it.",
        why="A strong signal drives the first stage; the gain for weak ones falls with it.",
        remedy=f"Keep {each.keep_away_m:.1f} m between them, turn its power down, or take gain out behind the antenna.",
        at=["transmitters", each.transmitter, "stand"],
        source=DESENSE,
        numbers={
            "level_dbm": each.level_dbm if each.level_dbm is not None else math.nan,
            "intercept_dbm": each.intercept_dbm,
            "loss_db": loss,
            "keep_away_m": each.keep_away_m,
        },
    )


def _links(radio: RadioPart) -> Iterator[Finding]:
    if not radio.control:
        return
    good, found = [], False
    for link in radio.control:
        try:
            control.signal(link)
            good.append(link)
        except InputError as error:
            found = True
            yield finding(
                Weight.STOP,
                link.name or link.id,
                "control links",
                f"{link.name or link.id}: {error.sentence}.",
                at=["control", link.id, "channel"],
            )
    for said in control.overlaps(good):
        found = True
        yield finding(
            Weight.WATCH,
            said.ids[0],
            "control links",
            said.sentence,
            remedy="Give it another channel, and look again on the place.",
            at=["control", said.ids[0], "channel"],
            source=said.source,
        )
    if not found:
        yield finding(
            Weight.FINE,
            "control links",
            "control links",
            f"Of {count(len(good), 'link')} and networks none lies over another, and none must give way to radar.",
        )


def _routers(radio: RadioPart) -> Iterator[Finding]:
    looked = found = False
    for ground in radio.grounds:
        for link in radio.control:
            if link.kind != "wi-fi" or link.ground != ground.id or link.at_m is None:
                continue
            x, y = link.at_m.points_m[0]
            for placed in ground.antennas:
                looked = True
                a, b = placed.at_m.points_m[0]
                said = control.near(link, placed.name or placed.id, math.hypot(x - a, y - b))
                if said is not None:
                    found = True
                    yield finding(
                        Weight.WATCH,
                        link.name or link.id,
                        "router near antenna",
                        said.sentence,
                        at=["control", link.id, "at"],
                        source=said.source,
                        numbers={"distance_m": math.hypot(x - a, y - b)},
                    )
    if looked and not found:
        yield finding(
            Weight.FINE, "networks", "router near antenna", "Every network stands clear of the receive antennas."
        )


def _exposure(radio: RadioPart) -> Iterator[Finding]:
    carried = [t for t in radio.transmitters if t.kind in _WORN]
    above, below, checked, advice, source = [], 0, 0, "", ""
    for t in carried:
        if t.model not in ("", *transmitter_kinds(radio)) or t.worn not in ("", *worn_places(radio)):
            continue
        made = transmitter(radio, t)
        if made.power_mw <= 0:
            continue
        tuning = made.tuning_hz
        freq = t.frequency_hz or (tuning.low if tuning else 470e6)
        radiated = float(mw_of_dbm(float(dbm_of_mw(made.power_mw)) + made.gain_dbi - DIPOLE_DBI))
        distance = float(worn(radio, t).skin_distance_m)
        screening = exposure.screen(max(made.power_mw, radiated), freq, distance, t.name)
        advice, source = screening.advice, "; ".join(line.source for line in screening.lines)
        if not screening.above:
            below += 1
        elif t.exposure_checked:
            checked += 1
        else:
            above.append((t, made.power_mw))
    if above:
        one = len(above) == 1
        names = several([f"{t.name} ({power:g} mW)" for t, power in above])
        yield finding(
            Weight.WATCH,
            "worn transmitters",
            "exposure screening",
            f"{count(len(above), 'worn transmitter')} {'lies' if one else 'lie'} above a screening line for radio "
            f"exposure, so the maker must have tested {'it' if one else 'them'} as worn: {names}.",
            why="That is no finding of harm, and nothing here is medical advice.",
            remedy=f"{advice} When you have looked, write 'exposure_checked: true' at each.",
            at=["transmitters", above[0][0].id],
            source=source,
            numbers={"above": float(len(above)), "below": float(below), "checked": float(checked)},
        )
    elif below or checked:
        looked = f"{count(checked, 'test')} of makers looked at" if checked else ""
        under = f"{count(below, 'worn transmitter')} at or below the screening lines" if below else ""
        yield finding(
            Weight.FINE,
            "worn transmitters",
            "exposure screening",
            f"Screened for radio exposure: {' and '.join(part for part in (under, looked) if part)}; that is no "
            "promise, so keep to each maker's instructions.",
            source=source,
            numbers={"below": float(below), "checked": float(checked)},
        )

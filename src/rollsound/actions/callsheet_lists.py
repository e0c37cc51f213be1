"""Lists of a call sheet: transmitters, monitor feeds, batteries to change, devices to jam, what weighs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rollsound.actions.callsheet_model import BatteryChangeRow, JamTimeRow, MonitorRow, PackRow
from rollsound.finding import Finding, Weight
from rollsound.power.day import NIGHT, clock, minutes
from rollsound.quantities import several, true_minus

if TYPE_CHECKING:
    from rollsound.actions.callsheet_packs import WiredDay
    from rollsound.actions.jams_model import JamsResult
    from rollsound.actions.power_model import PowerResult
    from rollsound.show.model import Day, Plan


def packs_of(plan: Plan, day: Day, wired: WiredDay) -> tuple[PackRow, ...]:
    sites = set(day.sites)
    tracks = {each.source: _track(each.number, each.name, wired) for each in plan.rig.tracks if each.source}
    names = {each.number: each.name for each in plan.rig.tracks}
    tracks |= {each.id: _track(each.track, names.get(each.track, ""), wired) for each in plan.packs.packs if each.track}
    heard: dict[str, list[str]] = {}
    for receiver in plan.radio.receivers:
        for id in receiver.hears:
            heard.setdefault(id, []).append(receiver.name)
    rows = []
    for each in plan.radio.transmitters:
        if each.sites and sites and not sites & set(each.sites):
            continue
        wearers = wired.wearers_of(each.id)
        if wired.by_scene and each.kind == "body pack" and not wearers:
            wearers = ("spare today",)
        rows.append(
            PackRow(
                id=each.id,
                name=each.name,
                use=each.kind,
                wearers=wearers or ((each.wearer,) if each.wearer else ()),
                worn=each.worn.replace("-", " "),
                mhz=None if each.frequency_hz is None else each.frequency_hz / 1e6,
                spares_mhz=tuple(hz / 1e6 for hz in each.spare_frequencies),
                power_mw=each.power_mw,
                track=tracks.get(each.id, ""),
                heard_by=tuple(heard.get(each.id, ())),
            )
        )
    return tuple(rows)


def _track(number: int, name: str, wired: WiredDay) -> str:
    """A track by number and name; where the pack plan moves packs, its name in the rig may be somebody else's."""
    return str(number) if wired.by_scene else f"{number} {name}".strip()


def monitors_of(plan: Plan) -> tuple[MonitorRow, ...]:
    return tuple(
        MonitorRow(
            listener=each.listener,
            hears=each.hears or several(each.sources, 6),
            at=each.at.partition(":")[0].replace("-", " "),
            gain="" if each.gain_db is None else true_minus(f"{each.gain_db:g} dB"),
            hours=each.hours,
        )
        for each in plan.rig.feeds
    )


def power_of(plan: Plan, day: Day) -> PowerResult | None:
    from rollsound.actions.power import of_plan
    from rollsound.actions.power_gather import Gathered

    gathered = Gathered(plan)
    if not (plan.power.supplies or gathered.insides):
        return None
    return of_plan(gathered, day.id)


def batteries_of(power: PowerResult | None) -> tuple[BatteryChangeRow, ...]:
    """Changes of the whole day in the order of time; what is changed at one time stands together."""
    found: dict[tuple[float, str, bool], list[str]] = {}
    for row in power.batteries if power is not None else ():
        for swap in row.swaps:
            names = several(row.names, 3) if len(row.names) > 1 else row.name
            each = f" × {row.alike}" if row.alike > len(row.names) else ""
            what = f"{names}{each}: {swap.batteries} × {row.battery_name}"
            found.setdefault((swap.at_min, swap.told, swap.in_break), []).append(what)
    return tuple(
        BatteryChangeRow(at=clock(at), at_min=at, told=told, what=tuple(what), in_break=in_break)
        for (at, told, in_break), what in sorted(found.items(), key=lambda each: _begins(each[0][1], each[0][0]))
    )


def _begins(told: str, latest_min: float) -> float:
    """When a change can begin: the head of its span, on the day of its latest time."""
    try:
        first = minutes(told.partition(" ")[0])
    except ValueError:
        return latest_min
    return first + NIGHT * ((latest_min - first) // NIGHT)


def jam_times(jams: JamsResult) -> tuple[JamTimeRow, ...]:
    return tuple(
        JamTimeRow(
            device=row.name,
            source=row.source_name,
            told=(f"{'jammed' if row.from_log else 'at the call,'} {row.jammed}", *(each.told for each in row.wishes)),
        )
        for row in jams.devices
    )


def weighing(power: PowerResult | None, jams: JamsResult) -> tuple[Finding, ...]:
    """What stops of power, and what is not kept of time code; what only deserves a look stands in its own page."""
    found = [each for each in (power.findings if power is not None else ()) if each.weight is Weight.STOP]
    return (*found, *(each for each in jams.findings if each.kind == "time code was off"))

"""The sound crew's call sheet of a day: everything that the plan says of it, and what it does not say yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from rollsound.actions.callsheet_lists import batteries_of, jam_times, monitors_of, packs_of, power_of, weighing
from rollsound.actions.callsheet_missing import not_planned
from rollsound.actions.callsheet_model import (
    CallsheetResult,
    ChangeoverRow,
    CrewRow,
    PackRow,
    PlaceRow,
    PlaybackRow,
    SceneRow,
)
from rollsound.actions.callsheet_packs import WiredDay, wired_day
from rollsound.actions.jams import jams_of
from rollsound.actions.jams_gather import clocks_of
from rollsound.errors import InputError
from rollsound.facts import cautions
from rollsound.power.day import clock
from rollsound.quantities import count, several, true_minus
from rollsound.script.model import Scene, plain_number

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.actions.power_model import PowerResult
    from rollsound.show.model import Day, Plan, Site


def callsheet(read: PlanRead, *, day: str = "") -> CallsheetResult:
    """The call sheet of a day; of the day that matters now when none is named.

    Raises
    ------
    InputError
        when there is no such day
    """
    plan = read.plan
    planned = _day(plan, day)
    clocks = clocks_of(read, planned.id)
    power = power_of(plan, planned)
    jams = jams_of(clocks)
    wired = wired_day(plan, planned)
    scenes = tuple(_scene(plan, number, wired) for number in planned.scenes)
    packs = packs_of(plan, planned, wired)
    playback = _playback(plan, planned)
    number = planned.number
    return CallsheetResult(
        path=str(read.path),
        name=plan.show.title,
        production=plan.show.production,
        day=planned.id,
        day_name=f"day {number}" if number is not None else planned.id,
        date=_date(planned.date),
        unit=planned.unit or plan.show.unit,
        call=clock(clocks.day.call_min),
        wrap=clock(clocks.day.wrap_min),
        breaks=tuple(f"{each.name} {clock(each.start_s / 60)} to {clock(each.end_s / 60)}" for each in clocks.breaks),
        coldest_c=clocks.day.coldest_c,
        note=planned.note,
        frame_rate=str(plan.show.rate),
        sample_rate_hz=plan.show.sample_rate_hz,
        sample_format=plan.show.sample_format,
        places=tuple(_place(site, planned.date) for site in _sites(plan, planned)),
        scenes=scenes,
        by_scene=wired.by_scene,
        packs=packs,
        crew=tuple(
            CrewRow(name=each.name, job=each.job, contact=each.contact, note=each.note)
            for each in plan.people
            if each.role in ("mixer", "crew")
        ),
        playback=playback,
        monitors=monitors_of(plan),
        changeovers=tuple(
            ChangeoverRow(
                id=each.id,
                name=each.name or each.id,
                positions=tuple(position.name or position.id for position in each.positions),
                note=each.note,
            )
            for each in plan.rig.changeovers
        ),
        batteries=batteries_of(power),
        power_planned=power is not None,
        missing_batteries=()
        if power is None
        else tuple(
            f"{row.name}: {row.in_use + row.spares_needed} wanted, {row.owned} owned"
            for row in power.stock
            if row.missing
        ),
        jams=jam_times(jams),
        findings=weighing(power, jams),
        not_planned=tuple(not_planned(plan, planned, scenes, packs, wired, power, jams)),
        cautions=_cautions(plan, power, packs),
    )


def _day(plan: Plan, asked: str) -> Day:
    if not plan.schedule.days:
        raise InputError("the plan has no days; write them under 'schedule', 'days', each with its id and date")
    found = next((each for each in plan.schedule.days if each.id == asked), None) if asked else None
    if asked and found is None:
        there = ", ".join(each.id for each in plan.schedule.days)
        raise InputError(f"the schedule has no day '{asked}'; there are: {there}")
    return found or plan.day_now(date.today()) or plan.schedule.days[0]


def _date(on: date | None) -> str:
    return "" if on is None else f"{on:%A} {on.day} {on:%B %Y}"


# ---- places and scenes -----------------------------------------------------------------------------------------------


def _sites(plan: Plan, day: Day) -> list[Site]:
    by_id = {site.id: site for site in plan.sites}
    return [by_id[id] for id in day.sites if id in by_id]


def _place(site: Site, on: date | None) -> PlaceRow:
    band = site.temperature_c
    temperature = ""
    if band is not None:
        low, high = (true_minus(f"{each:g}") for each in (band.low, band.high))
        temperature = f"{low} °C" if low == high else f"{low} to {high} °C"
    return PlaceRow(
        id=site.id,
        name=site.name,
        address=site.address,
        temperature=temperature,
        sound=_sound(site.sound, on),
        note=site.note,
    )


def _sound(sound: Any, on: date | None) -> str:
    """What a technical visit told, short. The model of it is loaded with the site only."""
    if sound is None:
        return ""
    parts = [f"background {sound.laeq_dba:g} dBA" if sound.laeq_dba is not None else ""]
    parts.append(f"boom at {sound.boom_m * 100:.0f} cm planned" if sound.boom_m is not None else "")
    parts += [_noisy(each) for each in sound.noisy_hours if not each.date or on is None or str(each.date) == str(on)]
    return "; ".join(part for part in parts if part)


def _noisy(each: Any) -> str:
    level = "" if each.level_dba is None else f", {each.level_dba:g} dBA"
    return f"{each.from_time} to {each.to_time} {each.what or 'noise'}{level}"


def _scene(plan: Plan, number: str, wired: WiredDay) -> SceneRow:
    scene = plan.script.scene(number)
    mine = wired.of_scene(number)
    if scene is None:
        return SceneRow(number=number, in_script=False, wired=mine.worn, booms=mine.booms, songs=_songs(plan, number))
    heard = plan.script.names_of(scene.characters)
    off = {
        each.character
        for each in (*scene.speaks, *scene.sings)
        if each.off == "voice over" or _kind(plan, each.character) == "voice only"
    }
    uncovered = [
        name
        for id, name in zip(scene.characters, heard, strict=True)
        if id not in off and id not in mine.covered and name not in mine.covered
    ]
    return SceneRow(
        number=scene.number,
        heading=scene.heading,
        eighths=scene.eighths,
        synopsis=scene.synopsis,
        speaks=_said(plan, scene.speaks),
        sings=_said(plan, scene.sings),
        dual=scene.dual,
        cues=tuple(dict.fromkeys(each.kind for each in scene.cues)),
        songs=_songs(plan, number, scene),
        wired=mine.worn,
        booms=mine.booms,
        without=tuple(uncovered) if wired.has(number) else (),
        note=scene.note,
    )


def _kind(plan: Plan, character: str) -> str:
    found = plan.script.character(character)
    return "" if found is None else found.kind


def _said(plan: Plan, said: Iterable[Any]) -> tuple[str, ...]:
    rows = sorted(said, key=lambda each: -each.words)
    names = plan.script.names_of(each.character for each in rows)
    return tuple(
        f"{name} {each.words}{f' ({each.off})' if each.off else ''}" for name, each in zip(names, rows, strict=True)
    )


def _songs(plan: Plan, number: str, scene: Scene | None = None) -> tuple[str, ...]:
    named = {each.id: each.name for each in plan.songs.songs}
    of_scene = [each.name for each in plan.songs.of_scene(number)]
    return tuple(dict.fromkeys([*(named.get(id, id) for id in (scene.songs if scene else ())), *of_scene]))


def _playback(plan: Plan, day: Day) -> tuple[PlaybackRow, ...]:
    wanted = {plain_number(each): each for each in day.scenes}
    by_scene = {
        plain_number(scene.number): scene.songs for scene in plan.script.scenes if plain_number(scene.number) in wanted
    }
    found = []
    for song in plan.songs.songs:
        scenes = [wanted[n] for each in song.scenes if (n := plain_number(each)) in wanted]
        scenes += [wanted[n] for n, songs in by_scene.items() if song.id in songs and wanted[n] not in scenes]
        if scenes:
            found.append(
                PlaybackRow(
                    id=song.id,
                    title=song.name,
                    scenes=tuple(scenes),
                    start_timecode=song.start_timecode,
                    ltc_track=song.ltc_track or plan.songs.ltc_track,
                    guide_track=song.guide_track or plan.songs.guide_track,
                    note=song.note,
                )
            )
    return tuple(found)


def _cautions(plan: Plan, power: PowerResult | None, packs: Sequence[PackRow]) -> tuple[str, ...]:
    topics = (["hearing"] if plan.rig.feeds else []) + (["radio-licence", "radio-exposure", "lithium"] if packs else [])
    told = [each.text for each in cautions(*topics)] if topics else []
    return tuple(dict.fromkeys([*told, *(power.cautions if power is not None else ())]))


def headline(result: CallsheetResult) -> str:
    """The sheet's one sentence."""
    sung = sum(bool(each.sings or each.songs) for each in result.scenes)
    told = count(len(result.scenes), "scene") if result.scenes else "No scenes yet"
    told += f", {sung} sung" if sung else ""
    return f"{told}, {f'at {several([each.name for each in result.places])}' if result.places else 'no site yet'}."


def by_mhz(mhz: float | None) -> str:
    """A frequency in MHz with three decimals, or as many as it needs; empty when there is none."""
    if mhz is None:
        return ""
    text = f"{mhz:.6f}"
    return text[:-3] if text.endswith("000") else text.rstrip("0")

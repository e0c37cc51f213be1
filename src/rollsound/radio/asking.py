"""The plan's radio part as a question for carriers: every transmitter's raster, what is occupied, who asks for what.

Longer than most files: every mistake of the plan that a search would trip over is found here, all of them at once, and
each is told at the place where it was made.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from rollsound.errors import InputError
from rollsound.quantities import count
from rollsound.radio.carriers.task import Guard, Occupied, Task, Wanted
from rollsound.radio.kinds import (
    ReceiverResolved,
    TransmitterResolved,
    receiver,
    receiver_kinds,
    transmitter,
    transmitter_kinds,
)
from rollsound.radio.legal import legal, region_of, television_range
from rollsound.radio.model import Excluded, RadioPart, Receiver, Scan, Transmitter
from rollsound.radio.raster import MOST_PLACES, Raster, khz, mhz, span, whole
from rollsound.radio.regions import regions
from rollsound.radio.rules import COMMON, guard_of, rule_of, rules
from rollsound.radio.scan import ScanLevels, occupied
from rollsound.radio.television import raster as television_raster
from rollsound.wrong import Wrong, not_there, raise_all

MOST_TRANSMITTERS = 2_000


@dataclass(frozen=True)
class Asking:
    """The question, as far as it can be asked, and all that is wrong with it."""

    task: Task
    wrong: tuple[Wrong, ...] = ()
    notes: tuple[str, ...] = ()
    """What had to be assumed, one sentence each."""


@dataclass
class _Found:
    """What is gathered on the way."""

    wrong: list[Wrong] = field(default_factory=list)
    notes: dict[str, None] = field(default_factory=dict)
    occupied: list[Occupied] = field(default_factory=list)
    guards: dict[str, Guard] = field(default_factory=dict)

    def tell(self, sentence: str, *at: str) -> None:
        self.wrong.append(Wrong(("radio", *at), sentence))


def task_of(
    radio: RadioPart,
    *,
    sites: Collection[str] | None = None,
    scans: Mapping[str, ScanLevels] | None = None,
    document: str = "the plan",
) -> Task:
    """The question for carriers.

    Parameters
    ----------
    sites
        ids of the sites that the carriers are for; for all of them at once when None
    scans
        what was read of the plan's scans, by their ids; None to ask without any

    Raises
    ------
    MistakesError
        with every mistake, its place and what to do
    """
    asking = asked(radio, sites=sites, scans=scans)
    raise_all(asking.wrong, document)
    return asking.task


def asked(
    radio: RadioPart, *, sites: Collection[str] | None = None, scans: Mapping[str, ScanLevels] | None = None
) -> Asking:
    """The question and its mistakes; transmitters that cannot be asked for are left out of it."""
    found = _Found()
    here = [each for each in radio.transmitters if _here(each.sites, sites)]
    if len(here) > MOST_TRANSMITTERS:
        found.tell(
            f"has {count(len(here), 'transmitter')}; more than {MOST_TRANSMITTERS:,} are never planned at once",
            "transmitters",
        )
        return Asking(Task({}, ()), tuple(found.wrong))
    if radio.region and region_of(radio) is None:
        found.tell(not_there(radio.region, "the region", regions(radio)), "region")
    _known_raster(radio, found)
    for excluded in radio.excluded:
        if _here(excluded.sites, sites):
            _exclude(radio, excluded, found)
    for scan in radio.scans:
        if scans is not None and scan.used and _here(scan.sites, sites):
            _scanned(scan, scans, found)
    hearing = _hearing(radio, found)
    wanted = [each for t in here if (each := _wanted(radio, t, hearing.get(t.id, []), found)) is not None]
    _fixed_apart(wanted, {each.id: each.sites for each in here}, found)
    windows = {each.within for each in wanted}
    task = Task(
        guards=found.guards,
        wanted=tuple(wanted),
        occupied=tuple(dict.fromkeys(found.occupied)),
        windows_hz={r.id: whole(r.window_hz) or 0 for r in radio.receivers if r.window_hz and r.id in windows},
        name=" and ".join(sorted(sites)) if sites else "",
    )
    return Asking(task, tuple(dict.fromkeys(found.wrong)), tuple(found.notes))


def _known_raster(radio: RadioPart, found: _Found) -> None:
    region = region_of(radio)
    if region is not None and region.television:
        try:
            television_raster(region.television)
        except InputError as error:
            found.tell(f"cannot be: {error.sentence}", "regions", region.id, "television")


def _here(its_sites: Iterable[str], sites: Collection[str] | None) -> bool:
    its = tuple(its_sites)
    return sites is None or not its or any(site in sites for site in its)


def _exclude(radio: RadioPart, excluded: Excluded, found: _Found) -> None:
    at = ("excluded", excluded.id)
    guard = _hertz(excluded.guard_hz, "guard", found, *at, "guard")
    if excluded.range_hz is None and not excluded.channels:
        found.tell("names neither a range nor television channels; write one of them, or take it out", *at)
    if excluded.range_hz is not None:
        low, high = round(excluded.range_hz.low), round(excluded.range_hz.high)
        found.occupied.append(Occupied(low, high, guard or 0, excluded.why or f"excluded: {excluded.id}"))
    for channel in excluded.channels:
        edges = television_range(radio, channel)
        if isinstance(edges, str):
            found.tell(edges, *at, "channels")
            continue
        found.occupied.append(Occupied(*edges, guard or 0, excluded.why or f"television channel {channel}"))


def _scanned(scan: Scan, scans: Mapping[str, ScanLevels], found: _Found) -> None:
    levels = scans.get(scan.id)
    if levels is None:
        found.tell(
            f"names the file '{scan.file}', which was not read; put it there, or write 'used: false'",
            "scans", scan.id, "file",
        )  # fmt: skip
        return
    guard = _hertz(scan.guard_hz, "guard", found, "scans", scan.id, "guard")
    found.notes.update(dict.fromkeys(levels.notes))
    found.occupied += occupied(levels, scan.threshold_dbm, guard or 0, f"scan {scan.id}")


def _hearing(radio: RadioPart, found: _Found) -> dict[str, list[Receiver]]:
    """By transmitter the receivers that hear it; names and channels are looked at on the way."""
    known = {each.id for each in radio.transmitters}
    result: dict[str, list[Receiver]] = {}
    for each in radio.receivers:
        at = ("receivers", each.id, "hears")
        for name in dict.fromkeys(each.hears):
            if name not in known:
                found.tell(not_there(name, "the transmitter", known), *at)
            else:
                result.setdefault(name, []).append(each)
            if each.hears.count(name) > 1:
                found.tell(f"names '{name}' twice; a channel hears one transmitter, so name it once", *at)
        if len(set(each.hears)) > each.channels:
            found.tell(
                f"names {count(len(set(each.hears)), 'transmitter')} for {count(each.channels, 'channel')}: "
                "two would share one; give some to another receiver",
                *at,
            )
    return result


def _wanted(radio: RadioPart, t: Transmitter, heard_by: list[Receiver], found: _Found) -> Wanted | None:
    at = ("transmitters", t.id)
    if t.model and t.model not in transmitter_kinds(radio):
        found.tell(not_there(t.model, "the kind of transmitter", transmitter_kinds(radio)), *at, "model")
        return None
    made = transmitter(radio, t)
    known = rules(radio)
    rule = rule_of(t, made.power_mw, known)
    if rule is None:
        found.tell(not_there(t.rule, "the rule", known), *at, "rule")
        return None
    if rule.id in COMMON and not t.rule and not any(each.id == rule.id for each in radio.rules):
        found.notes[f"Where the plan names no rule, the common ones hold, such as {_rule_told('microphone')}."] = None
    if rule.id not in found.guards:
        found.guards[rule.id] = guard_of(rule)
    width = _hertz(made.width_hz, "width", found, *at, "width")
    raster = _raster(made, at, found)
    if raster is None or not width:
        return None
    for each in heard_by:
        raster = _on_both(radio, t, raster, each, found)
        if raster is None:
            return None
    raster, closed = _legal(radio, t, made, raster, found)
    if raster is None:
        return None
    places = raster.places(width)
    if not places:
        found.tell(
            f"has no place for a signal of {khz(width)} between {span(raster.low_hz, raster.high_hz)}; widen the range",
            *at, "tuning",
        )  # fmt: skip
        return None
    if places > MOST_PLACES:
        found.tell(
            f"leaves {places:,} places on its range, more than any search looks at; write a step of 1 kHz or more",
            *at, "step",
        )  # fmt: skip
        return None
    now, good = _now(t, raster, width, found)
    if not good:
        return None
    return Wanted(
        id=t.id,
        guard=rule.id,
        low_hz=raster.low_hz,
        high_hz=raster.high_hz,
        step_hz=raster.step_hz,
        origin_hz=raster.origin_hz,
        width_hz=width,
        zone=t.zone,
        now_hz=now,
        fixed=t.fixed,
        on_air=t.on_air and now is not None,
        priority=t.priority,
        spares=t.spares_wanted,
        within=_within(heard_by, at, found),
        occupied=closed,
    )


def _rule_told(name: str) -> str:
    rule = COMMON[name]
    return (
        f"{khz(rule.spacing_hz)} between microphones, {khz(rule.two_third_hz)} from products of two and "
        f"{khz(rule.three_third_hz)} from products of three"
    )


def _raster(made: TransmitterResolved | ReceiverResolved, at: tuple[str, ...], found: _Found) -> Raster | None:
    if made.tuning_hz is None:
        found.tell("has no tuning range; write one, such as '470-542 MHz', or a model that has one", *at, "tuning")
        return None
    low = _hertz(made.tuning_hz.low, "tuning range", found, *at, "tuning")
    high = _hertz(made.tuning_hz.high, "tuning range", found, *at, "tuning")
    step = _hertz(made.step_hz, "step", found, *at, "step")
    if low is None or high is None or step is None:
        return None
    if step < 1:
        found.tell("has a step of nothing; write the raster that it tunes in, such as '25 kHz'", *at, "step")
        return None
    if (high - low) % step:
        found.tell(
            f"is {khz(step)}, which does not divide the range {span(low, high)}; write one that does, or the range "
            f"{span(low, high - (high - low) % step)}",
            *at, "step",
        )  # fmt: skip
        return None
    return Raster(low, high, step, low)


def _on_both(radio: RadioPart, t: Transmitter, raster: Raster, hears: Receiver, found: _Found) -> Raster | None:
    at = ("receivers", hears.id)
    if hears.model and hears.model not in receiver_kinds(radio):
        found.tell(not_there(hears.model, "the kind of receiver", receiver_kinds(radio)), *at, "model")
        return None
    made = receiver(radio, hears)
    if made.tuning_hz is None:
        return raster
    other = _raster(made, at, found)
    if other is None:
        return None
    both = raster.both(other)
    if both is None:
        found.tell(
            f"tunes in steps of {khz(other.step_hz)} from {mhz(other.origin_hz)}, and {t.name} in "
            f"{khz(raster.step_hz)} from {mhz(raster.origin_hz)}: they never meet; let another receiver hear it",
            *at, "hears",
        )  # fmt: skip
        return None
    if both.low_hz >= both.high_hz:
        found.tell(
            f"tunes {span(other.low_hz, other.high_hz)}, and {t.name} {span(raster.low_hz, raster.high_hz)}: no "
            "frequency is on both; let another receiver hear it",
            *at, "hears",
        )  # fmt: skip
        return None
    return both


def _legal(
    radio: RadioPart, t: Transmitter, made: TransmitterResolved, raster: Raster, found: _Found
) -> tuple[Raster | None, tuple[Occupied, ...]]:
    """The raster inside what the region allows, and what is not allowed between its ends: closed to this one alone."""
    found_legal = legal(radio, t.kind, made, (raster.low_hz, raster.high_hz))
    if found_legal is None:
        return raster, ()
    inside = found_legal.stretches
    region = region_of(radio)
    name = (region.name or region.id) if region is not None else ""
    if not inside:
        allowed = ", ".join(span(low, high) for low, high in found_legal.listed[:6]) or "nothing"
        found.tell(
            f"is {span(raster.low_hz, raster.high_hz)}, outside of what {name} lists for a {t.kind}: {allowed}; check "
            "your licence and local rules, then correct the range or the region",
            "transmitters", t.id, "tuning",
        )  # fmt: skip
        return None, ()
    why = f"not listed for a {t.kind} in {name}"
    closed = tuple(Occupied(end, begin, 0, why) for (_, end), (begin, _) in itertools.pairwise(inside))
    return raster.within(inside[0][0], inside[-1][1]), closed


def _now(t: Transmitter, raster: Raster, width: int, found: _Found) -> tuple[int | None, bool]:
    at = ("transmitters", t.id, "frequency")
    if t.frequency_hz is None:
        if t.fixed:
            found.tell("is fixed and has no frequency; write the one that it has", *at)
        return None, not t.fixed
    now = _hertz(t.frequency_hz, "frequency", found, *at)
    if now is None:
        return None, False
    if t.fixed and (now - width / 2 < raster.low_hz or now + width / 2 > raster.high_hz):
        found.tell(
            f"is fixed at {mhz(now)}, where a signal of {khz(width)} leaves the range "
            f"{span(raster.low_hz, raster.high_hz)}; correct the one or the other",
            *at,
        )
        return now, False
    return now, True


def _within(heard_by: list[Receiver], at: tuple[str, ...], found: _Found) -> str:
    windowed = [each for each in heard_by if each.window_hz]
    if len(windowed) > 1 and len({each.hears for each in windowed}) > 1:
        names = " and ".join(each.id for each in windowed)
        found.tell(f"is heard by {names}, and each has a window of its own; only one window can be kept", *at)
    for each in windowed:
        _hertz(each.window_hz or 0.0, "window", found, "receivers", each.id, "window")
    return min(windowed, key=lambda each: each.window_hz or 0.0).id if windowed else ""


def _fixed_apart(wanted: Iterable[Wanted], sites: Mapping[str, tuple[str, ...]], found: _Found) -> None:
    """Fixed carriers whose signals lie over each other: no plan mends that."""
    fixed = sorted((each.now_hz, each.width_hz, each.id) for each in wanted if each.fixed and each.now_hz is not None)
    widest = max((width for _, width, _ in fixed), default=0)
    for at, (freq, width, name) in enumerate(fixed):
        for other_freq, other_width, other in fixed[at + 1 :]:
            if other_freq - freq >= widest:
                break
            meet = not sites[name] or not sites[other] or bool(set(sites[name]) & set(sites[other]))
            if meet and other_freq - freq < (width + other_width) / 2:
                found.tell(
                    f"is fixed at {mhz(other_freq)}, {khz(other_freq - freq)} from '{name}', which is fixed too: they "
                    "collide already; move one, or let one be chosen",
                    "transmitters", other, "frequency",
                )  # fmt: skip


def _hertz(value_hz: float, what: str, found: _Found, *at: str) -> int | None:
    result = whole(value_hz)
    if result is None:
        found.tell(f"has a {what} of {value_hz:.6f} Hz; whole hertz are wanted, so write fewer decimals", *at)
    return result

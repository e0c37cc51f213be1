"""Proofs over DC wires: voltage at the far end from full to empty battery, and fuses."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rollsound.finding import Finding, Weight
from rollsound.power.answer import PowerAnswer
from rollsound.power.drop import least_source_v
from rollsound.power.telling import FUSE_SOURCE, WIRES_SOURCE, finding
from rollsound.power.wires import Fed, Source, drop_target
from rollsound.quantities import count, several

_TINY_V = 0.005


def wire_proofs(answer: PowerAnswer) -> Iterator[Finding]:
    """Findings of every far end whose source voltage is known."""
    if not answer.wires:
        return
    voltage = [*(each for end in answer.wires for each in _voltage(end)), *_toward_empty(answer)]
    yield from voltage
    if not voltage:
        checked = [end for end in answer.wires if end.input_v is not None]
        told = (
            f"{count(len(checked), 'thing')} that the plan knows limits of "
            f"{'gets' if len(checked) == 1 else 'get'} a voltage inside of them, from full to empty battery."
            if checked
            else "No far end collapses; the plan knows no limits of voltage."
        )
        yield finding(Weight.FINE, "wires", "voltage at the far end", told, source=WIRES_SOURCE)
    fuses = [each for end in answer.wires if end.wire is not None for each in _fuse(end)]
    yield from fuses
    yield from _without_fuse(answer)
    wired = [end for end in answer.wires if end.wire is not None]
    if wired and not fuses and all(end.wire and end.wire.fuse_a for end in wired):
        yield finding(
            Weight.FINE, "wires", "fuse", "Every fuse bears its load and guards its wire.", source=FUSE_SOURCE
        )


def _at(end: Fed) -> tuple[str, ...]:
    return ("supplies", end.supply, "feeds", end.feeding) if end.feeding else ("supplies", end.supply)


def _voltage(end: Fed) -> Iterator[Finding]:
    numbers = {
        "load_w": end.load_w,
        "full_v": end.full_v,
        "nominal_v": end.nominal_v,
        "low_v": end.low_v,
        "loop_ohm": end.loop_ohm,
    }
    limits = end.input_v
    if limits is not None and end.full_v > limits.high + _TINY_V:
        yield finding(
            Weight.STOP,
            end.name,
            "voltage at the far end",
            f"{end.name} bears {limits.high:g} V at the most, and gets {end.full_v:.1f} V from a full battery.",
            why="Too high a voltage can destroy it, before any load pulls it down.",
            remedy=f"Feed it through a converter, or from batteries that have {limits.high:g} V or less when full.",
            at=_at(end),
            source=WIRES_SOURCE,
            numbers=numbers | {"most_v": limits.high},
        )
    if math.isnan(end.nominal_v):
        yield finding(
            Weight.STOP,
            end.name,
            "voltage at the far end",
            f"{end.name} takes {end.load_w:.1f} W at the end of {_wire(end)}: its voltage collapses.",
            why="No voltage at the far end could carry this power; the wires before it take it all.",
            remedy=_thicker(end),
            at=_at(end),
            source=WIRES_SOURCE,
            numbers=numbers,
        )
        return
    if limits is not None and end.nominal_v < limits.low - _TINY_V:
        yield finding(
            Weight.STOP,
            end.name,
            "voltage at the far end",
            f"{end.name} needs {limits.low:g} V and gets {end.nominal_v:.2f} V at the end of {_wire(end)}, with "
            f"{end.source.nominal_v:g} V at the source.",
            remedy=_thicker(end),
            at=_at(end),
            source=WIRES_SOURCE,
            numbers=numbers | {"least_v": limits.low},
        )
    if end.wire is not None and end.lost_share > drop_target() + 1e-9:
        yield finding(
            Weight.WATCH,
            end.name,
            "voltage drop",
            f"The wires to {end.name} lose {100 * end.lost_share:.1f} % of the voltage at {end.load_w:.1f} W; "
            f"{100 * drop_target():.0f} % is usual for what must not fail.",
            why="Terminals, fuse holders and connectors lose more on top.",
            remedy=_thicker(end),
            at=_at(end),
            source=WIRES_SOURCE,
            numbers=numbers | {"lost_percent": 100 * end.lost_share},
        )


def _toward_empty(answer: PowerAnswer) -> Iterator[Finding]:
    """What switches off before the battery is empty, told once for all that hang on one battery."""
    by_source: dict[Source, list[Fed]] = {}
    for end in answer.wires:
        limits = end.input_v
        if limits is not None and end.nominal_v >= limits.low - _TINY_V and not end.low_v >= limits.low - _TINY_V:
            by_source.setdefault(end.source, []).append(end)
    for source, ends in by_source.items():
        needed = max(_needed(end) for end in ends)
        worst = max(ends, key=_needed)
        assert worst.input_v is not None
        low = "nothing" if math.isnan(worst.low_v) else f"{worst.low_v:.2f} V"
        names = several([end.name for end in ends])
        others = "" if len(ends) == 1 else f" {names} switch off before the battery is empty."
        yield finding(
            Weight.WATCH,
            worst.name,
            "voltage near empty",
            f"{worst.name} needs {worst.input_v.low:g} V and gets {low} when the battery is down to {source.low_v:g} V"
            + (f".{others}" if others else ": it switches off before the battery is empty."),
            remedy=f"Write {needed:.1f} V as the battery's cutoff and change it there, or feed it through a converter."
            if needed < source.nominal_v
            else _thicker(worst),
            at=_at(worst),
            source=WIRES_SOURCE,
            numbers={
                "load_w": worst.load_w,
                "low_v": worst.low_v,
                "least_v": worst.input_v.low,
                "source_needed_v": needed,
                "far_ends": float(len(ends)),
            },
        )


def _needed(end: Fed) -> float:
    """The voltage that its source must keep."""
    assert end.input_v is not None
    return least_source_v(end.input_v.low, end.loop_ohm, end.load_w) + max(0.0, _before(end))


def _before(end: Fed) -> float:
    """Volts lost before this wire begins, at the lowest battery."""
    return 0.0 if math.isnan(end.start_low_v) else end.source.low_v - end.start_low_v


def _wire(end: Fed) -> str:
    if end.wire is None or end.conductor is None:
        return "its connection"
    return f"{end.wire.length_m:g} m of {end.conductor.name}"


def _thicker(end: Fed) -> str:
    if end.wire is None or end.conductor is None:
        return "Shorten the wires before it, or raise the source's voltage."
    if end.better is not None and end.better.mm2 > end.conductor.mm2 + 1e-9:
        return f"Take {end.better.name} for these {end.wire.length_m:g} m, or a shorter wire."
    if end.better is None:
        return "No standard section serves: put the battery nearer, or carry a higher voltage and convert it there."
    return f"Thicken or shorten the wires before {end.name}: its own is enough."


def _fuse(end: Fed) -> Iterator[Finding]:
    assert end.wire is not None
    assert end.conductor is not None
    fuse = end.wire.fuse_a
    carries = end.conductor.carries_a
    numbers = {"worst_a": end.worst_a, "fuse_a": fuse or math.nan, "carries_a": carries or math.nan}
    if fuse is None or math.isnan(end.worst_a):
        if carries is not None and end.worst_a > carries:
            yield _hot(end, carries, numbers)
        return
    if carries is not None and fuse > carries:
        yield finding(
            Weight.STOP,
            end.name,
            "fuse",
            f"The fuse of {fuse:g} A to {end.name} is larger than {end.conductor.name} bears ({carries:g} A): the wire "
            "burns before it blows.",
            remedy=f"Take {end.fuse.fuse_a:g} A." if end.fuse.fuse_a else end.fuse.sentence,
            at=_at(end),
            source=FUSE_SOURCE,
            numbers=numbers,
        )
    elif fuse < end.fuse.least_a - 1e-6:
        blows = fuse < end.worst_a
        yield finding(
            Weight.STOP if blows else Weight.WATCH,
            end.name,
            "fuse",
            f"The fuse of {fuse:g} A to {end.name} is too small for {end.worst_a:.1f} A, which it takes when the "
            f"battery is low: {'it blows' if blows else f'{end.fuse.least_a:.1f} A would bear it for long'}.",
            remedy=f"Take {end.fuse.fuse_a:g} A." if end.fuse.fuse_a else end.fuse.sentence,
            at=_at(end),
            source=FUSE_SOURCE,
            numbers=numbers,
        )
    breaks = end.wire.fuse_breaks_a
    if breaks is not None and end.short_circuit_a is not None and end.short_circuit_a > breaks:
        yield finding(
            Weight.STOP,
            end.name,
            "fuse",
            f"A short circuit at {end.name} draws {end.short_circuit_a:.0f} A, more than its fuse can interrupt "
            f"({breaks:g} A).",
            remedy=f"Take a kind of fuse that interrupts {end.short_circuit_a:.0f} A or more.",
            at=_at(end),
            source="Ohm's law with the battery's own resistance; the fuse's data sheet",
            numbers=numbers | {"short_circuit_a": end.short_circuit_a},
        )
    melts = end.wire.fuse_melts_a2s
    if melts is not None and end.inrush is not None and end.inrush.i2t_a2s > melts:
        yield finding(
            Weight.WATCH,
            end.name,
            "fuse",
            f"Plugging in {end.name} rushes {end.inrush.i2t_a2s:.1f} A²s through a fuse that melts at {melts:g} A²s.",
            remedy="Take a slow fuse, or switch on through a soft start; never plug it in under voltage.",
            at=_at(end),
            source="charging of a capacitor through the loop; the fuse's data sheet",
            numbers=numbers | {"inrush_a2s": end.inrush.i2t_a2s, "peak_a": end.inrush.peak_a},
        )


def _hot(end: Fed, carries: float, numbers: dict[str, float]) -> Finding:
    return finding(
        Weight.STOP,
        end.name,
        "fuse",
        f"{_wire(end)} to {end.name} carries {end.worst_a:.1f} A when the battery is low, and bears {carries:g} A.",
        remedy="Take a thicker wire, and fuse it.",
        at=_at(end),
        source=FUSE_SOURCE,
        numbers=numbers,
    )


def _without_fuse(answer: PowerAnswer) -> Iterator[Finding]:
    bare = [end for end in answer.wires if end.wire is not None and end.wire.fuse_a is None]
    if not bare:
        return
    wanted = [
        f"{end.name} {end.fuse.fuse_a:g} A" if end.fuse.fuse_a else f"{end.name} (a thicker wire first)" for end in bare
    ]
    yield finding(
        Weight.WATCH,
        "wire",
        "fuse",
        f"No fuse is written for {count(len(bare), 'wire')}.",
        why="A battery melts a wire that is shorted behind it.",
        remedy=f"Fuse each close to the battery: {several(wanted, 6)}.",
        at=_at(bare[0]),
        source=FUSE_SOURCE,
        numbers={"without_fuse": float(len(bare))},
    )

"""The DC wires of the plan: voltage at every far end from full to empty battery, the current, and the fuse.

Loads keep their power, so that their current rises as the voltage falls. Voltages of a whole tree of wires are found by
going out from the source and back until nothing changes; where that falls into a hole, the load collapses.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.power.chemistry import voltages_of
from rollsound.power.conductors import Conductor, loop_ohm, of_wire
from rollsound.power.contents import contents_of
from rollsound.power.drop import Inrush, far_end, inrush, short_circuit_a, smallest_section
from rollsound.power.fuses import FuseChoice, choose
from rollsound.power.model import Battery, PowerPart, Supply, Wire
from rollsound.power.tree import Tree
from rollsound.written import Band

_ROUNDS = 400
_HOLE = 0.3
"""Share of the source's voltage under which a load is taken to collapse."""


@dataclass(frozen=True)
class Source:
    """The voltage that a supply begins with, from full to empty, and what is inside of it."""

    full_v: float
    nominal_v: float
    low_v: float
    resistance_ohm: float | None = None


@dataclass(frozen=True)
class Fed:
    """One far end: what arrives there."""

    supply: str
    feeding: str
    """Empty where the far end is a further supply, ``supply`` its id."""
    name: str
    load_w: float
    wire: Wire | None
    conductor: Conductor | None
    loop_ohm: float
    source: Source
    full_v: float
    nominal_v: float
    low_v: float
    """At the working load and the battery's lowest voltage; not a number where it collapses."""
    worst_a: float
    start_low_v: float
    """At the near end of this wire, where the battery is lowest."""
    input_v: Band | None
    fuse: FuseChoice
    short_circuit_a: float | None
    inrush: Inrush | None
    better: Conductor | None
    """The smallest section that keeps 3 % and the far end's least voltage where the battery is nominal."""

    @property
    def lost_share(self) -> float:
        """Of the source's nominal voltage, in all the wires up to here."""
        return (self.source.nominal_v - self.nominal_v) / self.source.nominal_v


def sources_of(power: PowerPart, tree: Tree) -> dict[str, Source]:
    """Voltages of supplies that begin one: on a battery, or with an output of their own. Others have none."""
    batteries = {battery.id: battery for battery in power.batteries}
    found = {}
    for supply in power.supplies:
        if supply.id in tree.loop or supply.each:
            continue
        if supply.output_v:
            found[supply.id] = Source(supply.output_v, supply.output_v, supply.output_v)
        elif supply.battery in batteries and supply.from_supply not in tree.supplies:
            source = _of_battery(batteries[supply.battery], supply)
            if source is not None:
                found[supply.id] = source
    return found


def _of_battery(battery: Battery, supply: Supply) -> Source | None:
    voltage = contents_of(battery).voltage_v
    if voltage is None:
        return None
    pack = voltages_of(battery, voltage, supply.in_series)
    inside = None
    if battery.resistance_ohm is not None:
        inside = battery.resistance_ohm * supply.in_series / supply.in_parallel
    return Source(pack.full_v, pack.nominal_v, pack.cutoff_v, inside)


@dataclass(frozen=True)
class _Flow:
    """Voltages and currents of one region of a tree, at one voltage of its source."""

    voltage_v: Mapping[str, float]
    """At the terminals of each supply."""
    current_a: Mapping[str, float]
    """Into each supply."""


def _flow(power: PowerPart, tree: Tree, root: str, source_v: float, loss: Mapping[str, float]) -> _Flow:
    """Go out and back until the voltages stand still; not a number where they fall into a hole."""
    region = _region(tree, root)
    volts = dict.fromkeys(region, source_v)
    amps = dict.fromkeys(region, 0.0)
    for _ in range(_ROUNDS):
        for id in reversed(region):
            amps[id] = _current(tree, id, volts[id], region, amps, loss)
        moved = 0.0
        for id in region[1:]:
            above = tree.supplies[id].from_supply
            now = volts[above] - amps[id] * loss.get(id, 0.0)
            moved = max(moved, abs(now - volts[id]))
            volts[id] = now
        if any(not (v > _HOLE * source_v) for v in volts.values()) or any(math.isnan(a) for a in amps.values()):
            return _Flow(dict.fromkeys(region, math.nan), dict.fromkeys(region, math.nan))
        if moved < 1e-7:
            return _Flow(volts, amps)
    return _Flow(dict.fromkeys(region, math.nan), dict.fromkeys(region, math.nan))


def _region(tree: Tree, root: str) -> list[str]:
    """A supply and those below it that only pass its voltage on, from the top down."""
    found = [root]
    for id in found:
        found += [child for child in tree.children.get(id, ()) if not tree.supplies[child].output_v]
    return found


def _current(
    tree: Tree, id: str, voltage_v: float, region: list[str], amps: Mapping[str, float], loss: Mapping[str, float]
) -> float:
    """What flows into a supply: to what it feeds, to further supplies, to converters below it, and for itself."""
    total = tree.own_w(id, {}) / voltage_v
    for feeding, load in tree.fed(id):
        total += _taken_a(voltage_v, _ohm(feeding.wire), load.most_w) / tree.supplies[id].efficiency
    for child in tree.children.get(id, ()):
        if child in region:
            total += amps[child]
        else:
            total += _taken_a(voltage_v, loss.get(child, 0.0), tree.input_w(child, {}))
    return total


def _taken_a(voltage_v: float, loop: float, load_w: float) -> float:
    """Current into a wire; where its load collapses, what flows at the most that it could give."""
    end = far_end(voltage_v, loop, load_w)
    return voltage_v / (2 * loop) if end.collapses else end.current_a


def _ohm(wire: Wire | None) -> float:
    return loop_ohm(wire) if wire is not None else 0.0


def wires_of(power: PowerPart, tree: Tree) -> tuple[Fed, ...]:
    """Every far end whose source voltage is known, in the plan's order."""
    sources = sources_of(power, tree)
    loss = {supply.id: _ohm(supply.wire) for supply in power.supplies}
    found: list[Fed] = []
    for root, source in sources.items():
        flows = [_flow(power, tree, root, volts, loss) for volts in (source.full_v, source.nominal_v, source.low_v)]
        for id in _region(tree, root):
            found += _below(tree, id, source, (flows[0], flows[1], flows[2]))
    return tuple(found)


def _below(tree: Tree, id: str, source: Source, flows: tuple[_Flow, _Flow, _Flow]) -> list[Fed]:
    found = []
    starts = [flow.voltage_v[id] for flow in flows]
    for feeding, load in tree.fed(id):
        if load.working_w is None and load.input_v is None and feeding.wire is None:
            continue
        found.append(
            _fed(id, feeding.id, load.name, load.most_w, feeding.wire, source, starts, load.input_v, load.capacitance_f)
        )
    for child in tree.children.get(id, ()):
        supply = tree.supplies[child]
        own = tree.loads.get((child, ""))
        found.append(
            _fed(
                child,
                "",
                supply.name or child,
                tree.input_w(child, {}),
                supply.wire,
                source,
                starts,
                own.input_v if own else None,
                None,
                # One that only passes on may take more than its loads, for their wires lose some.
                through=flows[2].current_a.get(child),
            )
        )
    return found


def _fed(
    supply: str,
    feeding: str,
    name: str,
    load_w: float,
    wire: Wire | None,
    source: Source,
    starts: list[float],
    input_v: Band | None,
    capacitance_f: float | None,
    through: float | None = None,
) -> Fed:
    loop = _ohm(wire)
    ends = [_end(start, loop, load_w) for start in starts]
    worst_a = ends[2][1] if through is None else through
    if through is not None and not math.isnan(through):
        ends[2] = (starts[2] - through * loop, through)
    conductor = of_wire(wire) if wire is not None else None
    least = max(source.nominal_v * (1 - drop_target()), input_v.low if input_v else 0.0)
    better = None
    if wire is not None:
        start = source.nominal_v if math.isnan(starts[1]) else starts[1]
        better = smallest_section(wire.length_m, load_w, start, min(least, start), temperature_c=_warm())
    inside = source.resistance_ohm
    shorted = short_circuit_a(source.full_v, inside + loop) if inside is not None and inside + loop > 0 else None
    rush = inrush(source.full_v, capacitance_f, loop + (inside or 0.0)) if capacitance_f and loop > 0 else None
    return Fed(
        supply=supply,
        feeding=feeding,
        name=name,
        load_w=load_w,
        wire=wire,
        conductor=conductor,
        loop_ohm=loop,
        source=source,
        full_v=source.full_v,
        nominal_v=ends[1][0],
        low_v=ends[2][0],
        worst_a=worst_a,
        start_low_v=starts[2],
        input_v=input_v,
        fuse=choose(0.0 if math.isnan(worst_a) else worst_a, conductor.carries_a if conductor else None),
        short_circuit_a=shorted,
        inrush=rush,
        better=better,
    )


def _end(start_v: float, loop: float, load_w: float) -> tuple[float, float]:
    if math.isnan(start_v):
        return (math.nan, math.nan)
    end = far_end(start_v, loop, load_w)
    return (end.voltage_v, end.current_a)


def drop_target() -> float:
    """The share of the voltage that wires should lose at most."""
    return float(table("power_conductors")["fuse"]["drop_target"])


def _warm() -> float:
    return float(table("power_conductors")["warm_c"])


def wire_wrong(wire: Wire) -> str:
    """What is wrong with a wire as it is written; empty when nothing is."""
    try:
        of_wire(wire)
    except InputError as error:
        return error.sentence
    if wire.section_mm2 is not None and wire.awg is not None:
        return "has a wire with a section and a gauge; write one of them"
    return ""

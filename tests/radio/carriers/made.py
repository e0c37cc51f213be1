"""Requests for carriers made at random: zones, fixed transmitters, unequal guards, offset rasters, windows, holes."""

from __future__ import annotations

from hypothesis import strategies as st

from rollsound.radio.carriers.task import Guard, Occupied, Product, Task, Wanted

KHZ = 1_000
BEGIN = 500_000_000


@st.composite
def guards(draw: st.DrawFn, name: str) -> Guard:
    """One kind. Any rule may be off."""
    protections = st.sampled_from([0, 0, 1, 12_500, 25_000, 50_000, 100_000, 175_000])
    return Guard(
        name,
        draw(st.sampled_from([0, 1, 25_000, 200_000, 400_000, 512_345])),
        {product: draw(protections) for product in Product if draw(st.booleans())},
    )


@st.composite
def tasks(draw: st.DrawFn, most: int = 9) -> Task:
    """A request of one to ``most`` transmitters."""
    kinds = [draw(guards(f"k{n}")) for n in range(draw(st.integers(1, 3)))]
    zones = draw(st.sampled_from([("",), ("A", "B"), ("A", "B", "")]))
    receivers = {f"r{n}": draw(st.sampled_from([600, 1_500, 4_000])) * KHZ for n in range(draw(st.integers(0, 2)))}
    width = draw(st.sampled_from([600, 2_000, 6_000, 12_000])) * KHZ
    wanted = []
    for n in range(draw(st.integers(1, most))):
        step = draw(st.sampled_from([5, 25, 50, 125])) * KHZ
        low = BEGIN + draw(st.integers(0, 3)) * 50 * KHZ
        origin = low + draw(st.sampled_from([0, 0, 12_500, -7_000, 1]))
        fixed = draw(st.integers(0, 3)) == 0
        cell = draw(st.integers(-1, width // step))
        wanted.append(
            Wanted(
                id=f"t{n}",
                guard=draw(st.sampled_from(kinds)).id,
                low_hz=low,
                high_hz=BEGIN + width,
                step_hz=step,
                origin_hz=origin,
                width_hz=draw(st.sampled_from([0, 100, 200])) * KHZ,
                zone=draw(st.sampled_from(zones)),
                now_hz=origin + cell * step if fixed or draw(st.booleans()) else None,
                fixed=fixed,
                on_air=fixed or draw(st.booleans()),
                priority=draw(st.integers(1, 3)),
                spares=draw(st.sampled_from([0, 0, 1])),
                within=draw(st.sampled_from(["", *receivers])),
            )
        )
    occupied = []
    for _ in range(draw(st.integers(0, 2))):
        at = BEGIN + draw(st.integers(0, width // KHZ)) * KHZ
        occupied.append(
            Occupied(at, at + draw(st.sampled_from([0, 100, 800])) * KHZ, draw(st.sampled_from([0, 100_000])))
        )
    return Task({kind.id: kind for kind in kinds}, tuple(wanted), tuple(occupied), receivers)


@st.composite
def assignments(draw: st.DrawFn, task: Task) -> dict[str, int]:
    """Carriers for most of the transmitters: on their raster, anywhere, on another's or on a product of two others."""
    carriers: dict[str, int] = {}
    for each in task.wanted:
        way = draw(st.integers(0, 7))
        if each.fixed and each.now_hz is not None:
            carriers[each.id] = each.now_hz
        elif way == 0:
            continue
        elif way == 1 and carriers:
            carriers[each.id] = draw(st.sampled_from(sorted(carriers.values())))
        elif way == 2 and len(carriers) > 1:
            # right onto a product of two others
            a, b = draw(st.permutations(sorted(carriers.values())))[:2]
            carriers[each.id] = max(2 * a - b + draw(st.sampled_from([0, 25_000, -50_000, 100_000])), 1)
        elif way == 3:
            carriers[each.id] = draw(st.integers(each.low_hz - 100_000, each.high_hz + 100_000))
        else:
            carriers[each.id] = (
                each.origin_hz + draw(st.integers(0, (each.high_hz - each.low_hz) // each.step_hz)) * each.step_hz
            )
    return carriers

"""What is proved to be impossible: never anything that can be done, and as close to it as is known."""

from __future__ import annotations

import itertools
import math
import time
from itertools import pairwise
from pathlib import Path

import brute
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.radio.carriers import exact, instances
from rollsound.radio.carriers.bounds import bound, free_stretches, largest_margin_hz, with_margin
from rollsound.radio.carriers.task import Guard, Occupied, Product, Task, Wanted

DATA = Path(__file__).parents[2] / "reference" / "carriers"
KHZ = 1_000
MHZ = 1_000_000


def guard(name: str, spacing: int, two: int, three: int, fifth: int = 0) -> Guard:
    """A guard in hertz."""
    return Guard(name, spacing, {Product.TWO_THIRD: two, Product.THREE_THIRD: three, Product.TWO_FIFTH: fifth})


MIC = guard("mic", 400 * KHZ, 100 * KHZ, 50 * KHZ)
STRONG = guard("monitor", 500 * KHZ, 150 * KHZ, 100 * KHZ)


def open_band(count: int, width_hz: int, rule: Guard = MIC, step_hz: int = 25 * KHZ, low_hz: int = 470 * MHZ) -> Task:
    """So many alike in one open band."""
    wanted = tuple(Wanted(f"m{n}", rule.id, low_hz, low_hz + width_hz, step_hz, low_hz, 0) for n in range(count))
    return Task({rule.id: rule}, wanted)


def read(name: str) -> Task:
    """One of the instances."""
    return instances.read((DATA / f"{name}.json").read_text("utf-8"), name)[0]


# --- the figures that are known -----------------------------------------------------------------------------------


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_a_short_search_is_the_long_one(data: st.DataObject) -> None:
    """The same answer after the same number of steps, whether the loop is compiled or not."""
    spacing = data.draw(st.integers(1, 16))
    two = data.draw(st.integers(0, 2 * spacing))
    three = data.draw(st.integers(0, min(spacing, two)))
    many = data.draw(st.integers(0, 7))
    spans = [exact.gap_span(n, spacing, two, three) for n in range(many)]
    span = max(exact.gap_span(many, spacing, two, three) + data.draw(st.integers(-1, 5)), 0)
    work, left = np.array([3_000], dtype=np.int64), [3_000]
    long = exact._fits(many, spacing, two, three, span, np.array(spans, dtype=np.int64), work)
    assert exact._fits_soon(many, spacing, two, three, span, spans, left) == long
    assert left[0] == work[0]


@pytest.mark.source(
    "exact search of the project's reference, least spans of 3 to 13 microphones, in MHz", kind="memory"
)
def test_the_least_spans_of_microphones() -> None:
    known = [0.9, 1.4, 1.9, 2.5, 3.15, 3.85, 4.6, 5.4, 6.25, 7.15, 8.1]
    spans = exact.least_spans(16, 4, 2, 13, 3_000_000)
    assert [span * 0.025 for span in spans[3:]] == pytest.approx(known, abs=1e-9)
    # attained, not only bounded: so many do fit, and one cell less is too little
    for count in range(5, 12):
        assert exact.fits(count, 16, 4, 2, spans[count]) is True
        assert exact.gap_span(count, 16, 4, 2) == spans[count]


@pytest.mark.source("OEIS A003022, lengths of optimal Golomb rulers, orders 2 to 10", kind="published")
def test_golomb_rulers_are_found_and_proved() -> None:
    lengths = (1, 3, 6, 11, 17, 25, 34, 44, 55)
    assert exact.least_spans(1, 1, 1, 10, 5_000_000)[2:] == lengths
    for count, length in enumerate(lengths[:8], start=2):
        assert exact.fits(count, 1, 1, 1, length) is True
        assert exact.fits(count, 1, 1, 1, length - 1) is False


@pytest.mark.source("OEIS A065825 less 1, least spans without three in arithmetic progression", kind="memory")
def test_sets_without_progressions_are_found_and_proved() -> None:
    assert exact.least_spans(1, 1, 0, 12, 5_000_000)[2:] == (1, 3, 4, 8, 10, 12, 13, 19, 23, 25, 29)


def test_too_few_steps_prove_less_and_never_more() -> None:
    whole = exact.least_spans(1, 1, 1, 10, 5_000_000)
    for steps in (0, 10, 100, 1_000, 10_000):
        some = exact.least_spans(1, 1, 1, 10, steps)
        assert all(a <= b for a, b in zip(some, whole, strict=True))
    assert exact.fits(10, 1, 1, 1, 54, steps=100) is None


@pytest.mark.parametrize(
    ("name", "most"),
    # measured bounds of the reference; with monitors among them fewer than the 74 of microphones alone
    [("S4_8", 12), ("S4_6", 10), ("S1b", 20), ("S1max", 26), ("W24", 24), ("W138", 58), ("W224", 74), ("S3", 72)],
)
def test_the_instances_are_bounded_as_closely_as_is_known(name: str, most: int) -> None:
    proof = bound(read(name))
    assert proof is not None
    assert proof.most == most


@pytest.mark.parametrize("name", ["S1", "S2", "S3z", "S3no3"])
def test_nothing_is_said_where_all_may_be_placed(name: str) -> None:
    assert bound(read(name)) is None


def test_those_that_must_be_placed_make_it_fewer() -> None:
    proof = bound(read("S3m"))
    assert proof is not None
    assert (proof.most, proof.with_musts) == (72, 70)
    assert "70 with all that must be placed" in proof.why


def test_the_sentence_names_how_many_and_where() -> None:
    proof = bound(read("S3"))
    assert proof is not None
    assert proof.why.startswith("76 in one zone cannot be: at most 72 find room")
    assert "223.8 MHz" in proof.why


def test_one_channel_holds_twelve_or_ten() -> None:
    for width, most in ((8, 12), (6, 10)):
        edges = width * MHZ - 200 * KHZ
        assert bound(open_band(most, edges)) is None
        proof = bound(open_band(most + 1, edges))
        assert proof is not None
        assert proof.most == most


def test_a_raster_of_200_khz_without_exact_hits() -> None:
    rule = guard("exact", 200 * KHZ, 1, 1)
    for span, most in ((39, 8), (29, 7)):
        proof = bound(open_band(most + 1, span * 200 * KHZ, rule, 200 * KHZ))
        assert proof is not None
        assert proof.most == most
        assert bound(open_band(most, span * 200 * KHZ, rule, 200 * KHZ)) is None


@pytest.mark.parametrize("name", ["S1", "S1b", "S1max", "S2m", "S3m", "S3no3", "S3z", "S4_8", "W224"])
def test_a_bound_comes_at_once(name: str) -> None:
    task = read(name)
    bound(task)  # compiled
    times = []
    for _ in range(3):
        exact.least_spans.cache_clear()
        started = time.thread_time()
        bound(task)
        times.append(time.thread_time() - started)
    assert min(times) < 0.1


def test_absurd_requests_are_bounded_at_once() -> None:
    many = open_band(500, MHZ)
    bound(many)
    started = time.thread_time()
    proof = bound(many)
    assert time.thread_time() - started < 0.1
    assert proof is not None
    assert proof.most == 3
    fine = open_band(60, 20 * MHZ, step_hz=1)
    proof = bound(fine)
    assert proof is not None
    assert proof.most <= 24


# --- never below what can be done ---------------------------------------------------------------------------------

RULERS = {
    # the marks of optimal rulers, as in the reference
    8: (0, 1, 4, 9, 15, 22, 32, 34),
    11: (0, 1, 4, 13, 28, 33, 47, 54, 64, 70, 72),
    16: (0, 1, 4, 11, 26, 32, 56, 68, 76, 115, 117, 134, 150, 163, 168, 177),
    20: (0, 1, 8, 11, 68, 77, 94, 116, 121, 156, 158, 179, 194, 208, 212, 228, 240, 253, 259, 283),
    24: (
        0,
        9,
        33,
        37,
        38,
        97,
        122,
        129,
        140,
        142,
        152,
        191,
        205,
        208,
        252,
        278,
        286,
        326,
        332,
        353,
        368,
        384,
        403,
        425,
    ),
}


@pytest.mark.source("OEIS A003022, optimal Golomb rulers", kind="published")
@pytest.mark.parametrize("order", RULERS)
def test_a_ruler_is_never_called_impossible(order: int) -> None:
    marks = RULERS[order]
    rule = guard("ruler", 25 * KHZ, 25 * KHZ, 25 * KHZ)
    task = open_band(order, marks[-1] * 25 * KHZ, rule)
    assert brute.broken(task, {f"m{n}": 470 * MHZ + mark * 25 * KHZ for n, mark in enumerate(marks)}) == []
    assert bound(task) is None
    # and with as many more the bound says how many, near what is possible
    proof = bound(open_band(2 * order, marks[-1] * 25 * KHZ, rule))
    assert proof is not None
    assert order <= proof.most <= math.ceil(1.2 * order)


def singer(p: int) -> list[int]:
    """Erdős and Turán's set of p differences that are all distinct: 2pk + (k² mod p)."""
    return [2 * p * k + k * k % p for k in range(p)]


@pytest.mark.parametrize("p", [11, 23, 41])
def test_a_set_of_distinct_differences_is_never_called_impossible(p: int) -> None:
    marks = singer(p)
    rule = guard("set", 2 * KHZ, 2 * KHZ, 2 * KHZ)
    task = open_band(p, (marks[-1] - marks[0]) * 2 * KHZ, rule, 2 * KHZ)
    assert brute.broken(task, {f"m{n}": 470 * MHZ + 2 * KHZ * mark for n, mark in enumerate(marks)}) == []
    assert bound(task) is None


@st.composite
def planted(draw: st.DrawFn) -> tuple[Task, dict[str, int]]:
    """A task that was made around carriers that keep it, and the carriers."""
    step = draw(st.sampled_from([5, 25, 100])) * KHZ
    kinds = [
        guard(
            f"k{n}",
            draw(st.integers(0, 8)) * 50 * KHZ,
            *(draw(st.sampled_from([0, 1, 25, 50, 130])) * KHZ for _ in "23"),
        )
        for n in range(draw(st.integers(1, 3)))
    ]
    zones = draw(st.sampled_from([("",), ("A", "B")]))
    guards = {kind.id: kind for kind in kinds}
    wanted: list[Wanted] = []
    carriers: dict[str, int] = {}
    cells = draw(st.lists(st.integers(0, 400), min_size=2, max_size=24, unique=True))
    for n, cell in enumerate(cells):
        carrier = 470 * MHZ + cell * step
        kind = draw(st.sampled_from(kinds))
        fixed = draw(st.integers(0, 5)) == 0
        # as tight a range as may be for some, so that ranges differ
        low, high = (470 * MHZ, 470 * MHZ + 400 * step) if draw(st.booleans()) else (carrier - 3 * step, carrier + step)
        asked = Wanted(
            f"t{n}",
            kind.id,
            low,
            high,
            step,
            470 * MHZ,
            0,
            draw(st.sampled_from(zones)),
            carrier if fixed else None,
            fixed,
            priority=draw(st.integers(1, 2)),
        )
        trial = Task(guards, (*wanted, asked))
        if not brute.broken(trial, {**carriers, asked.id: carrier}):
            wanted.append(asked)
            carriers[asked.id] = carrier
    # occupied spectrum goes where no carrier is
    taken = []
    order = sorted(carriers.values())
    for a, b in pairwise(order):
        if b - a > 4 * step and draw(st.booleans()):
            taken.append(Occupied(a + step, b - step, step))
    low, high = (order[0], order[-1]) if order else (470 * MHZ, 471 * MHZ)
    squeezed = [
        Wanted(**{**each.__dict__, "low_hz": max(each.low_hz, low), "high_hz": min(each.high_hz, high)})
        for each in wanted
    ]
    more = [
        Wanted(f"x{n}", draw(st.sampled_from(kinds)).id, low, high, step, 470 * MHZ, 0, draw(st.sampled_from(zones)))
        for n in range(draw(st.integers(0, 12)))
    ]
    return Task(guards, (*squeezed, *more), tuple(taken)), carriers


@settings(max_examples=100, deadline=None)
@given(planted())
def test_what_can_be_done_is_never_called_impossible(made: tuple[Task, dict[str, int]]) -> None:
    task, carriers = made
    assert brute.broken(task, carriers) == []
    proof = bound(task)
    if proof is not None:
        assert proof.most >= len(carriers)
        assert proof.with_musts is None or len(carriers) <= proof.with_musts < proof.most


@st.composite
def small(draw: st.DrawFn) -> Task:
    """A task so small that everything can be tried."""
    step = 50 * KHZ
    kinds = [
        guard(
            f"k{n}", draw(st.integers(1, 3)) * step, *(draw(st.sampled_from([0, 20, 50, 100, 150])) * KHZ for _ in "23")
        )
        for n in range(draw(st.integers(1, 2)))
    ]
    cells = draw(st.integers(4, 13))
    hole = draw(st.integers(1, cells - 1))
    taken = (Occupied(470 * MHZ + hole * step, 470 * MHZ + hole * step, step // 2),) if draw(st.booleans()) else ()
    zones = draw(st.sampled_from([("",), ("", "B")]))
    wanted = []
    for n in range(draw(st.integers(2, 6))):
        high = 470 * MHZ + draw(st.integers(cells // 2, cells)) * step
        rule = draw(st.sampled_from(kinds)).id
        wanted.append(Wanted(f"t{n}", rule, 470 * MHZ, high, step, 470 * MHZ, 0, draw(st.sampled_from(zones))))
    return Task({kind.id: kind for kind in kinds}, tuple(wanted), taken)


def may_join(task: Task, carriers: dict[str, int], new: Wanted, carrier: int) -> bool:
    """Whether one more carrier keeps spacing and products of the third order, as plainly as can be written.

    Where a + b - c falls near d, it falls as near wherever the four are turned about, so sets are enough.
    """
    by_id = {each.id: each for each in task.wanted}
    rules = {name: task.guards[by_id[name].guard] for name in (*carriers, new.id)}
    mine = rules[new.id]
    for other, at in carriers.items():
        if abs(at - carrier) < max(mine.spacing_hz, rules[other].spacing_hz):
            return False
    zone = [(carriers[name], rules[name].protection_hz) for name in carriers if by_id[name].zone == new.zone]
    for (a, of_a), (b, of_b) in itertools.combinations(zone, 2):
        two = max(each[Product.TWO_THIRD] for each in (of_a, of_b, mine.protection_hz))
        if min(abs(2 * a - b - carrier), abs(2 * b - a - carrier), abs(2 * carrier - a - b)) < two:
            return False
    for (a, of_a), (b, of_b), (c, of_c) in itertools.combinations(zone, 3):
        three = max(each[Product.THREE_THIRD] for each in (of_a, of_b, of_c, mine.protection_hz))
        if min(abs(a + b - c - carrier), abs(a + c - b - carrier), abs(b + c - a - carrier)) < three:
            return False
    return True


def can_place(task: Task, count: int) -> dict[str, int] | None:
    """So many carriers, found by trying everything: each at every place, or left out; none when there are none.

    Of transmitters that ask for the same, the first ones are placed, from low to high: others would be the same again.
    """

    def alike(a: Wanted, b: Wanted) -> bool:
        return (a.guard, a.low_hz, a.high_hz, a.zone) == (b.guard, b.low_hz, b.high_hz, b.zone)

    order = sorted(task.wanted, key=lambda each: (each.guard, each.low_hz, each.high_hz, each.zone))

    def go(n: int, carriers: dict[str, int]) -> dict[str, int] | None:
        if len(carriers) == count:
            return carriers
        if n == len(order) or len(carriers) + len(order) - n < count:
            return None
        each = order[n]
        low = each.low_hz
        if n and alike(each, order[n - 1]):
            low = carriers.get(order[n - 1].id, each.high_hz) + each.step_hz
        for carrier in range(low, each.high_hz + 1, each.step_hz):
            clear = all(
                carrier >= taken.high_hz + taken.guard_hz or carrier <= taken.low_hz - taken.guard_hz
                for taken in task.occupied
            )
            if clear and may_join(task, carriers, each, carrier):
                found = go(n + 1, {**carriers, each.id: carrier})
                if found is not None:
                    return found
        return go(n + 1, carriers)

    return go(0, {})


@settings(max_examples=60, deadline=None)
@given(small(), st.data())
def test_the_plain_check_is_the_checkers(task: Task, data: st.DataObject) -> None:
    carriers: dict[str, int] = {}
    for each in task.wanted:
        cells = (each.high_hz - each.low_hz) // each.step_hz
        carrier = each.low_hz + data.draw(st.integers(0, cells)) * each.step_hz
        more = {**carriers, each.id: carrier}
        clean = not {"spacing", "2A-B", "A+B-C"} & set(brute.counts(task, more))
        assert may_join(task, carriers, each, carrier) == clean
        if clean:
            carriers = more


@settings(max_examples=60, deadline=None)
@given(small())
def test_one_more_than_the_bound_is_tried_in_vain(task: Task) -> None:
    proof = bound(task)
    if proof is not None:
        assert can_place(task, proof.most + 1) is None


def test_trying_everything_finds_what_there_is() -> None:
    task = open_band(5, 11 * 50 * KHZ, guard("ruler", 50 * KHZ, 50 * KHZ, 50 * KHZ), 50 * KHZ)
    found = can_place(task, 5)
    assert found is not None
    assert brute.broken(task, found) == []
    shorter = open_band(5, 10 * 50 * KHZ, guard("ruler", 50 * KHZ, 50 * KHZ, 50 * KHZ), 50 * KHZ)
    assert can_place(shorter, 5) is None
    proof = bound(shorter)
    assert proof is not None
    assert proof.most == 4


# --- parts -----------------------------------------------------------------------------------------------------------


def test_ranges_that_are_crowded_by_themselves_are_found() -> None:
    rule = {"mic": MIC}
    low = [Wanted(f"a{n}", "mic", 470 * MHZ, 476 * MHZ, 25 * KHZ, 470 * MHZ, 200 * KHZ) for n in range(14)]
    high = [Wanted(f"b{n}", "mic", 500 * MHZ, 506 * MHZ, 25 * KHZ, 500 * MHZ, 200 * KHZ) for n in range(12)]
    wide = [Wanted(f"c{n}", "mic", 470 * MHZ, 700 * MHZ, 25 * KHZ, 470 * MHZ, 200 * KHZ) for n in range(5)]
    proof = bound(Task(rule, (*low, *high, *wide)))
    assert proof is not None
    # ten in each channel by itself; that both are of one zone makes it fewer still
    assert proof.most < 10 + 10 + 5
    assert "26 in one zone from 470 to 506 MHz cannot be" in proof.why
    other = [Wanted(**{**each.__dict__, "zone": "B"}) for each in high]
    proof = bound(Task(rule, (*low, *other, *wide)))
    assert proof is not None
    assert proof.most == 10 + 10 + 5
    assert "14 in one zone from 470 to 476 MHz cannot be: at most 10" in proof.why
    assert "12 in zone B cannot be: at most 10" in proof.why


def test_zones_are_bounded_each_by_itself() -> None:
    one = open_band(14, 6 * MHZ - 200 * KHZ)
    zoned = tuple(Wanted(**{**each.__dict__, "zone": "AB"[n % 2]}) for n, each in enumerate(one.wanted))
    assert bound(Task(one.guards, zoned)) is None
    more = Task(
        one.guards, tuple(Wanted(**{**w.__dict__, "zone": "A" if n < 12 else "B"}) for n, w in enumerate(zoned))
    )
    proof = bound(more)
    assert proof is not None
    assert proof.most == 12
    assert "in zone A" in proof.why


def test_a_receivers_window_is_bounded() -> None:
    wanted = tuple(
        Wanted(f"m{n}", "mic", 470 * MHZ, 700 * MHZ, 25 * KHZ, 470 * MHZ, 200 * KHZ, within="r1") for n in range(7)
    )
    proof = bound(Task({"mic": MIC}, wanted, windows_hz={"r1": 2_100 * KHZ}))
    assert proof is not None
    assert proof.most == 5  # 1.9 MHz for five, as in the table above
    assert "heard by r1" in proof.why


def test_fixed_ones_that_disturb_each_other_are_left_out_of_the_proof() -> None:
    fixed = [
        Wanted(
            f"f{n}", "mic", 470 * MHZ, 476 * MHZ, 25 * KHZ, 470 * MHZ, 200 * KHZ, "", 471 * MHZ + n * 400 * KHZ, True
        )
        for n in range(12)
    ]
    proof = bound(Task({"mic": MIC}, tuple(fixed)))
    assert proof is None
    free = [Wanted(f"m{n}", "mic", 470 * MHZ, 476 * MHZ, 25 * KHZ, 470 * MHZ, 200 * KHZ) for n in range(14)]
    proof = bound(Task({"mic": MIC}, (*fixed, *free)))
    assert proof is not None
    assert proof.most == 12 + 10


def test_free_stretches_keep_the_guard_and_the_width() -> None:
    wanted = Wanted("m", "mic", 470 * MHZ, 494 * MHZ, 25 * KHZ, 470 * MHZ, 200 * KHZ)
    task = Task({"mic": MIC}, (wanted,), (Occupied(478 * MHZ, 486 * MHZ, 100 * KHZ),))
    assert free_stretches(task, [wanted]) == [(470_100_000, 477_800_000), (486_200_000, 493_900_000)]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 12), st.integers(0, 3)), max_size=6),
    st.lists(st.tuples(st.integers(0, 20), st.integers(1, 30), st.integers(0, 3)), min_size=1, max_size=3),
)
def test_free_stretches_hold_just_the_places_that_are_clear(
    taken: list[tuple[int, int, int]], ranges: list[tuple[int, int, int]]
) -> None:
    occupied = tuple(Occupied(low, low + wide, guard_hz) for low, wide, guard_hz in taken)
    wanted = tuple(
        Wanted(f"m{n}", "mic", low, low + wide, 1, 0, 2 * half) for n, (low, wide, half) in enumerate(ranges)
    )
    task = Task({"mic": MIC}, wanted, occupied)
    stretches = free_stretches(task, wanted)
    assert all(a[1] < b[0] for a, b in pairwise(stretches))
    for place in range(-2, 60):
        clear = any(not {"range", "occupied"} & set(brute.counts(task, {each.id: place})) for each in wanted)
        assert clear == any(low <= place <= high for low, high in stretches)


def test_the_largest_margin_is_bounded() -> None:
    margin = largest_margin_hz(read("S1"))
    assert margin is not None
    assert 100 * KHZ <= margin <= 150 * KHZ
    assert bound(with_margin(read("S1"), 175 * KHZ)) is not None
    assert largest_margin_hz(read("S4_8")) == -1


@pytest.mark.source("exact search of the project's reference, most microphones at a margin", kind="memory")
@pytest.mark.parametrize(
    ("width", "margin", "most"),
    [
        *[(8, 0, 12), (8, 25, 10), (8, 50, 9), (8, 75, 9), (8, 100, 8), (8, 150, 7), (8, 250, 6), (8, 350, 5)],
        *[(6, 0, 10), (6, 25, 9), (6, 50, 8), (6, 75, 7), (6, 100, 7), (6, 125, 6), (6, 200, 5), (6, 375, 4)],
    ],
)
def test_the_most_at_a_margin_in_one_channel(width: int, margin: int, most: int) -> None:
    edges = width * MHZ - 200 * KHZ
    spacing, two, three = (MIC.spacing_hz, 100 * KHZ, 50 * KHZ)
    cells = [(each + margin * KHZ) // (25 * KHZ) for each in (spacing, two, three)]
    assert exact.fits(most, *cells, edges // (25 * KHZ)) is True
    assert exact.fits(most + 1, *cells, edges // (25 * KHZ)) is False
    # and the bound at once, which has little time, is never below
    assert bound(with_margin(open_band(most, edges), margin * KHZ)) is None

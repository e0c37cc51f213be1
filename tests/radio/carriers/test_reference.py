"""What is known of products and of sets without them, against our check of carriers; and every table once perturbed."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import brute
import pytest

from rollsound.radio.carriers import exact
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

DATA = Path(__file__).parents[2] / "reference" / "carriers"
THIRD = (Product.TWO_THIRD, Product.THREE_THIRD)
RADIO_HZ = 470_000_000
EVERYTHING_HZ = 10**12


def alike(count: int, forms: Sequence[Product], protection_hz: int) -> Task:
    """So many transmitters of one zone, protected from some products and not from each other's nearness."""
    rule = Guard("mic", 0, dict.fromkeys(forms, protection_hz))
    band = (0, 10**10)
    return Task({"mic": rule}, tuple(Wanted(f"t{n}", "mic", *band, 1, 0, 0) for n in range(count)))


def hits(freqs_hz: Sequence[int], forms: Sequence[Product] = THIRD) -> dict[str, int]:
    """How often a product falls exactly onto a carrier, by our check and by the independent one."""
    task = alike(len(freqs_hz), forms, 1)
    carriers = {f"t{n}": freq for n, freq in enumerate(freqs_hz)}
    ours = {limit.value: count for limit, count in audit(task, carriers).counts.items()}
    assert ours == brute.counts(task, carriers)
    return ours


# --- how many products there are ----------------------------------------------------------------------------------

AT = (2, 3, 4, 5, 6, 8, 10)
COUNTS: dict[str, tuple[int, ...]] = {
    "2A-B": (2, 6, 12, 20, 30, 56, 90),
    "A+B-C": (0, 3, 12, 30, 60, 168, 360),
    "3A-2B": (2, 6, 12, 20, 30, 56, 90),
    "3A-B-C": (0, 3, 12, 30, 60, 168, 360),
    "2A+B-2C": (0, 6, 24, 60, 120, 336, 720),
    "2A+B-C-D": (0, 0, 12, 60, 180, 840, 2520),
    "A+B+C-2D": (0, 0, 4, 20, 60, 280, 840),
    "A+B+C-D-E": (0, 0, 0, 10, 60, 560, 2520),
}
CLOSED: dict[str, Callable[[int], int]] = {
    "2A-B": lambda n: n * (n - 1),
    "A+B-C": lambda n: n * (n - 1) * (n - 2) // 2,
    "3A-2B": lambda n: n * (n - 1),
    "3A-B-C": lambda n: n * (n - 1) * (n - 2) // 2,
    "2A+B-2C": lambda n: n * (n - 1) * (n - 2),
    "2A+B-C-D": lambda n: n * (n - 1) * (n - 2) * (n - 3) // 2,
    "A+B+C-2D": lambda n: n * (n - 1) * (n - 2) * (n - 3) // 6,
    "A+B+C-D-E": lambda n: math.comb(n, 3) * math.comb(n - 3, 2) if n > 3 else 0,
}
TIMES: dict[str, tuple[int, ...]] = {
    "2A-B": (2, -1),
    "A+B-C": (1, 1, -1),
    "3A-2B": (3, -2),
    "3A-B-C": (3, -1, -1),
    "2A+B-2C": (2, 1, -2),
    "2A+B-C-D": (2, 1, -1, -1),
    "A+B+C-2D": (1, 1, 1, -2),
    "A+B+C-D-E": (1, 1, 1, -1, -1),
}
LARGER = {
    12: (132, 660, 792),
    16: (240, 1680, 1920),
    20: (380, 3420, 3800),
    24: (552, 6072, 6624),
    30: (870, 12180, 13050),
}
"""By carriers: products 2A-B, products A+B-C, both."""


def by_listing(form: str, count: int) -> int:
    """Every choice of different sources for the form, those that only swap sources counted as often as others once."""
    times = TIMES[form]
    return len({frozenset(zip(who, times, strict=True)) for who in itertools.permutations(range(count), len(times))})


def by_audit(form: str, count: int) -> int:
    """With protection without end every product is too near to every carrier but its own sources."""
    task = alike(count, [Product(form)], EVERYTHING_HZ)
    carriers = {f"t{n}": RADIO_HZ + n * n * 1_000_000 for n in range(count)}
    found = {limit.value: number for limit, number in audit(task, carriers).counts.items()}
    sources = len(TIMES[form])
    assert found.get(form, 0) % max(count - sources, 1) == 0
    return found.get(form, 0) // (count - sources)


def wrong_counts(table: dict[str, tuple[int, ...]]) -> list[tuple[str, int]]:
    """Places of the table that listing, the closed form or our check says otherwise."""
    bad = []
    for form, row in table.items():
        for count, known in zip(AT, row, strict=True):
            said = {CLOSED[form](count)}
            if math.perm(count, len(TIMES[form])) <= 60_000:
                said.add(by_listing(form, count))
            # a product needs a carrier that is none of its sources to be seen
            if form in {product.value for product in Product} and count > len(TIMES[form]):
                said.add(by_audit(form, count))
            if said != {known}:
                bad.append((form, count))
    return bad


@pytest.mark.source(
    "closed forms N(N-1) and N(N-1)(N-2)/2 of third-order products, tutorials of the field", kind="published"
)
def test_how_many_products_there_are() -> None:
    assert wrong_counts(COUNTS) == []


def test_a_perturbed_count_is_noticed() -> None:
    for form, row in COUNTS.items():
        assert wrong_counts({form: (*row[:-1], row[-1] + 1)}) == [(form, 10)]


def wrong_larger(table: dict[int, tuple[int, int, int]]) -> list[int]:
    """Rows that our check or the closed forms say otherwise."""
    return [
        count
        for count, (two, three, both) in table.items()
        if (by_audit("2A-B", count), CLOSED["2A-B"](count)) != (two, two)
        or (by_audit("A+B-C", count) if count <= 20 else three, CLOSED["A+B-C"](count)) != (three, three)
        or (two + three, count * count * (count - 1) // 2) != (both, both)
    ]


@pytest.mark.source("closed forms of third-order products, for 12 to 30 carriers", kind="published")
def test_how_many_products_larger_plans_have() -> None:
    assert wrong_larger(LARGER) == []
    # a tutorial prints 12 and 30 for three and four carriers beside the right formula
    assert [sum(COUNTS[form][n] for form in ("2A-B", "A+B-C")) for n in (1, 2)] == [9, 24]


def test_a_perturbed_larger_count_is_noticed() -> None:
    assert wrong_larger({**LARGER, 16: (240, 1681, 1921)}) == [16]
    assert wrong_larger({**LARGER, 30: (870, 12180, 13051)}) == [30]


# --- carrier sets ---------------------------------------------------------------------------------------------------

MHZ = 1_000_000
Row = tuple[tuple[float, ...], int, int, float]
SETS: dict[str, Row] = {
    # carriers in MHz; products of the third order; those exactly on a carrier; the nearest product to another in MHz
    "even steps of 0.4": ((500.0, 500.4, 500.8), 9, 3, 0.0),
    "no hit of two, four of three": ((600.0, 600.5, 601.3, 601.8), 24, 4, 0.0),
    "even steps of 1": ((500, 501, 502, 503), 24, 10, 0.0),
    "order 8 ruler of 0.2": ((470.2, 470.4, 471.0, 472.0, 473.2, 474.6, 476.6, 477.0), 224, 0, 0.2),
    "order 6 ruler of 0.4": ((606.5, 606.9, 608.1, 610.5, 611.3, 613.3), 90, 0, 0.4),
}


def hertz(freqs_mhz: Sequence[float]) -> list[int]:
    """Whole hertz."""
    return [round(freq * MHZ) for freq in freqs_mhz]


def third_order(freqs: Sequence[int]) -> list[tuple[int, bool]]:
    """Every product of the third order, and whether it falls onto one of its own sources."""
    two = [(2 * a - b, False) for a, b in itertools.permutations(freqs, 2)]
    three = [(a + b - c, a + b - c == c) for a, b in itertools.combinations(freqs, 2) for c in freqs if c not in (a, b)]
    return two + three


def wrong_sets(table: dict[str, Row]) -> list[str]:
    """Sets that a plain listing or our check says otherwise of.

    Where A+B-C falls onto C itself, 2C-A falls onto B: our check counts that, and a product never against its sources.
    """
    bad = []
    for name, (freqs_mhz, products, exact_hits, nearest) in table.items():
        freqs = hertz(freqs_mhz)
        listed = third_order(freqs)
        on_carrier = [own for freq, own in listed if freq in freqs]
        task = alike(len(freqs), THIRD, EVERYTHING_HZ)
        away = min(hold.distance_hz for hold in audit(task, {f"t{n}": freq for n, freq in enumerate(freqs)}).broken)
        good = (len(listed), len(on_carrier)) == (products, exact_hits)
        good &= sum(hits(freqs).values()) == exact_hits - sum(on_carrier)
        if not good or away != round(nearest * MHZ):
            bad.append(name)
    return bad


@pytest.mark.source("carrier sets worked out apart from the code, with the traps of rough checkers", kind="practice")
def test_known_sets_of_carriers() -> None:
    assert wrong_sets(SETS) == []


def test_a_perturbed_set_is_noticed() -> None:
    for name, (freqs, products, exact_hits, nearest) in SETS.items():
        assert wrong_sets({name: ((*freqs[:-1], freqs[-1] + 0.1), products, exact_hits, nearest)}) == [name]
        assert wrong_sets({name: (freqs, products + 1, exact_hits, nearest)}) == [name]
        assert wrong_sets({name: (freqs, products, exact_hits, nearest + 0.025)}) == [name]


@pytest.mark.source("475.3 x 3 - 477.7 x 2 = 470.5: arithmetic", kind="practice")
def test_a_set_without_third_order_hits_may_have_one_of_the_fifth() -> None:
    freqs = hertz((470.5, 471.7, 475.3, 477.7))
    assert hits(freqs) == {}
    assert hits(freqs, [Product.TWO_FIFTH]) == {"3A-2B": 1}
    task = alike(4, [Product.TWO_FIFTH], 1)
    (hold,) = audit(task, {f"t{n}": freq for n, freq in enumerate(freqs)}).broken
    assert (hold.hit, hold.sources, hold.at_hz) == ("t0", ("t2", "t3"), 470_500_000)
    assert hits(hertz((470.6, 471.7, 475.3, 477.7)), [Product.TWO_FIFTH]) == {}


def test_the_hits_are_named() -> None:
    task = alike(3, THIRD, 1)
    broken = audit(task, {f"t{n}": freq for n, freq in enumerate(hertz((500.0, 500.4, 500.8)))}).broken
    assert {(hold.limit.value, hold.hit, hold.sources) for hold in broken} == {
        ("2A-B", "t2", ("t1", "t0")),
        ("2A-B", "t0", ("t1", "t2")),
    }


def test_whole_hertz_miss_nothing_that_floats_miss() -> None:
    low, middle, high = 470.1, 470.2, 470.3
    assert 2 * middle - low != high  # in floating point
    assert hits(hertz((low, middle, high))) == {"2A-B": 2}


# --- rulers and other sets without hits -----------------------------------------------------------------------------

Ruler = tuple[int, int, tuple[int, ...], str]


def rulers() -> list[Ruler]:
    """Order, length, marks, and where the marks come from."""
    with (DATA / "rulers.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.reader(file) if not row[0].startswith("#")]
    return [(int(o), int(length), tuple(map(int, marks.split())), status) for o, length, marks, status in rows]


LENGTHS = (
    *(0, 1, 3, 6, 11, 17, 25, 34, 44, 55, 72, 85, 106, 127, 151, 177, 199, 216, 246, 283, 333, 356, 372, 425),
    *(480, 492, 553, 585),
)


def wrong_rulers(table: Sequence[Ruler]) -> list[int]:
    """Orders whose marks are too few, too long, or have a hit at a raster of 200 kHz."""
    bad = []
    for order, length, marks, _ in table:
        differences = [b - a for a, b in itertools.combinations(marks, 2)]
        good = len(marks) == order and marks[0] == 0 and marks[-1] == length == LENGTHS[order - 1]
        good &= len(set(differences)) == len(differences)
        if not good or hits([RADIO_HZ + 200_000 * mark for mark in marks]) != {}:
            bad.append(order)
    return bad


@pytest.mark.source(
    "OEIS A003022 (lengths); A079607, A079608, A079467, A106682 (marks of 16, 20, 21, 24)", kind="published"
)
def test_the_published_rulers_have_no_hit() -> None:
    published = [row for row in rulers() if row[3] == "published"]
    assert [row[0] for row in published] == [16, 20, 21, 24]
    assert wrong_rulers(published) == []


@pytest.mark.source("marks of the optimal Golomb rulers of orders 1 to 28 but 16, 20, 21 and 24", kind="memory")
def test_the_remembered_rulers_have_no_hit() -> None:
    remembered = [row for row in rulers() if row[3] == "memory"]
    assert {row[0] for row in rulers()} == set(range(1, 29))
    assert wrong_rulers(remembered) == []


def test_a_perturbed_ruler_is_noticed() -> None:
    for order, length, marks, status in rulers():
        if order < 4:
            continue
        assert wrong_rulers([(order, length, marks[:-1], status)]) == [order]
        # a mark moved onto the sum of two differences makes a hit
        moved = sorted({*marks} - {marks[1]} | {2 * marks[2] - marks[3] if 2 * marks[2] > marks[3] else marks[2] + 1})
        assert wrong_rulers([(order, length, (*moved[:-1], length + 1), status)]) == [order]
        assert hits([RADIO_HZ + 200_000 * mark for mark in (*marks, 2 * marks[-1] - marks[1])]) != {}


@pytest.mark.source("OEIS A003022, orders 3 to 9 by exhaustive search here", kind="published")
def test_no_shorter_ruler_exists() -> None:
    for order in range(3, 10):
        assert exact.fits(order, 1, 1, 1, LENGTHS[order - 1]) is True
        assert exact.fits(order, 1, 1, 1, LENGTHS[order - 1] - 1) is False


TABLES = {
    # operating channels: the channels taken, of so many in a row
    3: (1, 2, 4),
    4: (1, 2, 5, 7),
    5: (1, 2, 5, 10, 12),
    6: (1, 2, 5, 11, 13, 18),
    7: (1, 2, 5, 11, 19, 24, 26),
    8: (1, 2, 5, 10, 16, 23, 33, 35),
    9: (1, 2, 6, 13, 26, 28, 36, 42, 45),
    10: (1, 2, 8, 12, 27, 40, 48, 57, 60, 62),
}


def wrong_tables(table: dict[int, tuple[int, ...]]) -> list[int]:
    """Rows with a hit, or longer than the optimum, but the last, which is known to be."""
    return [
        count
        for count, channels in table.items()
        if len(channels) != count
        or hits([RADIO_HZ + 50_000 * channel for channel in channels]) != {}
        or channels[-1] != (62 if count == 10 else LENGTHS[count - 1] + 1)
    ]


@pytest.mark.source(
    "W. C. Babcock, Bell System Technical Journal, January 1953, channel tables as remembered", kind="memory"
)
def test_the_first_channel_tables_have_no_hit() -> None:
    assert wrong_tables(TABLES) == []


def test_a_perturbed_channel_table_is_noticed() -> None:
    assert wrong_tables({**TABLES, 5: (1, 2, 5, 9, 12)}) == [5]
    assert wrong_tables({**TABLES, 10: (1, 2, 8, 12, 27, 40, 48, 57, 60, 63)}) == [10]


NO_THREE = (1, 3, 4, 8, 10, 12, 13, 19, 23, 25, 29)
"""Least spans of 2 to 12 marks without three in arithmetic progression."""


def wrong_spans(table: Sequence[int]) -> list[int]:
    """Marks whose least span our exact search says otherwise; it looks for sets that 2A-B spares, of cells of 1."""
    return [
        marks
        for marks, span in enumerate(table, start=2)
        if not exact.fits(marks, 1, 1, 0, span) or exact.fits(marks, 1, 1, 0, span - 1) is not False
    ]


@pytest.mark.source("OEIS A065825 less 1, checked by exhaustive search", kind="memory")
def test_sets_that_only_products_of_two_spare() -> None:
    assert wrong_spans(NO_THREE) == []
    # such a set may still be full of A+B-C
    assert hits([RADIO_HZ + 100_000 * mark for mark in (0, 1, 3, 4)]) == {"A+B-C": 4}


def test_a_perturbed_span_is_noticed() -> None:
    assert wrong_spans((*NO_THREE[:4], 11, *NO_THREE[5:])) == [6]
    assert wrong_spans((*NO_THREE[:4], 9, *NO_THREE[5:])) == [6]


B3 = {3: (0, 1, 4), 4: (0, 1, 7, 11), 5: (0, 1, 15, 18, 23), 6: (0, 2, 11, 26, 42, 45)}


def all_sums_of_three(marks: Sequence[int]) -> list[int]:
    """Every sum of three marks, a mark as often as one likes."""
    return [sum(three) for three in itertools.combinations_with_replacement(marks, 3)]


def wrong_b3(table: dict[int, tuple[int, ...]]) -> list[int]:
    """Sets of which a sum of three comes twice, that a product of third or fifth order hits, or that are too long."""
    spans = {3: 4, 4: 11, 5: 23, 6: 45}
    return [
        count
        for count, marks in table.items()
        if len(set(all_sums_of_three(marks))) != len(all_sums_of_three(marks))
        or hits([RADIO_HZ + 25_000 * mark for mark in marks], list(Product)) != {}
        or (len(marks), marks[-1]) != (count, spans[count])
    ]


@pytest.mark.source(
    "sets whose sums of three are distinct (B3), least spans 4, 11, 23, 45 by exhaustive search", kind="practice"
)
def test_sets_that_all_products_to_the_fifth_order_spare() -> None:
    assert wrong_b3(B3) == []


def test_a_perturbed_b3_set_is_noticed() -> None:
    for count, marks in B3.items():
        assert wrong_b3({count: (marks[0], marks[1] + 1, *marks[2:])}) == [count]
    # a ruler is no B3 set: products of the fifth order hit it
    assert hits([RADIO_HZ + 25_000 * mark for mark in (0, 1, 4, 9, 11)], list(Product)) != {}


@pytest.mark.parametrize(("count", "span"), [(3, 4), (4, 11), (5, 23)])
def test_no_shorter_b3_set_exists(count: int, span: int) -> None:
    def sets(length: int) -> Iterator[tuple[int, ...]]:
        for middle in itertools.combinations(range(1, length), count - 2):
            yield (0, *middle, length)

    def spared(marks: tuple[int, ...]) -> bool:
        sums = all_sums_of_three(marks)
        return len(set(sums)) == len(sums)

    assert any(spared(marks) for marks in sets(span))
    assert not any(spared(marks) for length in range(count - 1, span) for marks in sets(length))

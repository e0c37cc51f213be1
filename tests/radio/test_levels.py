"""Levels of products: the handbook's vectors, the curve itself worked through, and what is told of each."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.radio.carriers.task import Product, Task, Wanted
from rollsound.radio.levels import (
    CONVERSION_DB,
    SHAPES,
    Chain,
    ProductLevel,
    channel_share_db,
    product_dbm,
    product_levels,
)

MHZ = 1_000_000


@pytest.mark.source("receiver intermodulation, equal tones: 3·P − 2·IIP3; triple beat 6 dB over it", kind="published")
def test_equal_tones() -> None:
    assert product_dbm((2, -1), (-30.0, -30.0), 0.0) == pytest.approx(-90.0, abs=1e-9)
    assert product_dbm((1, 1, -1), (-30.0, -30.0, -30.0), 0.0) == pytest.approx(-83.98, abs=0.005)


@pytest.mark.source("cubic transfer curve, written out for unequal tones: 2·PA + PB − 2·IIP3", kind="memory")
def test_unequal_tones() -> None:
    assert product_dbm((2, -1), (-30.0, -50.0), -10.0) == pytest.approx(2 * -30 - 50 + 20)
    assert product_dbm((1, 1, -1), (-30.0, -40.0, -50.0), -10.0) == pytest.approx(-120 + 20 + 6.0206, abs=1e-4)


@pytest.mark.source("slope of third order: 3 dB per dB; a dB of loss in front takes 3 from products", kind="published")
def test_a_decibel_of_loss_in_front_takes_three_from_the_product() -> None:
    before = product_dbm((2, -1), (-30.0, -35.0), 0.0)
    assert product_dbm((2, -1), (-31.0, -36.0), 0.0) == pytest.approx(before - 3)
    fifth = product_dbm((3, -2), (-30.0, -35.0), 0.0)
    assert product_dbm((3, -2), (-31.0, -36.0), 0.0) == pytest.approx(fifth - 5)


@pytest.mark.parametrize("form", list(Product))
@pytest.mark.parametrize("levels", [(-20.0, -20.0, -20.0), (-22.0, -15.0, -31.0)])
def test_a_curve_worked_through_makes_the_same_level(form: Product, levels: tuple[float, ...]) -> None:
    """Tones through y = x + c·xᵏ, the product read off the spectrum: no formula of ours in it."""
    shape = SHAPES[form]
    order = sum(abs(n) for n in shape)
    size = 1 << 14
    bins = (1001, 1361, 1913)[: len(shape)]
    t = np.arange(size) * 2 * np.pi / size
    amplitudes = [math.sqrt(2 * 10 ** (level / 10)) for level in levels[: len(shape)]]
    x = sum(a * np.cos(b * t) for a, b in zip(amplitudes, bins, strict=True))
    c = 1e-3
    at = abs(sum(n * b for n, b in zip(shape, bins, strict=True)))
    product = np.abs(np.fft.rfft(c * x**order))[at] * 2 / size
    # where two equal tones would make their simplest product as strong as themselves
    base = math.comb(order, (order + 1) // 2) * c / 2 ** (order - 1)
    intercept_dbm = 10 * math.log10(base ** (-2 / (order - 1)) / 2)
    expected = 10 * math.log10(product**2 / 2)
    assert product_dbm(shape, levels[: len(shape)], intercept_dbm) == pytest.approx(expected, abs=1e-6)


def test_a_wide_product_falls_into_a_channel_in_part() -> None:
    shares = [channel_share_db(d * 1e3, (2, -1), 200e3, 200e3) for d in (0, 100, 200, 300, 2000)]
    assert shares == pytest.approx([-1.25, -3.10, -9.05, -19.74, -60.0], abs=0.01)
    assert channel_share_db(0, (3, -2), 200e3, 200e3) < shares[0]
    assert channel_share_db(-100e3, (2, -1), 200e3, 200e3) == pytest.approx(shares[1])
    assert channel_share_db(0, (2, -1), 0, 200e3) == 0.0


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 1e6), st.floats(1e3, 5e5), st.floats(2e4, 1e6))
def test_channels_beside_each_other_share_all_of_a_product(offset: float, width: float, channel: float) -> None:
    spread = 4 * width + channel  # nine standard deviations
    places = np.arange(-math.ceil(spread / channel), math.ceil(spread / channel) + 1) * channel + offset % channel
    power = sum(10 ** (channel_share_db(at, (2, -1), width, channel, 200.0) / 10) for at in places)
    assert power == pytest.approx(1.0, abs=1e-6)


def wanted(carriers: dict[str, int], zones: dict[str, str] | None = None) -> Task:
    return Task(
        {}, tuple(Wanted(n, "g", 0, 10**9, 25_000, 0, 200_000, zone=(zones or {}).get(n, "")) for n in carriers)
    )


def chain(levels: dict[str, float], **more: float) -> Chain:
    return Chain("rack", tuple(levels), levels, **{"intercept_dbm": 0.0, "noise_dbm": -112.0, **more})


FOUR = {"a": 600 * MHZ, "b": 600 * MHZ + 500_000, "c": 601 * MHZ + 300_000, "d": 601 * MHZ + 800_000}


@pytest.mark.source("600.0, 600.5, 601.3, 601.8 MHz: four hits, all A+B−C, none 2A−B; computed", kind="memory")
def test_a_set_that_only_products_of_three_hit() -> None:
    found = product_levels(wanted(FOUR), FOUR, [chain(dict.fromkeys(FOUR, -40.0))])
    exact = [each for each in found if each.distance_hz == 0]
    assert {(each.product, each.hit) for each in exact} == {(Product.THREE_THIRD, name) for name in FOUR}
    assert all(set(each.sources) == set(FOUR) - {each.hit} for each in exact)
    whole = 3 * -40 + 6.0206
    assert exact[0].level_dbm == pytest.approx(whole + channel_share_db(0, (1, 1, -1), 200e3, 200e3), abs=1e-3)
    assert found[0].distance_hz == 0


CARRIERS = st.lists(st.integers(0, 60), min_size=2, max_size=6, unique=True)


@settings(max_examples=60, deadline=None)
@given(CARRIERS, st.lists(st.integers(-80, -20), min_size=6, max_size=6), st.sampled_from(list(Product)))
def test_every_product_near_a_carrier_is_found(steps: list[int], levels: list[int], form: Product) -> None:
    carriers = {f"t{n}": 600 * MHZ + 50_000 * step for n, step in enumerate(steps)}
    heard = {name: float(level) for name, level in zip(carriers, levels, strict=False)}
    found = product_levels(wanted(carriers), carriers, [chain(heard)], forms=[form], most=10**6)
    told = {(each.hit, each.sources): each.at_hz for each in found if each.distance_hz <= 100_000}
    expected: dict[tuple[str, tuple[str, ...]], int] = {}
    shape = SHAPES[form]
    for sources in itertools.permutations(carriers, len(shape)):
        if any(
            shape[i] == shape[j] and sources[i] > sources[j] for i, j in itertools.combinations(range(len(shape)), 2)
        ):
            continue
        at = sum(n * carriers[name] for n, name in zip(shape, sources, strict=True))
        for hit in set(carriers) - set(sources):
            if abs(at - carriers[hit]) <= 100_000:
                expected[hit, sources] = at
    assert told == expected


def test_zones_make_no_products_with_each_other() -> None:
    levels = chain(dict.fromkeys(FOUR, -20.0))
    assert product_levels(wanted(FOUR), FOUR, [levels])
    apart = wanted(FOUR, {"a": "A", "b": "A", "c": "B", "d": "B"})
    assert product_levels(apart, FOUR, [levels]) == ()


def test_a_receiver_is_told_only_of_what_it_hears() -> None:
    one = Chain("belt", ("c",), dict.fromkeys(FOUR, -40.0), 0.0, -112.0)
    assert {each.hit for each in product_levels(wanted(FOUR), FOUR, [one])} == {"c"}
    deaf = Chain("belt", ("c",), {"c": -40.0}, 0.0, -112.0)
    assert product_levels(wanted(FOUR), FOUR, [deaf]) == ()


def product(level: float, noise: float = -112.0, hears: float = -60.0) -> ProductLevel:
    return ProductLevel("rack", "a", Product.TWO_THIRD, ("b", "c"), 600 * MHZ, 0, level, noise, hears, 22.0)


def test_the_verdict_tells_the_harmless_from_the_heard() -> None:
    assert product(-152.0).verdict == "40 dB under the noise"
    assert not product(-152.0).heard
    assert product(-90.0, hears=-80.0).verdict == "will be heard: 22 dB over the noise, 10 dB under the wanted"
    assert product(-90.0, hears=-95.0).verdict.endswith("5 dB over the wanted")
    spared = product(-100.0, hears=-60.0)
    assert not spared.heard
    assert spared.verdict == "12 dB over the noise; will be heard when the wanted falls by 18 dB"


def test_the_worst_comes_first_and_no_more_than_asked() -> None:
    levels = {"a": -30.0, "b": -50.0, "c": -30.0, "d": -60.0}
    found = product_levels(wanted(FOUR), FOUR, [chain(levels)], most=3)
    assert len(found) == 3
    every = product_levels(wanted(FOUR), FOUR, [chain(levels)])
    harm = [each.over_noise_db - max(each.under_wanted_db - each.needed_db, 0.0) for each in every]
    assert harm == sorted(harm, reverse=True)
    assert found == every[:3]


def test_two_transmitters_close_together_make_products_of_their_own() -> None:
    carriers = {"a": 600 * MHZ, "b": 600 * MHZ + 400_000, "c": 600 * MHZ - 400_000}
    levels = chain({"a": -60.0, "b": -60.0, "c": -95.0})
    alone = product_levels(wanted(carriers), carriers, [levels])
    close = product_levels(
        wanted(carriers),
        carriers,
        [levels],
        coupling_db={frozenset(("a", "b")): 30.0},
        powers_dbm={"a": 17.0, "b": 14.0, "c": 17.0},
    )
    at_c = next(each for each in close if each.hit == "c" and each.sources == ("a", "b"))
    share = channel_share_db(0, (2, -1), 200e3, 200e3)
    assert at_c.formed_in == "a"
    assert at_c.level_dbm == pytest.approx(-60.0 - 3.0 - 30.0 - CONVERSION_DB + share)
    assert at_c.heard != next(each for each in alone if each.hit == "c" and each.sources == ("a", "b")).heard


def test_the_fifth_order_has_an_intercept_of_its_own() -> None:
    carriers = {"a": 600 * MHZ, "b": 600 * MHZ + 400_000, "c": 600 * MHZ - 800_000}
    near = Chain("rack", ("c",), dict.fromkeys(carriers, -20.0), 0.0, -112.0, fifth_intercept_dbm=5.0)
    (found,) = product_levels(wanted(carriers), carriers, [near], forms=[Product.TWO_FIFTH])
    assert found.level_dbm == pytest.approx(5 * -20 - 4 * 5 + channel_share_db(0, (3, -2), 200e3, 200e3))

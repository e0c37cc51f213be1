"""Cascades of amplifiers, cables and receivers; levels of products; noise and sensitivity."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import erfc
from vectors import PRINTED_2, goes_red, missed

from rollsound.errors import InputError
from rollsound.radio.cascade import (
    THREE_OVER_TWO_DB,
    Stage,
    carrier_to_noise_db,
    fm_width_hz,
    gain_db,
    intercept_dbm,
    noise_figure_db,
    passive,
    sensitivity_dbm,
    thermal_noise_dbm,
    three_product_dbm,
    two_product_dbm,
)

CABLE = passive("cable", 4.0)
LNA = Stage("amplifier at the antenna", 12.0, 2.0, 10.0)
RECEIVER = Stage("receiver", 0.0, 8.0, -5.0)
SPLITTER = passive("splitter, four ways", 7.0)


@pytest.mark.source(
    "receiver products by intercept point: 3P - 2 IIP3 (rfessentials.com), unequal levels from the cubic",
    kind="published",
)
def test_levels_of_products() -> None:
    assert two_product_dbm(-30.0, -30.0, 0.0) == pytest.approx(-90.0, abs=PRINTED_2)
    assert three_product_dbm(-30.0, -30.0, -30.0, 0.0) == pytest.approx(-83.98, abs=PRINTED_2)
    assert two_product_dbm(-30.0, -40.0, 0.0) == pytest.approx(-100.0)
    assert two_product_dbm(-40.0, -30.0, 0.0) == pytest.approx(-110.0)


@pytest.mark.source("microwavejournal.com 3377: triple beats are 6 dB over two-tone products", kind="published")
def test_three_signals_make_six_decibels_more() -> None:
    assert pytest.approx(6.02, abs=PRINTED_2) == THREE_OVER_TWO_DB
    # not the 3.5 dB that a web tutorial prints
    assert abs(THREE_OVER_TWO_DB - 3.5) > 2


def test_products_of_a_cubic_have_these_levels() -> None:
    """A cubic law run on real tones, and its spectrum read."""
    count, third = 4096, 1e-3
    time = np.arange(count) / count
    bins, amplitudes = (400, 421, 459), (1.0, 0.7, 0.5)
    sound = sum(a * np.cos(2 * np.pi * b * time) for a, b in zip(amplitudes, bins, strict=True))
    spectrum = 2 * np.abs(np.fft.rfft(sound + third * sound**3)) / count

    # levels in dB of amplitude; IIP3 of y = x + k x³ is where 3/4·k·A² = 1
    def level(number: int) -> float:
        return 20 * math.log10(spectrum[number])

    powers = [20 * math.log10(a) for a in amplitudes]
    intercept = 20 * math.log10(math.sqrt(4 / (3 * third)))
    a, b, c = bins
    assert level(2 * a - b) == pytest.approx(two_product_dbm(powers[0], powers[1], intercept), abs=0.01)
    assert level(2 * b - a) == pytest.approx(two_product_dbm(powers[1], powers[0], intercept), abs=0.01)
    assert level(a + b - c) == pytest.approx(three_product_dbm(*powers, intercept), abs=0.01)


def test_attenuation_ahead_gains_twice_itself() -> None:
    with_pad = [Stage("pad", -6.0, 6.0), RECEIVER]
    assert intercept_dbm(with_pad) == pytest.approx(intercept_dbm([RECEIVER]) + 6)
    without = two_product_dbm(-30.0, -30.0, intercept_dbm([RECEIVER]))
    padded = two_product_dbm(-30.0, -30.0, intercept_dbm(with_pad))
    # at the antenna: products fall by 12 dB against the carrier, at the receiver by 18 with it down 6
    assert without - padded == pytest.approx(12)


@pytest.mark.source("ITU-R SM.1134: K2,1 and K1,1,1 as remembered; consistent with 2 IIP3", kind="memory")
def test_constants_of_the_recommendation_on_land_mobile() -> None:
    intercept = 3.0
    k21 = 2 * intercept
    k111 = k21 - THREE_OVER_TWO_DB
    assert two_product_dbm(-20.0, -25.0, intercept) == pytest.approx(2 * -20.0 + -25.0 - k21)
    assert three_product_dbm(-20.0, -25.0, -30.0, intercept) == pytest.approx(-75.0 - k111)


@pytest.mark.source("cascade of intercept points, power form; computed", kind="memory")
def test_intercept_of_a_cascade() -> None:
    assert intercept_dbm([LNA, CABLE, RECEIVER]) == pytest.approx(-13.02, abs=PRINTED_2)
    assert intercept_dbm([CABLE, RECEIVER]) == pytest.approx(-1.00, abs=PRINTED_2)
    assert intercept_dbm([CABLE, SPLITTER]) == math.inf


FRIIS = {
    (CABLE, RECEIVER): 12.000,
    (LNA, CABLE, RECEIVER): 4.017,
    (CABLE, LNA, RECEIVER): 6.833,
    (LNA, CABLE, SPLITTER, RECEIVER): 8.152,
}


@pytest.mark.source("Friis 1944; computed", kind="memory")
def test_noise_figure_of_a_cascade() -> None:
    def figure(*stages: Stage) -> float:
        return noise_figure_db(stages)

    assert missed(FRIIS, figure, 0.0006) == []
    assert goes_red(FRIIS, figure, 0.0006)
    assert gain_db([LNA, CABLE, SPLITTER]) == pytest.approx(1.0)


def as_two_port(stage: Stage) -> skrf.Network:
    """A stage as a matched two-port with its noise."""
    frequency = skrf.Frequency(600, 600, 1, "MHz")
    s21 = 10 ** (stage.gain_db / 20)
    passive_stage = math.isclose(stage.gain_db, -stage.noise_figure_db)
    s = np.array([[[0, s21 if passive_stage else 0], [s21, 0]]], complex)
    network = skrf.Network(frequency=frequency, s=s, z0=50)
    network.set_noise_a(frequency, nfmin_db=stage.noise_figure_db, gamma_opt=0, rn=1e-9)
    return network


@pytest.mark.source("scikit-rf: noise figure of matched two-ports connected", kind="library")
@pytest.mark.parametrize("stages", list(FRIIS), ids=lambda stages: "-".join(s.name.split()[0] for s in stages))
def test_noise_figure_as_a_network_library_has_it(stages: tuple[Stage, ...]) -> None:
    # a receiver of 0 dB gain would be taken for a piece of wire
    live = [Stage(s.name, 20.0, s.noise_figure_db) if s is RECEIVER else s for s in stages]
    network = as_two_port(live[0])
    for stage in live[1:]:
        network = network ** as_two_port(stage)
    assert 10 * math.log10(float(network.nf(50)[0].real)) == pytest.approx(noise_figure_db(stages), abs=1e-3)


@pytest.mark.source("k T0 at 290 K = -173.975 dBm/Hz; computed", kind="published")
def test_thermal_noise() -> None:
    assert thermal_noise_dbm(1.0) == pytest.approx(10 * math.log10(1.380649e-23 * 290 * 1e3), abs=0.001)
    assert thermal_noise_dbm(200e3) == pytest.approx(-120.965, abs=0.001)
    assert thermal_noise_dbm(200e3, 8.0) == pytest.approx(-112.96, abs=0.0051)


@pytest.mark.source("FM threshold 10 to 12 dB, 20 to 25 dB for companded sound: planning values", kind="memory")
def test_sensitivity() -> None:
    assert sensitivity_dbm(200e3, 8.0, 12.0) == pytest.approx(-101, abs=0.1)
    assert sensitivity_dbm(200e3, 8.0, 22.0) == pytest.approx(-91, abs=0.1)


@pytest.mark.source("Carson's rule; computed", kind="published")
def test_width_of_frequency_modulation() -> None:
    assert fm_width_hz(50e3, 15e3) == 130e3
    assert fm_width_hz(75e3, 15e3) == 180e3


@pytest.mark.source(
    "Eb/N0 for a bit error rate of 1e-5 without coding: QPSK 9.59, 16-QAM 13.43, 64-QAM 17.79 dB", kind="published"
)
def test_energy_of_a_bit_and_carrier_over_noise() -> None:
    for bits, expected in ((2, 9.59), (4, 13.43), (6, 17.79)):
        levels = 2 ** (bits // 2)
        ratio = 10 ** (expected / 10)
        # Gray-coded square constellation: nearest neighbours only
        argument = math.sqrt(3 * bits * ratio / (2**bits - 1))
        rate = 4 / bits * (1 - 1 / levels) * 0.5 * float(erfc(argument / math.sqrt(2)))
        # 0.005 dB of rounding moves the rate by up to 3 %
        assert rate == pytest.approx(1e-5, rel=0.03)
        assert carrier_to_noise_db(expected, bits * 100e3, 100e3) == pytest.approx(expected + 10 * math.log10(bits))


@pytest.mark.source("illustrative budgets at 600 MHz, 50 m: -59.8 and -73.0 dBm; computed", kind="published")
def test_two_budgets_by_hand() -> None:
    from rollsound.radio.pathloss import free_space_db
    from rollsound.radio.units import dbm_of_mw

    sent = dbm_of_mw(50.0) - 15.0 - free_space_db(50, 600e6)
    assert sent + 2.15 - 2.0 == pytest.approx(-59.8, abs=0.051)
    assert sent - 15.0 + 6.0 - 4.0 == pytest.approx(-73.0, abs=0.051)
    assert sent + 2.15 - 2.0 - sensitivity_dbm(200e3, 8.0, 22.0) == pytest.approx(31, abs=0.5)


STAGES = st.builds(
    Stage, st.just("stage"), st.floats(-15, 25), st.floats(0, 15), st.one_of(st.just(math.inf), st.floats(-20, 40))
)


@settings(max_examples=60, deadline=None)
@given(st.lists(STAGES, min_size=1, max_size=5))
def test_cascades_fold(stages: list[Stage]) -> None:
    """Any two neighbours taken as one stage change nothing."""
    for at, (first, second) in enumerate(itertools.pairwise(stages)):
        pair = [first, second]
        one = Stage("both", gain_db(pair), noise_figure_db(pair), intercept_dbm(pair))
        folded = [*stages[:at], one, *stages[at + 2 :]]
        assert noise_figure_db(folded) == pytest.approx(noise_figure_db(stages), abs=1e-6)
        assert intercept_dbm(folded) == pytest.approx(intercept_dbm(stages), abs=1e-6)
        assert gain_db(folded) == pytest.approx(gain_db(stages), abs=1e-9)


def test_nothing_in_between_is_refused() -> None:
    for formula in (noise_figure_db, intercept_dbm):
        with pytest.raises(InputError, match="nothing stands between"):
            formula([])
    with pytest.raises(InputError, match="a width is 0"):
        thermal_noise_dbm(0.0)

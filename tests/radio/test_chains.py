"""What arrives at a receiver: budget term by term, intercept and noise of all stages, strong neighbours."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from radio_parts import pack, part

from rollsound.radio import cascade
from rollsound.radio.chains import NEAREST_M, USUAL_DISTANCE_M, chains
from rollsound.radio.desense import loss_of_gain_db, neighbour, neighbours, strongest_dbm
from rollsound.radio.levels import OUT_OF_RANGE_DB, product_dbm

MHZ = 1_000_000
RECEIVER = {"id": "rack", "name": "Rack", "hears": ["p1"]}
ANTENNA = {"id": "a1", "at": "0, 0 m", "height": "1.2 m", "cable_length": "0 m", "connectors": 0, "model": "isotropic"}


def ground(**more: Any) -> dict[str, Any]:
    area = {"id": "floor", "outline": "9, -1; 11, -1; 11, 1; 9, 1 m"}
    return {
        "id": "deck",
        "width": "60 m",
        "depth": "30 m",
        "antennas": [ANTENNA],
        "areas": [area],
        "noise": "none",
        **more,
    }


CARRIERS = {"p1": 500 * MHZ, "p2": 510 * MHZ}


@pytest.mark.source("free space 46.43 dB at 500 MHz and 10 m; 25 mW 13.98 dBm; body 16 dB", kind="published")
def test_a_level_term_by_term() -> None:
    radio = part(pack(), receivers=[RECEIVER], grounds=[ground()])
    (found,) = chains(radio, CARRIERS)
    assert found.levels_dbm["p1"] == pytest.approx(13.979 - 16 - 46.43, abs=0.01)
    assert found.intercept_dbm == pytest.approx(0.0)
    assert found.noise_dbm == pytest.approx(-112.96, abs=0.01)
    assert (found.hears, found.needed_db, found.width_hz) == (("p1",), 22.0, 200_000)


@pytest.mark.source("amplifier 12 dB and +10 dBm, cable 4 dB, receiver −5 dBm: −13.02 dBm; bare −1.00", kind="memory")
def test_an_amplifier_costs_intercept() -> None:
    kinds = [{"id": "weak", "intercept": "-5 dBm", "noise_figure": "8 dB"}]
    cable = {"id": "four", "k1": 0.0, "k2": 0.2}  # 1 dB a metre at 500 MHz
    feeder = {"cable": "four", "cable_length": "4 m"}
    amplified = {"amplifier_gain": "12 dB", "amplifier_intercept": "10 dBm", "amplifier_noise": "2 dB"}
    listens = {**RECEIVER, "model": "weak"}

    def found(**more: Any) -> tuple[float, float]:
        radio = part(
            pack(),
            receivers=[listens],
            receiver_kinds=kinds,
            cables=[cable],
            grounds=[ground(antennas=[{**ANTENNA, **feeder, **more}])],
        )
        (one,) = chains(radio, CARRIERS)
        before = 12 - 4 if more else -4
        return one.intercept_dbm - before, one.noise_dbm - before  # at the antenna

    assert found()[0] == pytest.approx(-1.00, abs=0.005)
    assert found(**amplified)[0] == pytest.approx(-13.02, abs=0.005)
    # NF 12.000 and 4.017 dB over the noise of 200 kHz at 290 K, −120.965 dBm
    assert found()[1] == pytest.approx(-120.965 + 12.0, abs=0.005)
    assert found(**amplified)[1] == pytest.approx(-120.965 + 4.017, abs=0.005)


def test_products_do_not_depend_on_where_levels_are_counted() -> None:
    stages = [cascade.Stage("amplifier", 12, 2, 10), cascade.passive("cable", 4), cascade.Stage("rx", 0, 8, -5)]
    at_antenna = product_dbm((2, -1), (-40.0, -45.0), cascade.intercept_dbm(stages))
    behind = product_dbm((2, -1), (-32.0, -37.0), cascade.intercept_dbm(stages) + 8)
    assert behind == pytest.approx(float(at_antenna) + 8)
    assert product_dbm((2, -1), (-40.0, -45.0), -3.0) == pytest.approx(cascade.two_product_dbm(-40.0, -45.0, -3.0))
    three = cascade.three_product_dbm(-40.0, -45.0, -50.0, -3.0)
    assert product_dbm((1, 1, -1), (-40.0, -45.0, -50.0), -3.0) == pytest.approx(three)


def test_where_no_ground_says_it_the_usual_distance_is_taken() -> None:
    radio = part(pack(), pack("p2"), receivers=[RECEIVER])
    (found,) = chains(radio, CARRIERS)
    (given,) = chains(radio, CARRIERS, distances_m={"p1": USUAL_DISTANCE_M, "p2": 2 * USUAL_DISTANCE_M})
    assert given.levels_dbm["p1"] == found.levels_dbm["p1"]
    assert given.levels_dbm["p2"] == pytest.approx(found.levels_dbm["p2"] - 6.02, abs=0.01)
    (told,) = chains(radio, CARRIERS, levels_dbm={"rack": {"p2": -33.0}})
    assert told.levels_dbm["p2"] == -33.0
    (close,) = chains(radio, CARRIERS, distances_m={"p1": 0.0, "p2": NEAREST_M})
    assert math.isfinite(close.levels_dbm["p1"])


def test_a_receiver_holds_back_what_it_does_not_tune_to_unless_an_amplifier_comes_first() -> None:
    radio = part(pack(), pack("p2"), receivers=[RECEIVER], grounds=[ground()])
    narrow = part(pack(), pack("p2"), receivers=[{**RECEIVER, "tuning": "490-505 MHz"}], grounds=[ground()])
    amplified = ground(antennas=[{**ANTENNA, "amplifier_gain": "10 dB"}])
    early = part(pack(), pack("p2"), receivers=[{**RECEIVER, "tuning": "490-505 MHz"}], grounds=[amplified])
    wide, held, before = (chains(each, CARRIERS)[0].levels_dbm for each in (radio, narrow, early))
    assert held["p2"] == pytest.approx(wide["p2"] - OUT_OF_RANGE_DB)
    assert held["p1"] == wide["p1"]
    assert before["p2"] == pytest.approx(wide["p2"] + 10)


def test_only_who_is_on_the_ground_and_only_the_antennas_that_a_receiver_has() -> None:
    second = {**ANTENNA, "id": "a2", "at": "30, 0 m"}
    radio = part(
        pack(),
        pack("p2", sites=["quay"]),
        receivers=[{**RECEIVER, "antennas": ["a2"]}, {"id": "idle", "name": "Idle"}],
        grounds=[ground(antennas=[ANTENNA, second])],
    )
    (found,) = chains(radio, CARRIERS)
    assert set(found.levels_dbm) == {"p1"}
    assert len(chains(part(pack(), receivers=[RECEIVER], grounds=[ground(antennas=[ANTENNA, second])]), CARRIERS)) == 2
    assert chains(radio, CARRIERS, sites=["deck"]) == (found,)
    assert chains(radio, {"p2": 510 * MHZ}) == ()
    silent = part(pack(power="0 mW"), receivers=[RECEIVER])
    assert chains(silent, CARRIERS) == ()


@pytest.mark.source(
    "two-signal gain of a cubic curve: |1 − 2·P/IIP3|; 1 dB at 12.6 dB under the intercept", kind="memory"
)
def test_a_strong_signal_takes_gain() -> None:
    assert strongest_dbm(0.0) == pytest.approx(-12.65, abs=0.005)
    assert strongest_dbm(0.0, 3.0) == pytest.approx(-8.36, abs=0.005)
    assert loss_of_gain_db(-60.0, 0.0) == pytest.approx(0.0, abs=1e-4)
    assert loss_of_gain_db(-3.0, 0.0) == math.inf


@settings(max_examples=50, deadline=None)
@given(st.floats(-30, 30), st.floats(0.01, 10))
def test_the_strongest_signal_takes_what_it_is_asked_for(intercept: float, loss: float) -> None:
    assert loss_of_gain_db(strongest_dbm(intercept, loss), intercept) == pytest.approx(loss, abs=1e-6)


def test_the_curve_worked_through_loses_as_much() -> None:
    """A weak tone beside a strong one through y = x − c·x³, read off the spectrum."""
    size, c = 1 << 14, 0.05
    t = np.arange(size) * 2 * np.pi / size
    strong, weak = 0.8, 1e-5
    y = (x := strong * np.cos(900 * t) + weak * np.cos(1337 * t)) - c * x**3
    gain = np.abs(np.fft.rfft(y))[1337] * 2 / size / weak
    intercept_dbm = 10 * math.log10(4 / (3 * c) / 2)
    assert loss_of_gain_db(10 * math.log10(strong**2 / 2), intercept_dbm) == pytest.approx(
        -20 * math.log10(gain), abs=1e-4
    )


def test_where_to_keep_away_is_where_one_decibel_is_lost() -> None:
    far = neighbour("m", "a", radiated_dbm=17, freq_hz=600e6, gain_dbi=6, intercept_dbm=-13)
    assert far.loss_db is None
    there = neighbour(
        "m", "a", radiated_dbm=17, freq_hz=600e6, gain_dbi=6, intercept_dbm=-13, distance_m=far.keep_away_m
    )
    assert there.loss_db == pytest.approx(1.0, abs=1e-6)


def monitors(**more: Any) -> tuple[Any, ...]:
    stands = [{"id": "cart", "at": "2, 0 m"}]
    radio = part(
        pack(),
        pack("ears", kind="monitor", power="50 mW", tuning="540-560 MHz", **more),
        receivers=[RECEIVER],
        grounds=[ground(stands=stands, antennas=[{**ANTENNA, "amplifier_gain": "20 dB", "bearing_deg": 0.0}])],
    )
    return neighbours(radio)


def test_a_monitor_transmitter_by_an_amplified_antenna() -> None:
    (close,) = monitors(stand="cart")
    assert (close.transmitter, close.antenna, close.ground) == ("ears", "a1", "deck")
    assert close.distance_m == pytest.approx(2.0, abs=0.05)
    assert close.level_dbm == pytest.approx(16.99 - 33.24, abs=0.1)  # 50 mW over 2 m at 550 MHz
    assert close.loss_db is not None
    assert close.loss_db > 0
    (unknown,) = monitors()
    assert (unknown.distance_m, unknown.loss_db) == (None, None)
    assert unknown.keep_away_m > 2

"""A weighting, NC, NR and speech interference against published tables and examples."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from rollsound.measure.place.octaves import MIDDLES_HZ, NAMES, OctaveSums, band_filter, edges_hz, reached
from rollsound.measure.place.ratings import a_weighted_dba, nc, nc_bands, nr, speech_interference_db
from rollsound.measure.place.tables import nc_curves
from rollsound.measure.place.weighting import AWeighting, a_weight_db

IEC_A = {
    10: -70.4, 12.5: -63.4, 16: -56.7, 20: -50.5, 25: -44.7, 31.5: -39.4, 40: -34.6, 50: -30.2, 63: -26.2, 80: -22.5,
    100: -19.1, 125: -16.1, 160: -13.4, 200: -10.9, 250: -8.6, 315: -6.6, 400: -4.8, 500: -3.2, 630: -1.9, 800: -0.8,
    1000: 0.0, 1250: 0.6, 1600: 1.0, 2000: 1.2, 2500: 1.3, 3150: 1.2, 4000: 1.0, 5000: 0.5, 6300: -0.1, 8000: -1.1,
    10000: -2.5, 12500: -4.3, 16000: -6.6, 20000: -9.3,
}  # fmt: skip
G25 = (50, 45, 36, 30, 26, 22, 18, 15)


def exact(nominal_hz: float) -> float:
    """The frequency behind a nominal one: the table is of these."""
    return float(1000.0 * 10.0 ** (round(10.0 * math.log10(nominal_hz / 1000.0)) / 10.0))


def weighed(freq_hz: float, rate: int) -> float:
    """What the filter makes of a sine, in dB."""
    t = np.arange(rate) / rate
    heard = AWeighting(rate).feed(np.sin(2 * np.pi * freq_hz * t))
    return float(10.0 * np.log10(2.0 * np.mean(heard[rate // 2 :] ** 2)))


@pytest.mark.source("IEC 61672-1:2013, table 3, A weighting", kind="memory")
@pytest.mark.parametrize("nominal", IEC_A)
def test_the_weights_are_those_of_the_table(nominal: float) -> None:
    assert round(float(a_weight_db(exact(nominal))), 1) == pytest.approx(IEC_A[nominal], abs=0.051)
    assert abs(float(a_weight_db(exact(nominal))) - (IEC_A[nominal] + 0.3)) > 0.2, "a shifted table is noticed"


@pytest.mark.source("IEC 61672-1:2013, table 3; its class 1 limits are far wider", kind="memory")
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("nominal", [31.5, 63, 125, 1000, 4000, 8000, 16_000])
def test_a_tone_is_weighed_by_the_filter_as_by_the_table(nominal: float, rate: int) -> None:
    assert weighed(exact(nominal), rate) == pytest.approx(IEC_A[nominal], abs=0.15)


@pytest.mark.parametrize("size", [0, 1, 62, 63, 1000, 4999])
def test_weighing_in_blocks_is_weighing_at_once(size: int) -> None:
    x = np.random.default_rng(3).standard_normal(5000)
    whole = AWeighting(48_000).feed(x)
    parts = AWeighting(48_000)
    heard = np.concatenate([parts.feed(x[:size]), parts.feed(x[size:])])
    np.testing.assert_allclose(heard, whole, atol=1e-12)


@pytest.mark.source("NC curves, levels in dBA as summed in the reference note from the same table", kind="library")
@pytest.mark.parametrize(("curve", "dba"), [(15, 27.1), (20, 31.4), (25, 35.6), (30, 39.8), (35, 44.2), (45, 53.4)])
def test_every_curve_has_its_own_number_and_level(curve: int, dba: float) -> None:
    levels = nc_curves()[curve]
    found = nc(levels)
    assert found is not None
    assert found.rounded == curve
    assert found.value == pytest.approx(curve)
    assert a_weighted_dba(levels) == pytest.approx(dba, abs=0.05)
    louder = [level + (0.5 if at == 3 else 0.0) for at, level in enumerate(levels)]
    over = nc(louder)
    assert over is not None
    assert (over.rounded, over.controls) == (curve + 5, 3)


@pytest.mark.source("NC table of ANSI/ASA S12.2 by interpolation, computed", kind="library")
def test_the_band_that_forces_the_rating_is_named() -> None:
    found = nc(G25)
    assert found is not None
    assert nc_bands(G25) == pytest.approx((18.75, 26.25, 23.75, 24.0, 24.0, 23.0, 21.0, 19.0))
    assert found.value == pytest.approx(26.25)
    assert (found.rounded, NAMES[found.controls]) == (30, "125")
    assert str(found) == "NC-30 (125 Hz)"
    assert a_weighted_dba(G25) == pytest.approx(34.4, abs=0.05)


@pytest.mark.source(
    "M. J. Crocker, Engineering Acoustics, example 6.3: a classroom rated NC 46 at 500 Hz", kind="published"
)
def test_a_classroom_of_a_textbook() -> None:
    found = nc((61, 56, 54, 50, 44, 43, 39, 34))
    assert found is not None
    assert found.value == pytest.approx(46.0, abs=0.5)
    assert NAMES[found.controls] == "500"


def test_beyond_the_curves_it_is_said() -> None:
    low, high = nc([0.0] * 8), nc([120.0] * 8)
    assert low is not None
    assert str(low).startswith("under NC-15")
    assert high is not None
    assert str(high).startswith("over NC-70")
    assert nc([math.nan] * 8) is None
    part = nc([*G25[:7], math.nan])
    assert part is not None
    assert part.rounded == 30


@pytest.mark.source("ISO/R 1996:1971, L = a + b NR, as printed in secondary pages", kind="published")
@pytest.mark.parametrize(
    ("number", "levels"),
    [(25, (55.25, 43.75, 35.25, 29.15, 25.0, 21.875, 19.525, 17.75)), (0, (35.5, 22, 12, 4.8, 0, -3.5, -6.1, -8.0))],
)
def test_noise_rating(number: int, levels: tuple[float, ...]) -> None:
    found = nr(levels)
    assert found is not None
    assert found.rounded == number
    above = nr([level + 1.0 for level in levels])
    assert above is not None
    assert above.rounded == number + 2, "1 dB over a curve of slope under 1 in the lowest octave"


@given(st.lists(st.floats(-20, 120), min_size=8, max_size=8), st.integers(0, 7), st.floats(0, 20))
def test_louder_is_never_rated_lower(levels: list[float], at: int, more: float) -> None:
    louder = [*levels[:at], levels[at] + more, *levels[at + 1 :]]
    for family in (nc, nr):
        before, after = family(levels), family(louder)
        assert before is not None
        assert after is not None
        assert after.value >= before.value - 1e-9
    assert a_weighted_dba(louder) >= a_weighted_dba(levels) - 1e-9


def test_speech_interference_is_the_mean_of_four_octaves() -> None:
    assert speech_interference_db((90, 90, 90, 40, 42, 44, 42, 90)) == 42.0
    assert math.isnan(speech_interference_db((90, 90, 90, 40, 42, 44, math.nan, 90)))


@pytest.mark.source(
    "IEC 61260-1:2014, table 1, octave class 1: 3 dB at the edges, 16.6 dB an octave off", kind="memory"
)
@pytest.mark.parametrize("at", range(8))
def test_octaves_pass_their_own_and_no_other(at: int) -> None:
    sos = band_filter(at, 48_000)
    low, high = edges_hz(at)
    freqs = [MIDDLES_HZ[at], low, high, MIDDLES_HZ[at] / 10**0.3, min(MIDDLES_HZ[at] * 10**0.3, 23_900)]
    gains = 20 * np.log10(np.abs(signal.sosfreqz(sos, freqs, fs=48_000)[1]))
    assert gains[0] == pytest.approx(0.0, abs=0.1)
    assert gains[1:3] == pytest.approx([-3.01, -3.01], abs=0.1)
    assert (gains[3:] < -16.6).all()


def test_octaves_that_a_rate_does_not_reach_are_no_number() -> None:
    assert reached(48_000) == tuple(range(8))
    assert reached(16_000) == tuple(range(7))
    sums = OctaveSums(16_000)
    sums.feed(np.random.default_rng(0).standard_normal(16_000))
    found = sums.mean_squares()
    assert math.isnan(found[7])
    assert (found[:7] > 0).all()

"""How often a fading signal is too weak: closed forms, scipy's distributions, and signals made up of many waves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats
from scipy.special import ive
from vectors import PRINTED_2, digits, goes_red, missed

from rollsound.errors import InputError
from rollsound.radio.fading import margin_for_db, mean_over_median_db, outage, outage_of, selection_gain_db

OUTAGES = {
    (3, 1): 0.39419, (3, 2): 0.15538, (3, 3): 0.06125,
    (5, 1): 0.27111, (5, 2): 0.07350, (5, 3): 0.01993,
    (10, 1): 0.095163, (10, 2): 0.0090559, (10, 3): 8.6178e-4,
    (15, 1): 0.031128, (15, 2): 9.6895e-4, (15, 3): 3.0162e-5,
    (20, 1): 0.0099502, (20, 2): 9.9006e-5, (20, 3): 9.8512e-7,
}  # fmt: skip
MARGINS = {
    (0.10, 1): 9.77, (0.05, 1): 12.90, (0.01, 1): 19.98, (0.001, 1): 30.00,
    (0.10, 2): 4.20, (0.05, 2): 5.97, (0.01, 2): 9.77, (0.001, 2): 14.93,
    (0.10, 3): 2.05, (0.05, 3): 3.38, (0.01, 3): 6.15, (0.001, 3): 9.77,
}  # fmt: skip


@pytest.mark.source(
    "selection diversity over Rayleigh fading (Jakes, Rappaport), (1 - exp(-g/G))^M; computed", kind="memory"
)
def test_outage_of_the_better_branch() -> None:
    # 0.06125 and 0.01993 are printed with four digits, the others with five
    assert missed(OUTAGES, outage, digits(4)) == []
    assert goes_red(OUTAGES, outage, digits(4))


@pytest.mark.source("fade margins for outages of 10, 5, 1 and 0.1 %; computed from the same", kind="memory")
def test_margin_for_an_outage() -> None:
    assert missed(MARGINS, margin_for_db, PRINTED_2) == []
    assert goes_red(MARGINS, margin_for_db, PRINTED_2)


@pytest.mark.source("mean gain of selection, sum of 1/k; computed", kind="memory")
def test_gain_of_selection() -> None:
    rows = {(1,): 0.0, (2,): 1.761, (3,): 2.632, (4,): 3.188}
    assert missed(rows, selection_gain_db, 0.0006) == []
    assert goes_red(rows, selection_gain_db, 0.0006)
    assert selection_gain_db(np.array([1, 2])).tolist() == pytest.approx([0.0, 1.761], abs=0.001)


@pytest.mark.source("scipy.stats.rice, its distribution of amplitudes", kind="library")
@pytest.mark.parametrize("k_db", [-20.0, 0.0, 6.0, 10.0, 15.0])
def test_rician_fading_as_scipy_has_it(k_db: float) -> None:
    k = 10 ** (k_db / 10)
    for margin in (-3.0, 0.0, 3.0, 8.0, 15.0):
        # amplitude of mean power 1: two parts of variance 1/(2(K+1)) and a steady one of power K/(K+1)
        sigma = math.sqrt(1 / (2 * (k + 1)))
        expected = stats.rice.cdf(10 ** (-margin / 20), math.sqrt(2 * k), scale=sigma)
        assert outage(margin, 1, k_db) == pytest.approx(expected, rel=1e-6, abs=1e-12)
        assert outage(margin, 2, k_db) == pytest.approx(expected**2, rel=1e-6, abs=1e-12)


def test_rician_fading_as_its_density_sums_up() -> None:
    def density(x: float, k: float) -> float:
        # of power x, mean 1; the Bessel function is scaled by its own exponential
        root = 2 * math.sqrt(k * (k + 1) * x)
        return (k + 1) * math.exp(-k - (k + 1) * x + root) * float(ive(0, root))

    for k_db in (0.0, 6.0, 12.0):
        for margin in (2.0, 6.0, 12.0):
            k = 10 ** (k_db / 10)
            expected, _ = integrate.quad(density, 0, 10 ** (-margin / 10), args=(k,), epsabs=1e-13)
            assert outage(margin, 1, k_db) == pytest.approx(expected, rel=1e-6)


def test_fading_made_of_waves() -> None:
    """Waves from all round add up; with a direct one among them the fading is Rician."""
    rng = np.random.default_rng(7)
    turned = np.exp(2j * np.pi * rng.random((60_000, 24))).sum(axis=1) / math.sqrt(24)
    for k_db in (None, 6.0):
        k = 0.0 if k_db is None else 10 ** (k_db / 10)
        power = np.abs((turned + math.sqrt(k)) / math.sqrt(1 + k)) ** 2
        for margin in (3.0, 6.0, 10.0):
            share = float(np.mean(power < 10 ** (-margin / 10)))
            # 60,000 draws scatter by 4 times sqrt(p/n); two dozen waves are nearly, not wholly, Gaussian
            assert outage(margin, 1, k_db) == pytest.approx(share, rel=0.15, abs=2e-3)
            assert outage(margin + 1.5, 1, k_db) != pytest.approx(share, rel=0.15, abs=2e-3)


@settings(max_examples=80, deadline=None)
@given(st.floats(-20, 40), st.integers(1, 6), st.one_of(st.none(), st.floats(-30, 30)))
def test_more_margin_and_more_branches_never_hurt(margin: float, branches: int, k_db: float | None) -> None:
    here = outage(margin, branches, k_db)
    assert 0 <= outage(margin + 1, branches, k_db) <= here <= 1
    assert outage(margin, branches + 1, k_db) <= here


@settings(max_examples=60, deadline=None)
@given(st.floats(0.001, 0.9), st.integers(1, 4), st.one_of(st.none(), st.floats(-10, 15)))
def test_margin_turns_outage_round(share: float, branches: int, k_db: float | None) -> None:
    assert outage(margin_for_db(share, branches, k_db), branches, k_db) == pytest.approx(share, rel=1e-5)


def test_no_direct_path_is_rayleigh() -> None:
    margins = np.linspace(-5, 30, 36)
    assert outage(margins, 2, -60.0) == pytest.approx(outage(margins, 2), rel=1e-4)
    assert mean_over_median_db() == pytest.approx(-10 * math.log10(math.log(2)))
    assert mean_over_median_db(20.0) < 0.1


def test_branches_of_their_own_margins() -> None:
    margins = np.array([[10.0, 3.0], [10.0, 20.0]])
    assert outage_of(margins) == pytest.approx([outage(10.0, 2), outage(3.0) * outage(20.0)])
    assert outage_of(margins, 6.0, axis=1)[0] == pytest.approx(outage(10.0, 1, 6.0) * outage(3.0, 1, 6.0))


def test_what_is_no_share_and_no_branch_is_refused() -> None:
    for bad in (0.0, 1.0, math.nan):
        with pytest.raises(InputError, match="between 0 and 1"):
            margin_for_db(bad)
    for formula in (lambda: outage(10.0, 0), lambda: selection_gain_db(0), lambda: outage(10.0, math.nan)):
        with pytest.raises(InputError, match="one branch or more"):
            formula()

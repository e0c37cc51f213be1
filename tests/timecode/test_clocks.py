"""Drift, and wrong stamps told from crystals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.timecode import (
    Rate,
    clock_is_plausible,
    drift_frames,
    drift_samples,
    seconds_to_drift,
    stamp_error,
    worst_case_ppm,
)

# ppm: samples a minute at 48 kHz, then minutes until 1/4, 1/2 and 1 frame at 24, 25, 29.97; computed independently
# with exact decimals and rounded to the digits shown.
DRIFT = {
    0.1: (0.288, (1736.11, 3472.22, 6944.44), (1666.67, 3333.33, 6666.67), (1390.28, 2780.56, 5561.11)),
    0.5: (1.44, (347.22, 694.44, 1388.89), (333.33, 666.67, 1333.33), (278.06, 556.11, 1112.22)),
    1.0: (2.88, (173.61, 347.22, 694.44), (166.67, 333.33, 666.67), (139.03, 278.06, 556.11)),
    2.5: (7.2, (69.44, 138.89, 277.78), (66.67, 133.33, 266.67), (55.61, 111.22, 222.44)),
    10.0: (28.8, (17.36, 34.72, 69.44), (16.67, 33.33, 66.67), (13.90, 27.81, 55.61)),
    50.0: (144.0, (3.47, 6.94, 13.89), (3.33, 6.67, 13.33), (2.78, 5.56, 11.12)),
    100.0: (288.0, (1.74, 3.47, 6.94), (1.67, 3.33, 6.67), (1.39, 2.78, 5.56)),
}
Table = dict[float, tuple[float, tuple[float, ...], tuple[float, ...], tuple[float, ...]]]


def wrong(table: Table) -> list[float]:
    """Rows that differ by more than the rounding of the table (half of its last digit)."""
    bad = []
    for ppm, (per_minute, *by_rate) in table.items():
        good = abs(drift_samples(ppm, 60, 48_000) - per_minute) < 1e-9
        for rate, minutes in zip(("24", "25", "29.97"), by_rate, strict=True):
            for part, minute in zip((0.25, 0.5, 1.0), minutes, strict=True):
                good &= abs(seconds_to_drift(ppm, part, Rate.parse(rate)) / 60 - minute) <= 0.00501
        if not good:
            bad.append(ppm)
    return bad


@pytest.mark.source("definition of ppm; table worked out apart from the code", kind="practice")
def test_drift_table() -> None:
    assert wrong(DRIFT) == []
    assert drift_frames(1, 86_400, Rate.parse("24")) == pytest.approx(2.0736, abs=1e-9)


def test_a_perturbed_row_is_noticed() -> None:
    samples, *rest = DRIFT[10.0]
    assert wrong({**DRIFT, 10.0: (samples * 1.001, *rest)}) == [10.0]  # type: ignore[dict-item]
    assert wrong({10.0: (28.8, (17.38, 34.72, 69.44), (16.67, 33.33, 66.67), (13.90, 27.81, 55.61))}) == [10.0]


def test_two_free_clocks() -> None:
    assert worst_case_ppm(-5, 30) == 35
    assert seconds_to_drift(0, 1, Rate.parse("24")) == math.inf
    assert drift_samples(-5, 60, 48_000) == pytest.approx(-14.4)
    with pytest.raises(InputError, match="give a number"):
        drift_samples(math.nan, 1, 48_000)


@pytest.mark.source(
    "0.1 % and 24/25 stamps lie at +1000, -999.0, +41667, -40000 ppm: arithmetic of the rates", kind="practice"
)
@pytest.mark.parametrize(
    ("ppm", "kind"),
    [(1000.0, "pull up"), (-999.001, "pull down"), (41_666.67, "25 at 24"), (-40_000.0, "24 at 25"),
     (88_435.37, "48 as 44.1"), (-81_250.0, "44.1 as 48"), (1_000_000.0, "double as single"),
     (-500_000.0, "single as double")],
)  # fmt: skip
@pytest.mark.parametrize("crystal", [-95.0, -20.0, 0.0, 13.0, 95.0])
def test_stamps_are_told_from_crystals(ppm: float, kind: str, crystal: float) -> None:
    both = ((1 + ppm * 1e-6) * (1 + crystal * 1e-6) - 1) * 1e6
    found = stamp_error(both)
    assert found is not None
    assert found.kind == kind
    assert found.crystal_ppm == pytest.approx(crystal, abs=0.01)  # the stamps above are written to 0.005 ppm
    assert "no crystal makes" in found.sentence


@given(st.floats(-100, 100))
def test_a_crystal_is_no_stamp(ppm: float) -> None:
    assert stamp_error(ppm) is None
    assert clock_is_plausible(ppm)


@pytest.mark.parametrize("ppm", [500.0, -700.0, 1201.0, 20_000.0])
def test_what_is_neither(ppm: float) -> None:
    assert stamp_error(ppm) is None
    assert not clock_is_plausible(ppm)

"""Wind on masts: pressure, moment and the weight that keeps a tripod standing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.kit import wind

MAST = wind.mast(4, 0.048)
PLATE = wind.Face(0.09, 4, 2.0)
SHEET = "antenna mast engineering sheet: F = q·Cd·A, Cd 1.2 long cylinder, 2.0 flat plate"


@pytest.mark.source("EN 1991-1-4: q = 0.5·rho·v², rho 1.25 kg/m³, as quoted", kind="published")
@pytest.mark.parametrize(("gust", "pa"), [(5, 15.6), (10, 62.5), (15, 140.6), (20, 250.0)])
def test_pressure(gust: float, pa: float) -> None:
    assert wind.pressure_pa(gust) == pytest.approx(pa, abs=0.05)


@pytest.mark.source("0.613·v², rho 1.226 kg/m³, engineering sheet", kind="published")
@pytest.mark.parametrize(("gust", "pa"), [(5, 15.3), (10, 61.3), (15, 137.9), (20, 245.2)])
def test_pressure_of_thinner_air(gust: float, pa: float) -> None:
    assert wind.pressure_pa(gust, 1.226) == pytest.approx(pa, abs=0.05)


@pytest.mark.source(SHEET, kind="published")
def test_a_mast_with_a_plate_on_top() -> None:
    assert wind.force_n(MAST, 15) == pytest.approx(32.4, abs=0.05)
    assert wind.force_n(PLATE, 15) == pytest.approx(25.3, abs=0.05)
    assert wind.moment_nm([MAST, PLATE], 15) == pytest.approx(166.05, abs=0.05)


@pytest.mark.source(f"{SHEET}; W·a = SF·M, a = r/2", kind="published")
@pytest.mark.parametrize(("safety", "kg"), [(1.5, 63.5), (1.0, 42.3)])
def test_what_keeps_it_standing(safety: float, kg: float) -> None:
    assert wind.needed_kg(wind.moment_nm([MAST, PLATE], 15), 0.8, safety) == pytest.approx(kg, abs=0.05)


@given(st.floats(0.1, 50), st.floats(0.01, 3), st.floats(0.1, 12))
def test_twice_the_wind_is_four_times_the_force(gust: float, area: float, height: float) -> None:
    face = wind.Face(area, height, 1.2)
    assert wind.force_n(face, 2 * gust) == pytest.approx(4 * wind.force_n(face, gust))
    assert wind.moment_nm([face, face], gust) == pytest.approx(2 * wind.moment_nm([face], gust))


@pytest.mark.source("Beaufort, v = 0.836·B^1.5 m/s", kind="memory")
@pytest.mark.parametrize(("force", "ms"), [(4, 6.7), (5, 9.3), (6, 12.3), (7, 15.5), (8, 18.9)])
def test_beaufort(force: int, ms: float) -> None:
    assert wind.beaufort_ms(force) == pytest.approx(ms, abs=0.05)


def test_what_is_no_wind_or_no_foot_is_refused() -> None:
    with pytest.raises(InputError, match="gust"):
        wind.pressure_pa(-1)
    with pytest.raises(InputError, match="foot"):
        wind.needed_kg(100, 0)
    assert wind.notes()
    assert wind.wind_source().endswith("(from memory)")

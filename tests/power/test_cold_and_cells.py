"""Cold, chemistry and single cells, against the vectors."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.kit.model import DrawByPower
from rollsound.power import cells, chemistry, cold
from rollsound.power.model import Cold, PowerPart

CHEMISTRIES = ("li-ion", "lifepo4", "nimh", "alkaline", "lithium", "zinc-carbon", "lead-acid")


@pytest.mark.source("vendor's curve through IEEE Std 485 table 1; B-16 computed", kind="published")
def test_lead_acid_multiplier() -> None:
    rows = {-20: (2.0940, 0.478), -10: (1.6991, 0.589), 0: (1.4050, 0.712), 10: (1.1947, 0.837), 25: (0.9995, 1.001)}
    rows[40] = (0.8981, 1.114)
    for degrees, (y, share) in rows.items():
        assert cold.lead_acid_multiplier(degrees) == pytest.approx(y, abs=5e-5)
        assert 1 / cold.lead_acid_multiplier(degrees) == pytest.approx(share, abs=6e-4)
    for degrees in (-20, -10, 0, 10):  # the shipped row is the curve's
        assert cold.cold_share("lead-acid", degrees).share == pytest.approx(rows[degrees][1], abs=6e-4)


@pytest.mark.source("planning table of shares in the cold, not verified", kind="memory")
def test_shares_in_the_cold() -> None:
    assert cold.cold_share("lifepo4", -10).share == pytest.approx(0.70)
    assert cold.cold_share("li-ion", -20).share == pytest.approx(0.65)
    assert cold.cold_share("li-ion", -15).share == pytest.approx(0.725)
    assert cold.cold_share("lithium", 0).share == pytest.approx(0.95)
    assert cold.cold_share("li-ion", 40).share == 1
    assert cold.cold_share("li-ion", -30).beyond
    assert not cold.cold_share("li-ion", 30).beyond
    assert cold.cold_share("li-ion", -10).status == "from memory"


@pytest.mark.parametrize("row", CHEMISTRIES)
@given(a=st.floats(-40, 50), b=st.floats(-40, 50))
@settings(max_examples=25)
def test_colder_never_gives_more(row: str, a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert cold.cold_share(row, low).share <= cold.cold_share(row, high).share + 1e-12


def test_the_shows_own_share_goes_before_the_tables() -> None:
    own = PowerPart(cold=(Cold(id="li-ion", share={"-10": 0.9, "20": 1.0}),))
    assert cold.cold_share("li-ion", -10, own).share == pytest.approx(0.9)
    assert cold.cold_share("li-ion", -10, own).status == "own"
    assert cold.cold_share("li-ion", -10, own, {"−10": 0.5}).share == pytest.approx(0.5)
    with pytest.raises(InputError, match="no temperature"):
        cold.points_of({"cold": 0.5})
    with pytest.raises(InputError, match="share in the cold"):
        cold.points_of({"0": 5})


@pytest.mark.source("two FR6, LR6, HR6 with stated mean voltage and capacity; B-13, B-14, B-15 computed", kind="memory")
def test_cells_of_a_pack() -> None:
    assert cells.cell_hours(0.9, 2, 3.0, 1.40).hours == pytest.approx(7.93, abs=0.005)
    assert cells.cell_hours(0.9, 2, 2.2, 1.20).hours == pytest.approx(4.99, abs=0.005)
    assert cells.cell_hours(0.9, 2, 2.0, 1.20).hours == pytest.approx(4.53, abs=0.005)
    day = cells.cell_hours(0.9, 2, 3.0, 1.40, day_h=11)
    assert (day.swaps, day.cells_needed) == (1, 4)
    assert cells.cell("fr6").capacity_ah * cells.cell("fr6").voltage_v == pytest.approx(4.2)


@pytest.mark.source("comparison of AA chemistries: alkaline 2900 mAh at 25 mA, 1400 mAh at 500 mA", kind="published")
def test_an_alkaline_cell_gives_less_when_it_is_emptied_fast() -> None:
    row = cells.cell("lr6")
    assert row.capacity_at_ah(0.025) == pytest.approx(2.9)
    assert row.capacity_at_ah(0.5) == pytest.approx(1.4)
    assert 1.4 < row.capacity_at_ah(0.25) < 2.9
    assert cells.cell("fr6").capacity_at_ah(0.5) == 3.0


def test_draw_by_transmit_power() -> None:
    rows = [DrawByPower.model_validate({"power": p, "draw": d}) for p, d in (("10 mW", "0.6 W"), ("50 mW", "0.9 W"))]
    assert cells.draw_at_power(rows, 50).draw_w == 0.9
    assert cells.draw_at_power(rows, 30).draw_w == pytest.approx(0.75)
    assert "most that is written" in cells.draw_at_power(rows, 100).sentence
    with pytest.raises(InputError, match="draw_by_power"):
        cells.draw_at_power([], 50)


@pytest.mark.source(
    "pages that agree: LiFePO4 pack of four 12.8 V, full 14.4-14.6 V, cut-off 10.0-11.2 V", kind="published"
)
def test_voltages_of_packs() -> None:
    lfp = chemistry.pack_voltages(12.8, "lifepo4")
    assert (lfp.cells, lfp.full_v, lfp.cutoff_v) == (4, pytest.approx(14.6), pytest.approx(10.0))
    assert chemistry.pack_voltages(12.8, "lifepo4", cutoff_v=11.2).cutoff_v == 11.2
    assert chemistry.pack_voltages(12, "lead-acid").cells == 6


@pytest.mark.source("IEC 61960-3 cells: 3.6 to 3.7 V nominal, 4.2 V full, 3.0 V empty", kind="memory")
@pytest.mark.parametrize("nominal_v", [14.4, 14.8])
def test_a_pack_of_four_lithium_cells_reaches_sixteen_eight(nominal_v: float) -> None:
    pack = chemistry.pack_voltages(nominal_v, "li-ion")
    assert (pack.cells, pack.full_v, pack.cutoff_v) == (4, pytest.approx(16.8), pytest.approx(12.0))


@pytest.mark.source(
    "two published LiFePO4 voltage tables: 50 % is 3.20 V in one, 3.27 V in the other", kind="published"
)
def test_a_flat_voltage_is_never_turned_into_a_percentage() -> None:
    reading = chemistry.read_resting(4 * 3.24)
    first, second = reading.by_table["table-1"], reading.by_table["table-2"]
    assert first is not None
    assert second is not None
    assert abs(first - second) > 10
    assert "cannot be told" in reading.sentence
    assert "near full" in chemistry.read_resting(13.6).sentence
    assert "near empty" in chemistry.read_resting(12.0).sentence
    assert chemistry.read_resting(4 * 3.20).by_table["table-1"] == pytest.approx(50)
    assert chemistry.read_resting(4 * 3.27).by_table["table-2"] == pytest.approx(50)
    assert chemistry.read_resting(20).by_table["table-1"] is None


def test_every_chemistry_has_its_rows() -> None:
    assert set(chemistry.chemistries()) == set(CHEMISTRIES)
    assert set(cold.cold_rows()) == set(CHEMISTRIES)
    for notes in (chemistry.notes(), cold.notes(), cells.notes()):
        assert notes
    with pytest.raises(InputError, match="there are"):
        chemistry.chemistry("plutonium")

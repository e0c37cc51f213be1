"""Walls: slabs of building materials, losses known whole, and the show's own."""

from __future__ import annotations

import math

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st
from tr3gpp import tr38901
from vectors import PRINTED_1, PRINTED_2, digits, goes_red, missed

from rollsound.errors import InputError
from rollsound.radio.materials import (
    Electric,
    bulk_db_m,
    electric,
    loss_db,
    material,
    materials,
    notes,
    skin_depth_m,
    slab_db,
)
from rollsound.radio.model import RadioPart

GHZ = (0.5, 0.6, 0.7, 0.9, 1.0, 2.4)
SLABS = {
    ("concrete", 0.1): (3.15, 2.85, 3.32, 5.05, 5.33, 8.10),
    ("concrete", 0.2): (5.80, 5.54, 6.25, 7.45, 7.79, 14.57),
    ("brick", 0.105): (2.92, 2.47, 2.31, 3.13, 3.55, 3.66),
    ("brick", 0.22): (5.25, 4.91, 4.73, 5.47, 5.00, 5.67),
    ("plasterboard", 0.0125): (0.14, 0.18, 0.22, 0.31, 0.36, 1.07),
    ("wood", 0.04): (0.30, 0.38, 0.46, 0.60, 0.66, 0.61),
    ("glass", 0.006): (0.13, 0.19, 0.25, 0.39, 0.48, 1.91),
    ("chipboard", 0.018): (0.44, 0.53, 0.61, 0.78, 0.87, 1.67),
}
SLAB_ROWS = {(*what, f): loss for what, row in SLABS.items() for f, loss in zip(GHZ, row, strict=True)}
PARAMETERS = {
    "concrete": (5.24, 0, 0.0462, 0.7822, 1, 100),
    "brick": (3.91, 0, 0.0238, 0.16, 1, 40),
    "plasterboard": (2.73, 0, 0.0085, 0.9395, 1, 100),
    "wood": (1.99, 0, 0.0047, 1.0718, 0.001, 100),
    "glass": (6.31, 0, 0.0036, 1.3394, 0.1, 100),
    "ceiling-board": (1.48, 0, 0.0011, 1.0750, 1, 100),
    "chipboard": (2.58, 0, 0.0217, 0.7800, 1, 100),
    "plywood": (2.71, 0, 0.33, 0, 1, 40),
    "marble": (7.074, 0, 0.0055, 0.9262, 1, 60),
    "floorboard": (3.66, 0, 0.0044, 1.3515, 50, 100),
    "metal": (1, 0, 1e7, 0, 1, 100),
    "wet-ground": (30, -0.4, 0.15, 1.30, 1, 10),
    "medium-dry-ground": (15, -0.1, 0.035, 1.63, 1, 10),
    "very-dry-ground": (3, 0, 0.00015, 2.52, 1, 10),
}
OLDER = {
    "concrete": (5.31, 0.0326, 0.8095, 0.19305),
    "brick": (3.75, 0.038, 0.0, 0.038),
    "plasterboard": (2.94, 0.0116, 0.7076, 0.054914),
    "wood": (1.99, 0.0047, 1.0718, 0.049528),
    "glass": (6.27, 0.0043, 1.1925, 0.059075),
}


def slab(name: str, thickness: float, ghz: float, angle: float = 0.0) -> float:
    eta = electric()[name].permittivity(ghz * 1e9)
    return slab_db(eta.real, eta.imag, thickness, ghz * 1e9, angle)


@pytest.mark.source("ITU-R P.2040-3, table 3 (two public code bases agree)", kind="published")
def test_parameters_of_building_materials() -> None:
    assert {e.id: (e.a, e.b, e.c, e.d, *e.freq_ghz) for e in electric().values()} == PARAMETERS


@pytest.mark.source("ITU-R P.2040-3, table 3 and eq. 37, 43, 44: computed", kind="published")
def test_slabs_straight_through() -> None:
    assert missed(SLAB_ROWS, slab, PRINTED_2) == []
    assert goes_red(SLAB_ROWS, slab, PRINTED_2)


def test_walls_of_a_set_are_these_slabs() -> None:
    walls = {
        "concrete": 0.2, "concrete-thin": 0.1, "brick": 0.22, "brick-thin": 0.105, "plasterboard": 0.0125,
        "wood": 0.04, "glass": 0.006, "chipboard": 0.018, "plywood-slab": 0.012,
    }  # fmt: skip
    for name, thickness in walls.items():
        of = name.removesuffix("-thin").removesuffix("-slab")
        assert material(None, name).loss_db(700e6) == pytest.approx(slab(of, thickness, 0.7)), name
    # the cell of the printed table, through the wall itself
    assert material(None, "concrete").loss_db(600e6) == pytest.approx(5.54, abs=PRINTED_2)


@pytest.mark.source("ITU-R P.2040, older edition, at 9 GHz (mathworks buildingMaterialPermittivity)", kind="published")
def test_the_form_of_the_conductivity_with_an_older_edition() -> None:
    rows = {(name,): sigma for name, (_, _, _, sigma) in OLDER.items()}

    def sigma_at_9(name: str) -> float:
        a, c, d, _ = OLDER[name]
        eps, sigma = Electric(name, a, 0, c, d, (1, 100)).at(9e9)
        assert eps == a
        return sigma

    # the older edition's c and d are printed with three or four digits
    assert missed(rows, sigma_at_9, digits(4)) == []
    assert goes_red(rows, sigma_at_9, digits(4))


@pytest.mark.source("scikit-rf: a line of free space filled with the material, between lines of air", kind="library")
@pytest.mark.parametrize("angle", [0.0, 40.0, 70.0])
def test_slabs_as_lines(angle: float) -> None:
    frequency = skrf.Frequency(0.5, 2.5, 9, "GHz")
    for name, thickness in SLABS:
        eta = np.array([electric()[name].permittivity(f) for f in frequency.f])
        sine = math.sin(math.radians(angle))
        k0 = 2 * np.pi * frequency.f / 299_792_458
        inside = np.sqrt(eta - sine**2)
        # with the electric field along the wall, a slanted wave is a line of this impedance and this turn a metre
        line = skrf.media.DefinedGammaZ0(
            frequency, gamma=1j * k0 * inside, z0=377 / inside, z0_port=377 / math.cos(math.radians(angle))
        )
        through = line.line(thickness, "m")
        expected = -through.s_db[:, 1, 0]
        found = slab_db(eta.real, eta.imag, thickness, frequency.f, angle)
        assert np.abs(found - expected).max() < 1e-6
        assert np.abs(slab_db(eta.real, eta.imag, thickness * 1.1, frequency.f, angle) - expected).max() > 1e-3


def test_reflection_between_both_fields() -> None:
    eta = electric()["glass"].permittivity(1e9)
    straight = [slab_db(eta.real, 0.0, 0.006, 1e9, 0.0, across) for across in ("electric", "magnetic")]
    assert straight[0] == pytest.approx(straight[1])
    # at Brewster's angle nothing of the magnetic case is thrown back
    brewster = math.degrees(math.atan(math.sqrt(eta.real)))
    assert slab_db(eta.real, 0.0, 0.006, 1e9, brewster, "magnetic") == pytest.approx(0.0, abs=1e-9)
    assert slab_db(eta.real, 0.0, 0.006, 1e9, brewster, "electric") > 0.1


@pytest.mark.source("ITU-R P.2040, 2.1: 1636 sigma / sqrt(eps) = 8.686 x 188.4 dB/m", kind="memory")
def test_loss_inside_a_material() -> None:
    assert bulk_db_m(1.0, 1.0) == pytest.approx(8.686 * 188.4, rel=1e-3)
    eps, sigma = electric()["wood"].at(1e9)
    thick = slab_db(eps, -17.98 * sigma, 20.0, 1e9) - slab_db(eps, -17.98 * sigma, 19.0, 1e9)
    # a metre more of a thick slab; what is thrown back inside it makes a ripple
    assert thick == pytest.approx(bulk_db_m(eps, sigma), abs=0.01)


@pytest.mark.source("skin depth 6.5 um at 0.6 GHz and 1e7 S/m, computed from the textbook form", kind="published")
def test_metal_lets_nothing_through() -> None:
    assert skin_depth_m(1e7, 600e6) == pytest.approx(6.5e-6, abs=0.05e-6)
    eta = electric()["metal"].permittivity(600e6)
    assert slab_db(eta.real, eta.imag, 0.0001, 600e6) > 100


@pytest.mark.source("20 to 40 dB by leakage round metal", kind="memory")
def test_metal_with_gaps() -> None:
    assert 20 <= material(None, "metal").loss_db(600e6) <= 40
    assert material(None, "metal").status == "from memory"


@pytest.mark.source("COST 231 multi-wall: 3.4 and 6.9 dB", kind="published")
def test_light_and_heavy_walls() -> None:
    assert [material(None, name).loss_db(f) for name in ("light", "heavy") for f in (5e8, 2e9)] == [3.4, 3.4, 6.9, 6.9]


@pytest.mark.source("3GPP TR 38.901, table 7.4.3-1, at 0.6 GHz: 2.1 / 23.2 / 7.4 / 4.9 dB", kind="memory")
def test_outer_walls_as_remembered() -> None:
    rows = {("glass-panes",): 2.1, ("glass-coated-older",): 23.2, ("concrete-outer",): 7.4, ("wood-outer",): 4.9}

    def loss(name: str) -> float:
        return material(None, name).loss_db(600e6)

    assert missed(rows, loss, PRINTED_1) == []
    assert goes_red(rows, loss, PRINTED_1)
    assert material(None, "glass-coated-older").loss_db(10e9) == pytest.approx(26.0)


@pytest.mark.source("tr3gpp 0.2: transcript of 3GPP TR 38.901 V19.4.0, table 7.4.3-1", kind="library")
def test_outer_walls_of_the_edition_in_force() -> None:
    ours = {
        "Standard multi-pane glass": "glass-panes", "IRR glass": "glass-coated", "Concrete": "concrete-outer",
        "Plywood": "plywood", "Wood": "wood-outer",
    }  # fmt: skip
    printed = {row.material: row.formula for row in tr38901.section("7.4").o2i_penetration_loss.materials}
    assert set(printed) == set(ours)
    for name, formula in printed.items():
        base, rise = (float(part) for part in formula.split("=")[1].replace("f", "").split("+"))
        wall = material(None, ours[name])
        assert (wall.base_db, wall.rise_db_ghz) == (base, rise), name
        assert wall.status == "opened"


def test_an_extrapolation_is_told() -> None:
    assert "1 to 100 GHz" in material(None, "concrete").note(600e6)
    assert material(None, "concrete").note(1.5e9) == ""
    assert material(None, "wood").note(600e6) == ""
    assert material(None, "light").note(600e6) == ""
    assert any("Conflict" in note and "coated glass" in note for note in notes())


def test_the_shows_own_material_goes_before_the_tables() -> None:
    radio = RadioPart.model_validate(
        {"materials": [{"id": "concrete", "loss": "21 dB"}, {"id": "hull", "name": "ferry hull", "loss": "35 dB"}]}
    )
    assert material(radio, "concrete").loss_db(600e6) == 21.0
    assert material(radio, "concrete").status == "own"
    assert material(radio, "hull").name == "ferry hull"
    assert material(radio, "brick") == material(None, "brick")
    assert len(materials(radio)) == len(materials()) + 1


def test_what_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match="'moss' is no material of a wall"):
        material(None, "moss")
    with pytest.raises(InputError, match="neither electric nor magnetic"):
        slab_db(4.0, 0.0, 0.1, 1e9, 0.0, "sideways")
    with pytest.raises(InputError, match=r"a thickness is -0\.1"):
        loss_db(material(None, "brick"), 600e6, thickness_m=-0.1)


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(sorted(set(electric()) - {"metal"})), st.floats(0.001, 0.5), st.floats(0.1, 6), st.floats(0, 85))
def test_a_slab_never_gives(name: str, thickness: float, ghz: float, angle: float) -> None:
    assert slab(name, thickness, ghz, angle) >= -1e-9
    assert slab(name, 0.0, ghz, angle) == pytest.approx(0.0, abs=1e-9)

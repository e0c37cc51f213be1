"""One path, term by term, beside chains worked by hand and published figures."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from rollsound.errors import InputError
from rollsound.radio.model import RadioPart
from rollsound.radio.reach.answer import Budget
from rollsound.radio.reach.budget import budget, place
from rollsound.radio.reach.compare import with_power
from rollsound.radio.reach.reach_map import reach_map

Make = Callable[..., RadioPart]

ROUNDED_DB = 0.006
"""Figures printed with two decimals."""


def term(found: Budget, id: str) -> float:
    one = found.term(id)
    assert one is not None, id
    return one.db


def heard(radio: RadioPart, x_m: float = 60.0, y_m: float = 30.0, antenna: str = "a1") -> Budget:
    return budget(radio, "deck", "t1", antenna, (x_m, y_m))


@pytest.mark.source("kT0B, Friis and free space worked by hand: 17 dBm, body 15 dB, 50 m at 600 MHz, 2 dB of cable",
                    kind="practice")  # fmt: skip
def test_an_illustrative_budget_with_a_free_view(make: Make, bare: dict[str, Any]) -> None:
    found = heard(make(antennas=[bare | {"model": "half-wave", "cable": "two"}], transmitters=[{"worn": "fifteen"}]))
    assert found.level_dbm == pytest.approx(-59.8, abs=0.06), "the printed figure is cut, not rounded"
    assert found.noise_dbm == pytest.approx(-112.965, abs=ROUNDED_DB), "a cable as warm as the place adds no noise"
    assert found.margin_db == pytest.approx(31.2, abs=0.1), "about 31 dB over −91 dBm"


@pytest.mark.source("free space worked by hand: 15 dB of wall, 6 dBi, 4 dB of cable", kind="practice")
def test_an_illustrative_budget_through_a_wall(make: Make, bare: dict[str, Any]) -> None:
    radio = make(
        antennas=[bare | {"model": "six", "cable": "four"}],
        transmitters=[{"worn": "fifteen"}],
        walls=[{"line": "40, 0; 40, 60 m", "loss": "15 dB"}],
        more={"antenna_kinds": [{"id": "six", "gain": "6 dB"}]},
    )
    assert heard(radio).level_dbm == pytest.approx(-73.0, abs=0.05)


@pytest.mark.parametrize(
    ("freq", "far_m", "loss_db"), [("174 MHz", 10, 37.26), ("600 MHz", 30, 57.55), ("900 MHz", 3, 41.08)]
)
@pytest.mark.source("Recommendation ITU-R P.525, free space: 20 log(4πdf/c)", kind="published")
def test_free_space(make: Make, bare: dict[str, Any], freq: str, far_m: float, loss_db: float) -> None:
    radio = make(antennas=[bare], transmitters=[{"frequency": freq}], surroundings="free space")
    assert term(heard(radio, 10 + far_m), "path") == pytest.approx(-loss_db, abs=ROUNDED_DB)


@pytest.mark.source("two-ray form of Rappaport and Jakes at 600 MHz, 1.5 m and 3 m, worked by hand", kind="memory")
def test_over_the_floor(make: Make, bare: dict[str, Any]) -> None:
    radio = make(antennas=[bare | {"height": "3 m"}], surroundings="two-ray")
    found = budget(radio, "deck", "t1", "a1", (60.0, 30.0), height_m=1.5)
    assert term(found, "path") == pytest.approx(-56.86, abs=ROUNDED_DB)


@pytest.mark.parametrize(("far_m", "loss_db"), [(10, 48.85), (20, 56.26)])
@pytest.mark.source("Recommendation ITU-R P.1238-11, site-general, office out of sight, 0.6 GHz", kind="published")
def test_in_an_office(make: Make, bare: dict[str, Any], far_m: float, loss_db: float) -> None:
    radio = make(antennas=[bare], surroundings="indoor", walls=[{"line": "1, 1; 2, 1 m"}])
    found = heard(radio, 10 + far_m)
    assert term(found, "path") == pytest.approx(-loss_db, abs=ROUNDED_DB)
    assert any("30 m" in note for note in found.notes), "the ground is larger than the law goes"
    assert any("walls that are drawn come on top" in note for note in found.notes)


@pytest.mark.parametrize(("far_m", "loss_db"), [(50, 63.17), (85, 68.06)])
@pytest.mark.source("Recommendation ITU-R P.1411-11, 4.1.1, free view, 0.8 GHz", kind="published")
def test_in_a_street(make: Make, bare: dict[str, Any], far_m: float, loss_db: float) -> None:
    found = heard(make(antennas=[bare], transmitters=[{"frequency": "800 MHz"}], surroundings="street"), 10 + far_m)
    assert term(found, "path") == pytest.approx(-loss_db, abs=ROUNDED_DB)
    low = heard(make(antennas=[bare], surroundings="street"))
    assert any("0.8 to 82 GHz" in note for note in low.notes)


@pytest.mark.source(
    "COST 231 final report, multi-wall, one light and one heavy wall, 600 MHz at 20 m", kind="published"
)
def test_between_a_light_and_a_heavy_wall(make: Make, bare: dict[str, Any]) -> None:
    walls = [{"line": "15, 0; 15, 60 m", "material": "light"}, {"line": "20, 0; 20, 60 m", "material": "heavy"}]
    found = heard(make(antennas=[bare], walls=walls), 30.0)
    assert term(found, "path") + term(found, "walls") == pytest.approx(-64.33, abs=ROUNDED_DB)
    assert [wall.id for wall in found.walls] == ["wall-w1", "wall-w2"]


@pytest.mark.parametrize(
    ("material", "freq", "loss_db"),
    [
        ("concrete", "600 MHz", 5.54),
        ("brick-thin", "500 MHz", 2.92),
        ("glass", "2.4 GHz", 1.91),
        ("wood", "700 MHz", 0.46),
    ],
)
@pytest.mark.source("Recommendation ITU-R P.2040-3, table 3 and eq. 37, 43, 44, normal incidence", kind="published")
def test_through_a_slab(make: Make, bare: dict[str, Any], material: str, freq: str, loss_db: float) -> None:
    wall = {"line": "40, 0; 40, 60 m", "material": material}
    radio = make(antennas=[bare], transmitters=[{"frequency": freq}], walls=[wall])
    assert term(heard(radio), "walls") == pytest.approx(-loss_db, abs=ROUNDED_DB)
    assert term(heard(radio, 30.0), "walls") == 0


@pytest.mark.parametrize(
    ("behind", "figure_db"),
    [
        ({"cable": "four"}, 12.000),
        ({"cable": "four", "amplifier_gain": "12 dB", "amplifier_noise": "2 dB"}, 4.017),
        ({"cable": "four", "cable_length": "11 m", "amplifier_gain": "12 dB", "amplifier_noise": "2 dB"}, 8.152),
    ],
)
@pytest.mark.source("Friis 1944: noise figure of stages one behind the other, receiver of 8 dB", kind="memory")
def test_the_noise_figure_behind_an_antenna(
    make: Make, bare: dict[str, Any], behind: dict[str, Any], figure_db: float
) -> None:
    found = heard(make(antennas=[bare | behind]))
    assert term(found, "system") == pytest.approx(figure_db, abs=0.0006)
    assert term(found, "rise") == pytest.approx(figure_db, abs=0.0006), "a place as warm as 290 K adds nothing to it"


@pytest.mark.source(
    "Recommendation ITU-R P.372-8 (city) and P.372 eq. 1 to 3, 500 MHz, receiver of 8 dB", kind="published"
)
def test_the_noise_of_a_city(make: Make, bare: dict[str, Any]) -> None:
    found = heard(make(antennas=[bare], transmitters=[{"frequency": "500 MHz"}], noise="city"))
    assert term(found, "place") == pytest.approx(11.10, abs=ROUNDED_DB)
    assert term(found, "rise") == pytest.approx(12.60, abs=ROUNDED_DB)


@pytest.mark.parametrize(("floors", "loss_db"), [(1, 18.30), (2, 33.52), (3, 43.59)])
@pytest.mark.source("COST 231 final report, multi-wall, floors alone, b 0.46", kind="published")
def test_decks_between(make: Make, bare: dict[str, Any], floors: int, loss_db: float) -> None:
    without = heard(make(antennas=[bare]))
    found = heard(make(antennas=[bare | {"floors": floors}]))
    assert term(found, "floors") == pytest.approx(-loss_db, abs=ROUNDED_DB)
    assert found.level_dbm == pytest.approx(without.level_dbm - loss_db, abs=ROUNDED_DB)
    assert term(heard(make(antennas=[bare | {"floors": floors}], floor_loss="30 dB")), "floors") == -30 * floors
    assert without.term("floors") is None


ABSURD: list[dict[str, Any]] = [
    {"antennas": [{"at": "10, 30 m", "cable": "rg-174", "cable_length": "500 km"}]},
    {"antennas": [{"at": "10, 30 m", "amplifier_gain": "1000 dB"}]},
    {"antennas": [{"at": "10, 30 m", "amplifier_gain": "-1000 dB", "amplifier_noise": "-50 dB"}]},
    {"antennas": [{"at": "10, 30 m", "amplifier_gain": "3 dB", "amplifier_noise": "900 dB"}]},
    {"antennas": [{"at": "10, 30 m", "height": "100 km"}]},
    {"antennas": [{"at": "-90000, 90000 m"}]},
    {"more": {"receiver_kinds": [{"id": "odd", "noise_figure": "-900 dB"}]}, "receiver": {"model": "odd"}},
    {"more": {"receiver_kinds": [{"id": "odd", "needed": "1000 dB", "width": "1 Hz"}]}, "receiver": {"model": "odd"}},
    {"more": {"worn_places": [{"id": "odd", "loss": "1000 dB"}]}, "transmitters": [{"worn": "odd"}]},
    {"transmitters": [{"power": "1e300 W"}]},
    {"transmitters": [{"power": "1e-300 mW"}]},
    {"transmitters": [{"frequency": "90 GHz"}]},
    {"walls": [{"line": "20, 0; 20, 60 m", "loss": "1000 dB"}] * 50},
    {"exponent": 8.0, "body_loss": "-1000 dB"},
    {"fading": "rician", "rician_k": "1000 dB"},
    {"fading": "rician", "rician_k": "-1000 dB"},
    {"noise_sources": [{"id": "sun", "at": "10, 30 m", "rise": "1000 dB"}]},
    {"noise_sources": [{"id": "hole", "at": "10, 30 m", "rise": "-1000 dB"}]},
]


@pytest.mark.parametrize("absurd", ABSURD, ids=lambda absurd: str(next(iter(absurd.values())))[:50])
def test_absurd_figures_are_refused_or_reckoned_but_never_become_no_number(make: Make, absurd: dict[str, Any]) -> None:
    radio = make(**absurd)
    try:
        found = place(radio, "deck", "t1", (60.0, 30.0))
    except InputError as error:
        assert error.sentence.count("; ") >= 1, "what and what to do"
    else:
        assert math.isfinite(found.margin_db)
        assert math.isfinite(found.level_dbm)
        assert 0 <= found.share_of_time <= 1
        assert np.isfinite(reach_map(radio, "deck", points=(4, 4)).share_of_time).all()
        assert sum(one.db for one in found.budgets[0].noise_terms) == pytest.approx(
            found.budgets[0].noise_dbm, abs=1e-6
        )


WAYS = [
    ("free space", "600 MHz", 30, 57.55),
    ("indoor", "600 MHz", 20, 56.26),
    ("street", "800 MHz", 50, 63.17),
]


def wrong_ways(make: Make, bare: dict[str, Any], ways: list[tuple[str, str, float, float]]) -> list[str]:
    """The laws whose loss is not the printed one."""
    return [
        law
        for law, freq, far_m, loss_db in ways
        for found in [heard(make(antennas=[bare], transmitters=[{"frequency": freq}], surroundings=law), 10 + far_m)]
        if abs(term(found, "path") + loss_db) > ROUNDED_DB
    ]


@pytest.mark.source("ITU-R P.525, P.1238-11 and P.1411-11, one value of each law", kind="published")
def test_a_perturbed_loss_is_noticed(make: Make, bare: dict[str, Any]) -> None:
    assert wrong_ways(make, bare, WAYS) == []
    assert wrong_ways(make, bare, [(law, freq, far, loss + 0.02) for law, freq, far, loss in WAYS]) == [
        law for law, *_ in WAYS
    ]


def test_a_noise_source_rises_as_measured_and_falls_with_distance(make: Make, bare: dict[str, Any]) -> None:
    def over(at: str, **ground: Any) -> float:
        led = {"id": "led", "name": "LED wall", "at": at, "rise": "20 dB"}
        found = heard(make(antennas=[bare | {"model": "half-wave"}], noise="city", noise_sources=[led], **ground))
        place_db, all_db, system_db = term(found, "place"), term(found, "rise"), term(found, "system")
        return 10 * math.log10(10 ** (all_db / 10) - 10 ** (system_db / 10) + 1) - place_db

    assert over("20, 30 m") == pytest.approx(20.0, abs=1e-9)
    assert over("10, 50 m") == pytest.approx(10 * math.log10(1 + 99 / 4), abs=1e-9)
    wall = [{"id": "w", "line": "15, 0; 15, 60 m", "loss": "10 dB"}]
    assert over("20, 30 m", walls=wall) == pytest.approx(10 * math.log10(1 + 99 / 10), abs=1e-9)


@pytest.mark.parametrize(("length", "low_db", "high_db"), [("4 m", 0.79, 0.82), ("20 m", 4.01, 4.03)])
@pytest.mark.source("published fit of 240-class low-loss cable, 0.242080√f + 0.000330f dB/100 ft", kind="published")
def test_four_metres_of_cable_cost_less_than_a_decibel(
    make: Make, bare: dict[str, Any], length: str, low_db: float, high_db: float
) -> None:
    found = heard(make(antennas=[bare | {"cable": "foam-240", "cable_length": length}]))
    assert low_db < -term(found, "cable") < high_db


@pytest.mark.parametrize(
    ("turned", "loss_db"), [("vertical", 0.0), ("slanted", 3.01), ("circular", 3.01), ("horizontal", 20.0)]
)
@pytest.mark.source("−20 log cos ψ; circular against straight 3.01 dB; crossed 20 dB in practice", kind="memory")
def test_turned_antennas(make: Make, bare: dict[str, Any], turned: str, loss_db: float) -> None:
    found = heard(make(antennas=[bare | {"polarisation": turned}]))
    assert term(found, "polarisation") == pytest.approx(-loss_db, abs=ROUNDED_DB)


def test_an_antenna_hears_best_where_it_looks(make: Make, bare: dict[str, Any]) -> None:
    towards = {
        bearing: term(heard(make(antennas=[bare | {"model": "paddle", "bearing_deg": bearing}])), "antenna")
        for bearing in (0, 50, -50, 180)
    }
    assert towards == {0: 6.0, 50: 3.0, -50: 3.0, 180: pytest.approx(6 - 15)}


@pytest.mark.parametrize(
    ("bearing", "at_m"),
    [(0, (60.0, 30.0)), (90, (10.0, 55.0)), (-90, (10.0, 3.0)), (180, (2.0, 30.0)), (45, (30.0, 50.0))],
)
def test_bearings_turn_from_the_right_up_the_drawing(
    make: Make, bare: dict[str, Any], bearing: float, at_m: tuple[float, float]
) -> None:
    radio = make(antennas=[bare | {"model": "paddle", "bearing_deg": bearing}])
    assert term(budget(radio, "deck", "t1", "a1", at_m), "antenna") == pytest.approx(6.0)


@pytest.mark.parametrize(("antennas", "margin_db"), [(1, 19.98), (2, 9.77), (3, 6.15)])
@pytest.mark.source("Jakes, selection between branches that fade independently: fade margins for 1 %", kind="memory")
def test_a_hundredth_of_the_time_is_lost(make: Make, bare: dict[str, Any], antennas: int, margin_db: float) -> None:
    many = {"receiver_kinds": [{"id": "many", "branches": 4}], "antenna_kinds": [{"id": "zero", "gain": "0 dB"}]}
    radio = make(antennas=[bare] * antennas, receiver={"model": "many"}, more=many)
    found = place(radio, "deck", "t1", (60.0, 30.0))
    wanted = with_power(radio, "t1", 50 * 10 ** ((margin_db - found.margin_db) / 10))
    at_margin = place(wanted, "deck", "t1", (60.0, 30.0))
    assert at_margin.margin_db == pytest.approx(margin_db)
    assert 1 - at_margin.share_of_time == pytest.approx(0.01, rel=0.005), "two decimals of the margin are 0.2 % of it"
    assert len(at_margin.branches) == antennas


def test_a_direct_path_fades_less(make: Make, bare: dict[str, Any]) -> None:
    shares = []
    for ground in ({}, {"fading": "rician", "rician_k": "10 dB"}):
        radio = make(antennas=[bare], transmitters=[{"power": "500 uW"}], **ground)
        found = place(radio, "deck", "t1", (60.0, 30.0))
        assert 5 < found.margin_db < 20
        shares.append(found.share_of_time)
    assert shares[0] < shares[1] < 1


def test_antennas_on_one_branch_are_combined(make: Make, bare: dict[str, Any]) -> None:
    """Two alike: half of each arrives, so together the signal of one, and with the receiver's the noise of one."""
    one = place(make(antennas=[bare]), "deck", "t1", (60.0, 30.0))
    kinds = {"receiver_kinds": [{"id": "single", "branches": 1}], "antenna_kinds": [{"id": "zero", "gain": "0 dB"}]}
    two = place(make(antennas=[bare, bare], receiver={"model": "single"}, more=kinds), "deck", "t1", (60.0, 30.0))
    assert two.branches == (("a1", "a2"),)
    assert two.margin_db == pytest.approx(one.margin_db, abs=1e-9)
    assert two.budgets[0].level_dbm == pytest.approx(one.level_dbm - 10 * math.log10(2), abs=1e-9)
    assert term(two.budgets[0], "combiner") == pytest.approx(-3.01, abs=ROUNDED_DB)


def test_more_antennas_than_branches_are_dealt_in_turn(make: Make, bare: dict[str, Any]) -> None:
    found = place(make(antennas=[bare] * 5), "deck", "t1", (60.0, 30.0))
    assert found.branches == (("a1", "a3", "a5"), ("a2", "a4"))


def test_terms_add_up(make: Make) -> None:
    antenna = {"at": "10, 30 m", "model": "paddle", "amplifier_gain": "12 dB", "split_ways": 4, "bearing_deg": 70}
    walls = [{"line": "40, 0; 40, 60 m", "material": "brick"}, {"line": "50, 0; 50, 60 m", "loss": "7 dB"}]
    found = heard(make(antennas=[antenna, "20, 5 m", "30, 5 m"], walls=walls, noise="residential"))
    assert found.level_dbm == pytest.approx(sum(one.db for one in found.terms), abs=1e-9)
    assert found.noise_dbm == pytest.approx(sum(one.db for one in found.noise_terms), abs=1e-9)
    assert term(found, "walls") == pytest.approx(sum(one.db for one in found.walls), abs=1e-9)
    assert found.margin_db == pytest.approx(found.level_dbm - found.noise_dbm - found.needed_db, abs=1e-9)
    assert [one.id for one in found.terms] == [
        "power", "sent", "body", "polarisation", "path", "walls", "antenna", "amplifier", "cable", "connectors",
        "splitter", "combiner",
    ]  # fmt: skip
    assert all(one.source for one in found.terms), "every term says where it comes from"


def test_a_body_as_fitted_goes_before_the_tables_and_leaves_a_pole_alone(make: Make, bare: dict[str, Any]) -> None:
    worn = make(antennas=[bare], body_loss="21 dB")
    assert term(heard(worn), "body") == -21
    held = make(antennas=[bare], transmitters=[{"kind": "boom"}], body_loss="21 dB")
    assert term(heard(held), "body") == -8


def test_what_is_taken_for_granted_is_told(make: Make, bare: dict[str, Any]) -> None:
    radio = make(antennas=[bare], transmitters=[{"power": None, "frequency": None}], receiver={"hears": []})
    notes = " ".join(heard(radio).notes)
    assert "No receiver of the plan hears Pack 1" in notes
    assert "600 MHz is taken" in notes
    assert "50 mW is taken" in notes


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"antennas": []}, "the ground 'deck' has no antenna; place one where the receivers listen"),
        ({"transmitters": [{"power": "0 mW"}]}, "Pack 1 sends with 0 mW; give it a power"),
        ({"transmitters": [{"frequency": "600 Hz"}]}, "sends at 0.0006 MHz, which is no frequency of a radio"),
        ({"walls": [{"line": "1, 1; 2, 2 m", "material": "cheese"}]}, "'cheese' is no material of a wall; there are: "),
        ({"walls": [{"line": "1, 1; 2, 2 m", "loss": "-3 dB"}]}, "wall 'w1' of the ground 'deck' has a loss of -3 dB"),
        ({"antennas": [{"at": "1, 1 m", "model": "dish"}]}, "'dish' is no kind of antenna; there are: "),
        ({"antennas": [{"at": "1, 1 m", "cable": "string"}]}, "'string' is no antenna cable; there are: "),
        ({"transmitters": [{"worn": "tail"}]}, "'tail' is no place where a transmitter is worn; there are: "),
        ({"receiver": {"model": "crystal"}}, "'crystal' is no kind of receiver; there are: "),
    ],
)  # fmt: skip
def test_what_cannot_be_reckoned_is_told(make: Make, change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(InputError, match=re.escape(sentence)):
        place(make(**change), "deck", "t1", (60.0, 30.0))


def test_who_is_not_there_is_told(make: Make, bare: dict[str, Any]) -> None:
    radio = make(antennas=[bare | {"layouts": ["set"]}, bare | {"layouts": ["cart"]}], receiver={"antennas": ["a2"]})
    for call, sentence in (
        (lambda: budget(radio, "sea", "t1", "a1", (1, 1)), "no ground is called 'sea'"),
        (lambda: budget(radio, "deck", "t9", "a1", (1, 1)), "no transmitter is called 't9'; there are: t1"),
        (lambda: budget(radio, "deck", "t1", "a1", (1, 1)), "antenna 'a1' does not hear 't1' on the ground 'deck'"),
        (lambda: place(radio, "deck", "t1", (1, 1), layout="roof"), "there are: set, cart"),
        (lambda: place(radio, "deck", "t1", (1, 1), layout="set"), "receiver 'rx' has no antenna in the layout 'set'"),
        (lambda: place(radio, "deck", "t1", (101, 1)), "transmitter 't1' lies at 101, 1 m, outside the ground"),
        (lambda: place(radio, "deck", "t1", (math.nan, 1)), "outside the ground"),
        (lambda: reach_map(radio, "deck", height_m=math.nan), "a transmitter nan m over the floor cannot be reckoned"),
    ):
        with pytest.raises(InputError, match=re.escape(sentence)):
            call()

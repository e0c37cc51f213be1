"""Noise of places, against the laws of the recommendation."""

from __future__ import annotations

import numpy as np
import pytest
from vectors import PRINTED_2, goes_red, missed

from rollsound.errors import InputError
from rollsound.radio.model import RadioPart
from rollsound.radio.noise import (
    environment,
    environments,
    external_noise_db,
    law_db,
    man_made_db,
    note,
    notes,
    total_noise_db,
)

PLACES = ("city", "residential", "rural", "quiet-rural")
TABLE = {
    50: (29.74, 25.44, 20.14, 5.01),
    100: (21.40, 17.10, 11.80, -3.60),
    174: (14.74, 10.44, 5.14, -10.48),
    216: (12.14, 7.84, 2.54, -13.17),
    250: (10.38, 6.08, 0.78, -14.98),
}
ROWS = {(place, f * 1e6): value for f, row in TABLE.items() for place, value in zip(PLACES, row, strict=True)}
UPPER = {
    ("city", 470e6): 11.43,
    ("city", 500e6): 11.10,
    ("city", 600e6): 10.13,
    ("city", 700e6): 9.31,
    ("city", 900e6): 7.96,
}


@pytest.mark.source("ITU-R P.372-17, median man-made noise (public code): computed", kind="published")
def test_noise_of_places() -> None:
    assert missed(ROWS, man_made_db, PRINTED_2) == []
    assert goes_red(ROWS, man_made_db, PRINTED_2)


@pytest.mark.source(
    "ITU-R P.372-8, business/city 44.3 - 12.3 log f to 900 MHz (public code): computed", kind="published"
)
def test_noise_of_the_city_at_uhf() -> None:
    assert missed(UPPER, man_made_db, PRINTED_2) == []
    assert goes_red(UPPER, man_made_db, PRINTED_2)
    crossing = 10 ** ((76.8 - 44.3) / (27.7 - 12.3))
    assert crossing == pytest.approx(128.9, abs=0.1)
    assert law_db(76.8, 27.7, crossing * 1e6) == pytest.approx(law_db(44.3, 12.3, crossing * 1e6))


@pytest.mark.source("ITU-R P.372-17: constants and deciles (public code)", kind="published")
def test_constants_and_deciles() -> None:
    found = {e.id: (e.c_db, e.d_db, e.upper_decile_db, e.lower_decile_db) for e in environments().values()}
    assert found == {
        "city": (76.8, 27.7, 11.0, 6.7),
        "residential": (72.5, 27.7, 10.6, 5.3),
        "rural": (67.2, 27.7, 9.2, 4.6),
        "quiet-rural": (53.6, 28.6, 0.0, 0.0),
        "galactic": (52.0, 23.0, 0.0, 0.0),
    }


@pytest.mark.source("ITU-R P.372, eq. 1 to 3: f = fa + fr - 1 (lossless antenna)", kind="memory")
def test_place_and_receiver_together() -> None:
    assert total_noise_db(man_made_db("city", 500e6), 8.0) == pytest.approx(12.60, abs=PRINTED_2)
    assert total_noise_db(0.0, 8.0) == pytest.approx(8.0)
    assert total_noise_db(np.array([0.0, 10.0]), 0.0).tolist() == pytest.approx([0.0, 10.0])


def test_a_set_is_never_colder_than_its_walls() -> None:
    assert man_made_db("rural", 600e6) < 0
    assert external_noise_db("rural", 600e6) == 0.0
    assert external_noise_db("none", 600e6) == 0.0
    assert external_noise_db("city", 600e6) == man_made_db("city", 600e6)


def test_what_is_stretched_is_told() -> None:
    assert note("city", 600e6) == note("rural", 200e6) == note("none", 600e6) == ""
    assert "up to 250 MHz" in note("rural", 600e6)
    assert "up to 900 MHz" in note("city", 2.4e9)
    assert any("Conflict" in text for text in notes())


def test_the_shows_own_environment_goes_before_the_tables() -> None:
    own = [{"id": "city", "name": "under the LED wall", "c": "60 dB", "d": "0 dB"}]
    radio = RadioPart.model_validate({"noise_environments": own})
    place = environment(radio, "city")
    assert man_made_db(place, 600e6) == 60.0
    assert note(place, 600e6) == ""
    assert environment(radio, "quiet rural").id == "quiet-rural"
    with pytest.raises(InputError, match="'moon' is no noise environment"):
        environment(radio, "moon")

"""Walk tests: known places found again from readings with scatter and outliers, and what is not told stays."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from rollsound.errors import InputError
from rollsound.radio.model import RadioPart, Reading
from rollsound.radio.reach.answer import Fitted, WalkFit
from rollsound.radio.reach.budget import budget, place
from rollsound.radio.reach.reach_map import reach_map
from rollsound.radio.reach.walk import fit

Make = Callable[..., RadioPart]
Read = Callable[..., list[Reading]]

TRUE = {"exponent": 2.7, "body": 21.0, "concrete": 9.0, "metal": 18.0}
WALLS: list[dict[str, Any]] = [
    {"line": "30, 0; 30, 36 m", "material": "concrete"},
    {"line": "60, 24; 60, 60 m", "material": "concrete"},
    {"line": "80, 0; 80, 42 m", "material": "metal"},
]
ANTENNAS = ["5, 8 m", "45, 55 m"]


def walls_with(losses: dict[str, float]) -> list[dict[str, Any]]:
    return [wall | {"loss": f"{losses[wall['material']]} dB"} for wall in WALLS]


@pytest.fixture
def radio(make: Make) -> RadioPart:
    return make(antennas=ANTENNAS, walls=WALLS)


@pytest.fixture
def read(make: Make) -> Read:
    """Readings of a place as it truly is."""
    truth = make(antennas=ANTENNAS, walls=walls_with(TRUE), exponent=TRUE["exponent"], body_loss=f"{TRUE['body']} dB")

    def readings(
        count: int, *, seed: int = 1, scatter_db: float = 2.0, wrong: int = 0, low: tuple[float, float] = (1, 1),
        high: tuple[float, float] = (99, 59), antenna: str = "",
    ) -> list[Reading]:  # fmt: skip
        chance = np.random.default_rng(seed)
        found = []
        for number in range(count):
            x, y = (round(float(chance.uniform(a, b)), 2) for a, b in zip(low, high, strict=True))
            name = antenna or str(chance.choice(["a1", "a2"]))
            level = budget(truth, "deck", "t1", name, (x, y)).level_dbm + scatter_db * chance.standard_normal()
            # wrong ones lie 25 dB off: upwards as well where they would drown in the noise
            level += 0.0 if number >= wrong else -25.0 if number % 2 and level > -90 else 25.0
            found.append(reading(f"r{number}", f"{x}, {y} m", level, name))
        return found

    return readings


def reading(id: str, at: str, level_dbm: float | None, antenna: str = "a1", **more: Any) -> Reading:
    level = {} if level_dbm is None else {"level": f"{level_dbm:.3f} dBm"}
    return Reading.model_validate({"id": id, "at": at, "antenna": antenna, **level, **more})


def figure(found: WalkFit, id: str) -> Fitted:
    return next(one for one in found.fitted if one.id == id)


KNOWN = {"exponent": "exponent", "body": "body", "wall-concrete": "concrete", "wall-metal": "metal"}


def test_a_place_is_found_again_exactly_without_scatter(radio: RadioPart, read: Read) -> None:
    found = fit(radio, "deck", read(24, scatter_db=0.0))
    for id, name in KNOWN.items():
        one = figure(found, id)
        assert one.told, one.why
        assert one.after == pytest.approx(TRUE[name], abs=0.011), "figures are written with two decimals"
    assert found.rms_after_db < 0.02
    assert found.rms_before_db > 5
    assert found.outliers == ()


def test_a_place_is_found_again_among_outliers_as_well_as_it_says(radio: RadioPart, read: Read) -> None:
    """Over many walks figures lie around the truth by as much as their uncertainty says; outliers are named."""
    away: dict[str, list[float]] = {id: [] for id in KNOWN}
    missed = falsely = 0
    for seed in range(16):
        found = fit(radio, "deck", read(40, seed=seed, wrong=5))
        named = {one.id for one in found.outliers}
        missed += len({f"r{n}" for n in range(5)} - named)
        falsely += len(named - {f"r{n}" for n in range(5)})
        for id, name in KNOWN.items():
            one = figure(found, id)
            assert one.after is not None
            if one.told and one.sigma:
                away[id].append((one.after - TRUE[name]) / one.sigma)
    assert missed == 0
    assert falsely <= 16, "one honest reading in forty at most"
    for id, sizes in away.items():
        assert len(sizes) >= 14, id
        assert np.sqrt(np.mean(np.square(sizes))) < 1.7, id
        assert np.abs(np.mean(sizes)) < 0.8, id


def test_outliers_bend_the_fit_little(radio: RadioPart, read: Read) -> None:
    """A third of the readings wrong by 25 dB moves no figure by more than twice its uncertainty."""
    clean, spoiled = read(45, seed=5), read(45, seed=5, wrong=15)
    one, other = fit(radio, "deck", clean), fit(radio, "deck", spoiled)
    assert len(other.outliers) == 15
    for id in KNOWN:
        first, second = figure(one, id), figure(other, id)
        assert first.after is not None
        assert second.sigma is not None
        assert abs((second.after or 0.0) - first.after) < 2 * second.sigma, id
    assert any("15 of 45 readings do not fit" in note for note in other.notes)


@pytest.mark.parametrize("written", [0.0, 3.0, 60.0, 80.0, 400.0])
def test_what_was_written_before_does_not_matter(make: Make, read: Read, written: float) -> None:
    walls = walls_with({"concrete": written, "metal": 80.0 - min(written, 80.0)})
    found = fit(make(antennas=ANTENNAS, walls=walls, exponent=8.0, body_loss="0 dB"), "deck", read(40, scatter_db=0.5))
    for id, name in KNOWN.items():
        assert figure(found, id).after == pytest.approx(TRUE[name], abs=0.8), id


@pytest.mark.parametrize("seed", [2, 3])
def test_the_order_of_readings_does_not_matter(radio: RadioPart, read: Read, seed: int) -> None:
    readings = read(30, seed=seed, wrong=4)
    shuffled = [readings[n] for n in np.random.default_rng(seed).permutation(30)]
    one, other = fit(radio, "deck", readings), fit(radio, "deck", shuffled)
    for first, second in zip(one.fitted, other.fitted, strict=True):
        assert second.after == pytest.approx(first.after, abs=0.011)
        assert (second.told, second.why) == (first.told, first.why)
    assert {each.id for each in other.outliers} == {each.id for each in one.outliers}


def test_more_readings_leave_less_open(radio: RadioPart, read: Read) -> None:
    few, many = fit(radio, "deck", read(40, seed=6)), fit(radio, "deck", read(160, seed=6))
    for id in KNOWN:
        first, second = figure(few, id).sigma, figure(many, id).sigma
        assert first is not None, id
        assert second is not None
        assert second < first, id


def test_a_hundred_walls_of_their_own_loss_end_soon(make: Make, read: Read) -> None:
    """More figures than readings: most stay as they were, each with its reason, and nothing takes long."""
    chance = np.random.default_rng(9)
    walls = [
        {"line": f"{x:.1f}, {y:.1f}; {x + 6:.1f}, {y + dy:.1f} m", "loss": f"{1 + n / 10:.1f} dB"}
        for n, (x, y, dy) in enumerate(zip(*chance.uniform((1, 1, -6), (90, 55, 6), (100, 3)).T, strict=True))
    ]
    found = fit(make(antennas=ANTENNAS, walls=walls), "deck", read(40))
    assert len(found.fitted) == 102
    assert all(one.told or one.why for one in found.fitted)
    assert sum(one.told for one in found.fitted) < 39
    assert len({one.id for one in found.fitted}) == 102


def test_the_map_after_is_what_was_fitted(radio: RadioPart, read: Read) -> None:
    found = fit(radio, "deck", read(30, wrong=2))
    after = found.radio_after
    for one in found.residuals:
        again = budget(after, "deck", "t1", one.antenna, one.at_m)
        assert again.level_dbm == pytest.approx(one.after_dbm, abs=1e-9)
        assert budget(radio, "deck", "t1", one.antenna, one.at_m).level_dbm == pytest.approx(one.before_dbm, abs=1e-9)
        assert one.after_db == pytest.approx(one.level_dbm - one.after_dbm)
    before_map, after_map = (reach_map(part, "deck", points=(10, 6)) for part in (radio, after))
    assert (before_map.margin_db - after_map.margin_db).mean() > 5
    # what was fitted is written as people write it, and read back the same
    again = RadioPart.model_validate(after.model_dump(by_alias=True, exclude_unset=True))
    np.testing.assert_allclose(reach_map(again, "deck", points=(10, 6)).margin_db, after_map.margin_db, atol=1e-9)


def test_a_wall_that_nobody_walked_behind_stays(radio: RadioPart, read: Read) -> None:
    found = fit(radio, "deck", read(30, high=(75, 59)))
    steel = figure(found, "wall-metal")
    assert not steel.told
    assert steel.after == steel.before == 30
    assert steel.why.startswith("no reading lies behind it")
    assert figure(found, "wall-concrete").told
    assert [wall.loss_db for wall in found.radio_after.grounds[0].walls][2] is None
    assert "as it was: loss of metal" in found.sentence


def test_one_reading_behind_a_wall_tells_nothing_of_it(radio: RadioPart, read: Read) -> None:
    """It would be fitted exactly, however wrong it is."""
    behind = read(1, antenna="a1", low=(82, 1), high=(99, 20))
    before = [one.model_copy(update={"id": f"b{n}"}) for n, one in enumerate(read(30, antenna="a1", high=(75, 59)))]
    steel = figure(fit(radio, "deck", [*before, *behind]), "wall-metal")
    assert steel.readings == 1
    assert not steel.told
    assert steel.why.startswith("only one reading lies behind it, and may be the wrong one")


def test_at_one_distance_the_exponent_stays(radio: RadioPart, read: Read) -> None:
    found = fit(radio, "deck", read(20, antenna="a1", low=(19, 7), high=(20, 9)))
    exponent = figure(found, "exponent")
    assert not exponent.told
    assert exponent.after == exponent.before == 2.0
    assert "cannot tell it from body loss; take readings much nearer and much further away" in exponent.why
    body = figure(found, "body")
    assert body.told, "the shift that is left is the body's"
    assert found.radio_after.grounds[0].exponent is None


def test_behind_a_wall_only_the_wall_cannot_be_told_from_the_body(radio: RadioPart, read: Read) -> None:
    found = fit(radio, "deck", read(24, antenna="a1", low=(32, 1), high=(58, 20)))
    concrete = figure(found, "wall-concrete")
    assert not concrete.told
    assert "cannot tell it from" in concrete.why
    assert found.rms_after_db < 3.5


def test_few_readings_tell_few_figures(radio: RadioPart, read: Read) -> None:
    found = fit(radio, "deck", read(4, scatter_db=0.5))
    assert sum(one.told for one in found.fitted) <= 2
    assert all(one.told or one.why for one in found.fitted)


def test_readings_at_a_wrong_unit_do_not_become_a_body(radio: RadioPart, read: Read) -> None:
    """Levels taken for dBm that are 60 dB too high ask for a body that gives: nothing is bent to that."""
    wrong = [
        one.model_copy(update={"level_dbm": float(one.level_dbm or 0) + 60}) for one in read(24, antenna="a1", wrong=0)
    ]
    found = fit(radio, "deck", [one for one in wrong if (one.level_dbm or 0) < 15])
    body = figure(found, "body")
    assert not body.told
    assert body.after == body.before


def test_a_reading_without_an_antenna_is_of_the_strongest(radio: RadioPart, read: Read) -> None:
    named = read(40, scatter_db=0.0)
    unnamed = [one.model_copy(update={"antenna": ""}) for one in named]
    truth = fit(radio, "deck", named).radio_after
    best = [
        one.model_copy(update={"level_dbm": place(truth, "deck", "t1", one.at_m.points_m[0]).level_dbm})
        for one in unnamed
        if one.at_m is not None
    ]
    found = fit(radio, "deck", best)
    assert figure(found, "exponent").after == pytest.approx(TRUE["exponent"], abs=0.02)
    assert figure(found, "body").after == pytest.approx(TRUE["body"], abs=0.2)
    for one in found.residuals:
        levels = {each.antenna: each.level_dbm for each in place(found.radio_after, "deck", "t1", one.at_m).budgets}
        assert levels[one.antenna] == max(levels.values())


def test_quality_counts_as_the_level_that_gives_it(make: Make) -> None:
    radio = make(antennas=["5, 30 m"], transmitters=[{"power": "1 mW"}])
    truth = make(antennas=["5, 30 m"], transmitters=[{"power": "1 mW"}], exponent=3.0, body_loss="24 dB")
    readings = []
    for number, x in enumerate(np.linspace(12, 70, 15)):
        share = place(truth, "deck", "t1", (float(x), 30.0)).share_of_time
        readings.append(reading(f"r{number}", f"{x} , 30 m", None, "", quality=100 * share))
    found = fit(radio, "deck", readings)
    assert figure(found, "exponent").after == pytest.approx(3.0, abs=0.05)
    assert figure(found, "body").after == pytest.approx(24.0, abs=0.5)
    assert all(one.from_quality for one in found.residuals)
    assert any(one.why.endswith("write the level") for one in found.set_aside), "all of the time tells no level"


def test_what_cannot_be_used_is_told_and_the_rest_is_fitted(radio: RadioPart, read: Read) -> None:
    good = read(12)
    absurd = [
        (reading("off", "101, 3 m", -60), "it lies at 101, 3 m, outside the ground, which is 100 m wide"),
        (reading("loud", "20, 20 m", 31), "a level of 31 dBm is more than any receiver is given"),
        (reading("deep", "20, 20 m", -140), "a level of -140 dBm lies under any receiver's noise, -121 dBm"),
        (reading("nan", "20, 20 m", -60).model_copy(update={"level_dbm": float("nan")}), "its level is no number"),
        (reading("bare", "20, 20 m", None), "it has neither level nor quality"),
        (reading("who", "20, 20 m", -60, transmitter="t7"), "no transmitter 't7' sends on this ground"),
        (reading("which", "20, 20 m", -60, "a9"), "no antenna 'a9' hears Pack 1 on this ground"),
        (reading("r3", "20, 20 m", -60), "another reading has the same id"),
        (Reading.model_validate({"id": "lost", "level": "-60 dBm"}), "it has neither a place nor a stand"),
        (Reading.model_validate({"id": "gone", "stand": "bow", "level": "-60 dBm"}), "no stand is called 'bow'"),
        (reading("all", "20, 20 m", None, quality=100), "a quality of 100 % tells only that"),
    ]  # fmt: skip
    found = fit(radio, "deck", [*good, *(one for one, _ in absurd)])
    assert len(found.residuals) == 12
    assert [one.id for one in found.set_aside] == [one.id for one, _ in absurd]
    for one, (_, why) in zip(found.set_aside, absurd, strict=True):
        assert why in one.why


def test_which_was_carried_must_be_named_among_several(make: Make, read: Read) -> None:
    radio = make(antennas=ANTENNAS, walls=WALLS, transmitters=[{}, {}])
    with pytest.raises(InputError, match="it names no transmitter, and 2 send on this ground; name the one"):
        fit(radio, "deck", read(12))
    named = [one.model_copy(update={"transmitter": "t2"}) for one in read(12)]
    assert {one.transmitter for one in fit(radio, "deck", named).residuals} == {"t2"}


@pytest.mark.parametrize(
    ("ground", "readings", "sentence"),
    [
        ("deck", [], "the ground 'deck' has no readings of a walk test; enter some, or name their file"),
        ("sea", [], "no ground is called 'sea'"),
        ("deck", [reading("r1", "1, 1 m", -50), reading("r2", "300, 1 m", -50)],
         "a walk test of 'deck' needs 4 readings or more that can be used; 1 of 2 can be; r2: it lies at 300, 1 m"),
    ],
)  # fmt: skip
def test_too_little_to_fit_to_is_told(
    radio: RadioPart, ground: str, readings: Sequence[Reading], sentence: str
) -> None:
    with pytest.raises(InputError, match=re.escape(sentence)):
        fit(radio, ground, readings)


def test_a_ground_without_antennas_is_told(make: Make) -> None:
    with pytest.raises(InputError, match="the ground 'deck' has no antenna"):
        fit(make(antennas=[]), "deck", [reading("r1", "1, 1 m", -50)])


def test_a_pole_tells_nothing_of_bodies(make: Make, read: Read) -> None:
    radio = make(antennas=ANTENNAS, walls=WALLS, transmitters=[{"kind": "boom"}])
    body = figure(fit(radio, "deck", read(24)), "body")
    assert not body.told
    assert body.why == "no reading is of a transmitter worn on the body"


def test_stands_are_places(make: Make, read: Read) -> None:
    stands = [{"id": f"s{n}", "at": str(one.at_m)} for n, one in enumerate(read(12))]
    radio = make(antennas=ANTENNAS, walls=WALLS, stands=stands)
    named = [one.model_copy(update={"at_m": None, "stand": f"s{n}"}) for n, one in enumerate(read(12))]
    ours, theirs = fit(radio, "deck", named), fit(radio, "deck", read(12))
    assert [one.after for one in ours.fitted] == [one.after for one in theirs.fitted]

"""What is found is written where it was asked for, and nothing else of the text or the show changes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rollsound.actions.radio import plan, read, save_plan, save_spares, spare
from rollsound.actions.radio_scan import save_scan, take_scan
from rollsound.actions.reach_walk import save_walk, walk
from rollsound.errors import InputError
from rollsound.log.changes import ClashError
from rollsound.radio.carriers.task import Mode

PLAN = """radio:
  transmitters:
    - {id: a, name: Pack A, tuning: 470-542 MHz, power: 10 mW, frequency: 500 MHz}
    - {id: b, name: Pack B, tuning: 470-542 MHz, power: 10 mW}
"""


def text(path: Path, content: str = PLAN) -> Path:
    path.write_text(content, "utf-8")
    return path


def test_what_was_typed_into_the_text_during_a_search_stays(tmp_path: Path) -> None:
    path = text(tmp_path / "plan.yaml")
    asked = read(path)
    found = plan(asked, Mode.ADD, moves=500)
    text(path, PLAN.replace("Pack A", "Pack of the lead") + "# and a remark\n")
    save_plan(asked, found)
    again = path.read_text("utf-8")
    assert "Pack of the lead" in again
    assert "# and a remark" in again
    assert read(path).carriers_hz == {"a": 500_000_000, "b": round(found.assignments[1].mhz * 1e6)}


def test_a_frequency_that_was_typed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = text(tmp_path / "plan.yaml")
    asked = read(path)
    found = plan(asked, Mode.ADD, moves=500)
    typed = PLAN.replace("name: Pack B,", "name: Pack B, frequency: 520 MHz,")
    text(path, typed)
    with pytest.raises(ClashError, match="changed at /radio/transmitters/b/frequency since it was read"):
        save_plan(asked, found)
    assert path.read_text("utf-8") == typed


@pytest.mark.parametrize(
    ("now", "told"),
    [
        (PLAN.replace("id: b", "id: c"), "run the command again"),
        ("radio: [", "line"),
        ("", "run the command again"),
    ],
)
def test_a_text_that_means_something_else_now_stays_as_it_is(now: str, told: str, tmp_path: Path) -> None:
    path = text(tmp_path / "plan.yaml")
    asked = read(path)
    found = plan(asked, Mode.ADD, moves=500)
    text(path, now)
    with pytest.raises(InputError) as caught:
        save_plan(asked, found)
    whole = caught.value.sentence + "".join(f" line {m.line}" for m in getattr(caught.value, "mistakes", ()))
    assert told in whole
    assert path.read_text("utf-8") == now


def test_a_json_part_keeps_what_was_typed_meanwhile(tmp_path: Path) -> None:
    one = {"id": "a", "name": "Pack A", "tuning": "470-478 MHz"}
    path = text(tmp_path / "part.json", json.dumps({"radio": {"transmitters": [one]}}))
    asked = read(path)
    found = plan(asked, moves=500)
    text(path, json.dumps({"radio": {"transmitters": [{**one, "note": "on the ramp"}]}}))
    save_plan(asked, found)
    [kept] = json.loads(path.read_text("utf-8"))["radio"]["transmitters"]
    assert kept["note"] == "on the ramp"
    assert kept["frequency"].endswith("MHz")


def test_a_scan_is_taken_into_a_text_that_was_changed_meanwhile(tmp_path: Path) -> None:
    path = text(tmp_path / "plan.yaml")
    scan = text(tmp_path / "quay.csv", "MHz,dBm\n470,-100\n471,-60\n472,-100\n")
    asked = read(path, scans=False)
    result = take_scan(asked, scan)
    text(path, PLAN.replace("Pack A", "Pack of the lead"))
    save_scan(asked, result)
    again = read(path)
    assert [each.id for each in again.radio.scans] == ["quay"]
    assert again.radio.transmitters[0].name == "Pack of the lead"


WALKED = """radio:
  transmitters:
    - {id: a, name: Pack A, tuning: 470-542 MHz, power: 50 mW, frequency: 500 MHz}
  receivers:
    - {id: r, name: Cart, hears: [a]}
  grounds:
    - id: hall
      width: 40 m
      depth: 20 m
      antennas: [{id: left, at: "0, 10 m"}]
"""


def test_a_walk_test_is_saved_beside_what_was_typed_meanwhile(tmp_path: Path) -> None:
    path = text(tmp_path / "plan.yaml", WALKED)
    rows = "".join(f"{x},10,{-30 - 1.2 * x:.1f}\n" for x in (2, 4, 7, 11, 16, 22, 29, 37))
    sheet = text(tmp_path / "walk.csv", "x m,y m,level dBm\n" + rows)
    asked = read(path, ask=False)
    walked = walk(asked, sheet)
    assert any(row.told for row in walked.result.fitted)
    text(path, WALKED.replace("Cart", "Cart on the quay"))
    save_walk(asked, walked)
    again = read(path, ask=False).radio
    assert again.receivers[0].name == "Cart on the quay"
    assert again.grounds[0].body_loss_db is not None


SPARED = """radio:
  transmitters:
    - id: a
      name: Pack A
      tuning: 470-542 MHz
      power: 10 mW
      frequency: 500 MHz
      spare_frequencies: [506 MHz, 507 MHz]
    - id: b
      name: Pack B
      tuning: 470-542 MHz
      power: 10 mW
      frequency: 500.5 MHz
      spares_wanted: 1
      spare_frequencies: [515 MHz]
"""


def spares_in(path: Path) -> dict[str, list[float]]:
    return {t.id: [float(hz) / 1e6 for hz in t.spare_frequencies] for t in read(path).radio.transmitters}


def test_spares_for_one_leave_those_of_the_others(tmp_path: Path) -> None:
    path = text(tmp_path / "plan.yaml", SPARED)
    asked = read(path)
    found = spare(asked, each=2, ids=["b"])
    save_spares(asked, found)
    after = spares_in(path)
    assert after["a"] == [506.0, 507.0]
    assert after["b"] == list(found.spares[0].mhz)
    assert [t.spares_wanted for t in read(path).radio.transmitters] == [0, 2]


def test_spares_for_one_are_clear_of_those_of_the_others(tmp_path: Path) -> None:
    # from 505.7 MHz on the own carrier leaves room; 506 and 506.8 MHz, which the other one keeps free, leave none
    pack_b = "{id: b, name: Pack B, tuning: 505-507 MHz, power: 10 mW, frequency: 505.3 MHz}"
    pack_a = "{id: a, name: Pack A, tuning: 470-542 MHz, power: 10 mW, frequency: 500 MHz%s}"
    for more, number in (("", 1), (", spare_frequencies: [506 MHz, 506.8 MHz]", 0)):
        path = text(tmp_path / "plan.yaml", f"radio:\n  transmitters:\n    - {pack_a % more}\n    - {pack_b}\n")
        [row] = spare(read(path), each=1, ids=["b"]).spares
        assert len(row.mhz) == number


def test_a_plan_keeps_spares_that_hold_and_drops_those_that_do_not(tmp_path: Path) -> None:
    third = "    - {id: c, name: Pack C, tuning: 506.9-507.1 MHz, power: 10 mW}\n"
    path = text(tmp_path / "plan.yaml", SPARED + third)
    asked = read(path)
    found = plan(asked, Mode.ADD, moves=500)
    assert {each.id for each in found.assignments} == {"a", "b", "c"}
    assert [each.kind for each in found.findings if "spare" in each.what and each.weight.value != "fine"] == []
    save_plan(asked, found)
    after = spares_in(path)
    assert after["a"] == [506.0]  # 507 MHz is where the new one sends
    assert len(after["b"]) == 1


def test_a_scan_touches_only_who_sends_where_it_was_taken(tmp_path: Path) -> None:
    site = "sites:\n  - {id: deck, name: Deck}\n  - {id: quay, name: Quay}\n"
    path = text(tmp_path / "plan.yaml", site + PLAN.replace("500 MHz}", "500 MHz, sites: [quay]}"))
    scan = text(tmp_path / "deck.csv", "MHz,dBm\n499.9,-50\n500,-50\n500.1,-50\n")
    asked = read(path, scans=False)
    assert take_scan(asked, scan, sites=["deck"]).touched == ()
    assert take_scan(asked, scan, sites=["quay"]).touched == take_scan(asked, scan).touched == ("a",)
    save_scan(asked, take_scan(asked, scan, sites=["deck"]), sites=["deck"])
    assert take_scan(read(path, scans=False), scan).touched == (), "its entry in the plan says where it was taken"


def test_a_fit_that_is_taken_on_the_page_writes_only_what_it_found(tmp_path: Path) -> None:
    from rollsound.actions.radio_page_reach import document_fitted
    from rollsound.log.model import Author
    from rollsound.show.folder import Show

    wall = 'walls: [{id: w, line: "30, 0; 30, 20 m", loss: 12.34 dB}]\n'
    path = text(tmp_path / "plan.yaml", WALKED.replace("      antennas", f"      {wall}      antennas"))
    rows = "".join(f"{x},10,{-30 - 1.2 * x:.1f}\n" for x in (2, 4, 7, 11, 16, 22, 26, 28))
    walked = walk(read(path, ask=False), text(tmp_path / "walk.csv", "x m,y m,level dBm\n" + rows))
    assert "12.34" in path.read_text("utf-8")
    whole = {"version": 1, "show": {"title": "Ferry"}, **read(path, ask=False).document}
    with Show.new(tmp_path / "show", whole, Author("Ines", "ines", "here")) as show:
        head = show.store.head()
        [ground] = document_fitted(head, "hall", walked.fit)["radio"]["grounds"]
    assert ground["walls"][0]["loss"] == "12.34 dB"
    assert "surroundings" not in ground
    assert "body_loss" in ground


def test_readings_are_refused_in_words_and_know_their_columns() -> None:
    from rollsound.actions.reach_readings import read_readings
    from rollsound.errors import MistakesError

    with pytest.raises(MistakesError) as caught:
        read_readings("x m,y m,level dBm\n200000,1,-60\n", "walk.csv")
    [told] = caught.value.mistakes
    assert told.line == 2
    assert "further than 100 km away" in told.sentence
    assert "validation error" not in told.sentence
    [reading] = read_readings("x,y,level,id of transmitter\n1,1,-60,pack-01\n", "walk.csv")
    assert reading.transmitter == "pack-01"

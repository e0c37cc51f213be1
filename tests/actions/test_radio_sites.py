"""A plan for several sites: who never sends together is never held together, by whichever command."""

from __future__ import annotations

from pathlib import Path

import pytest

from rollsound.actions.radio import check, plan, read, save_plan, spare
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.radio.carriers.task import Mode

PLAN = """sites:
  - {id: deck, name: Deck}
  - {id: quay, name: Quay}
radio:
  transmitters:
    - {id: a, name: Pack A, tuning: 470-542 MHz, power: 10 mW, sites: [deck], frequency: 500 MHz}
    - {id: b, name: Pack B, tuning: 470-542 MHz, power: 10 mW, sites: [quay], frequency: 500.1 MHz}
"""


def written(tmp_path: Path, content: str = PLAN) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(content, "utf-8")
    return path


def test_a_check_of_all_sites_holds_each_by_itself(tmp_path: Path) -> None:
    path = written(tmp_path)
    result = check(read(path))
    assert result.broken == ()
    assert result.counts == {}
    assert [f.weight for f in result.findings if f.kind == "carriers clean"] == [Weight.FINE]
    together = check(read(written(tmp_path, PLAN.replace("sites: [quay]", "sites: [quay, deck]"))))
    assert {row.hit for row in together.broken} | {row.sources[0] for row in together.broken} == {"a", "b"}


def test_a_check_of_one_site_says_nothing_of_who_never_sends_there(tmp_path: Path) -> None:
    path = written(tmp_path, PLAN.replace(", frequency: 500.1 MHz", ""))
    told = {f.what for f in check(read(path, sites=["deck"])).findings if f.kind == "carrier chosen"}
    assert told == {"The one transmitter has a carrier."}
    assert {f.what for f in check(read(path)).findings if f.kind == "carrier chosen"} == {"Pack B has no carrier."}


def test_spares_of_all_sites_at_once_say_that_each_holds(tmp_path: Path) -> None:
    path = written(tmp_path)
    with pytest.raises(InputError, match="hold on every site, and not on all of them at once; name one with --site"):
        spare(read(path), each=1)
    assert spare(read(path, sites=["deck"]), each=1).short == ()


def test_a_plan_for_one_site_is_told_of_that_site(tmp_path: Path) -> None:
    path = written(tmp_path, PLAN.replace(", frequency: 500.1 MHz", ""))
    result = plan(read(path, sites=["deck"]), Mode.ADD, moves=200)
    assert {f.what for f in result.findings if f.kind == "carrier chosen"} == {"The one transmitter has a carrier."}


THREE = """sites:
  - {id: deck, name: Deck}
  - {id: quay, name: Quay}
radio:
  transmitters:
    - {id: a, name: Pack A, tuning: 499.9-500.1 MHz, power: 10 mW, sites: [deck, quay]}
    - {id: b, name: Pack B, tuning: 470-542 MHz, power: 10 mW, sites: [quay], frequency: 500.1 MHz}
"""


def test_a_plan_for_one_site_that_collides_on_another_is_not_saved(tmp_path: Path) -> None:
    path = written(tmp_path, THREE)
    asked = read(path, sites=["deck"])
    found = plan(asked, Mode.ADD, moves=200)
    assert found.assignments[0].mhz == 500.0
    with pytest.raises(InputError, match="nothing was saved: on Quay, Pack"):
        save_plan(asked, found)
    assert path.read_text("utf-8") == THREE
    away = written(tmp_path, THREE.replace("500.1 MHz}", "510 MHz}"))
    asked = read(away, sites=["deck"])
    save_plan(asked, plan(asked, Mode.ADD, moves=200))
    assert read(away).carriers_hz["a"] == 500_000_000

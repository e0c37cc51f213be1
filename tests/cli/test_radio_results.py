"""Results of the radio commands are never lost for a file that cannot be written, and say what is so."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from rollsound.cli.app import run
from rollsound.demo.show import WALK_TEST, make_show

PART = """radio:
  transmitters:
    - {id: one, name: Pack, tuning: 470-494 MHz, power: 50 mW, frequency: 471 MHz}
    - {id: two, name: Pack, tuning: 470-494 MHz, power: 50 mW}
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_show(tmp_path_factory.mktemp("ferry"))


@pytest.fixture
def show(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "ferry"))


def part(tmp_path: Path, content: str = PART) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(content, "utf-8")
    return path


@pytest.mark.parametrize("option", ["--csv", "--pdf"])
def test_a_folder_that_is_not_there_is_told_before_the_search(
    option: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rollsound.actions.radio.plan", None)  # a search would fail
    assert run(["radio", "plan", str(part(tmp_path)), option, str(tmp_path / "papers" / "plan")]) == 2
    assert "papers is not there; make that folder first" in " ".join(capsys.readouterr().err.split())
    assert run(["radio", "plan", str(part(tmp_path)), option, str(tmp_path)]) == 2
    assert "is a folder; name a file in it" in " ".join(capsys.readouterr().err.split())


def test_what_was_found_is_told_before_what_went_wrong(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from rollsound.actions import radio

    path = part(tmp_path)
    look = radio.plan

    def typed_meanwhile(*given: object, **more: object) -> object:
        found = look(*given, **more)  # type: ignore[arg-type]
        part(tmp_path, PART.replace("50 mW}", "50 mW, frequency: 480 MHz}"))
        return found

    monkeypatch.setattr(radio, "plan", typed_meanwhile)
    assert run(["radio", "plan", str(path), "--mode", "add", "--save", "--json"]) == 2
    told = json.loads(capsys.readouterr().out)
    assert len(told["assignments"]) == 2
    assert told["saved"] is None
    assert "run the command again" in told["problem"]
    part(tmp_path)
    assert run(["radio", "plan", str(path), "--mode", "add", "--save"]) == 2
    words = capsys.readouterr()
    assert "a frequency for all 2 transmitters" in " ".join(words.out.split())
    assert "run the command again" in " ".join(words.err.split())


def test_a_picture_of_another_kind_is_refused_before_the_walk_is_saved(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["history", str(show), "--json"]) == 0
    before = max(each["number"] for each in json.loads(capsys.readouterr().out)["entries"])
    for option in ("--chart", "--map"):
        command = ["radio", "walk", str(show), str(show / WALK_TEST), "--save", option, str(show / "walk.bmp")]
        assert run(command) == 2
        assert ".png, .svg or .pdf" in " ".join(capsys.readouterr().err.split())
    assert run(["radio", "walk", str(show), str(show / WALK_TEST), "--save"]) == 0
    assert f"revision {before + 1}" in capsys.readouterr().out, "nothing had been saved before"


def test_two_of_one_name_are_two_lines_of_powers(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from rollsound.actions.reach_model import PowerRow
    from rollsound.cli.radio_reach import _by_transmitter

    row = {"name": "Pack", "area": "ramp", "now_mw": 50.0, "least_mw": 10.0, "missing_db": 0.0, "sentence": "x"}
    row |= {"hours_now": None, "hours_least": None, "hours_gained": None, "tried": ()}
    rows = tuple(PowerRow.model_validate({**row, "transmitter": id}) for id in ("one", "two"))
    assert len(_by_transmitter(rows)) == 2
    assert run(["radio", "reach", str(show), "--site", "car-deck", "--wanted", "100"]) == 2
    assert "100 % of the time is held by no radio" in " ".join(capsys.readouterr().err.split())


def test_a_television_raster_that_is_not_there_is_told_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    region = "radio:\n  region: here\n  regions: [{id: here, name: Here, television: nowhere}]\n"
    path = part(tmp_path, PART.replace("radio:\n", region))
    for command in ("check", "plan"):
        assert run(["radio", command, str(path)]) == 2
        assert "'nowhere' is no television raster" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("frequency", "told"),
    [
        ("471.010 MHz", "lies 10 kHz off its raster; the next place is 471 MHz"),
        ("493.950 MHz", "leaves the range that it can tune to and may use, which ends at 494 MHz"),
    ],
)
def test_a_carrier_that_is_out_of_place_is_told_how_far(
    frequency: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = part(tmp_path, PART.replace("471 MHz", frequency).replace("name: Pack,", "name: 'Pack, the red one',"))
    assert run(["radio", "check", str(path), "--json"]) == 1
    rows = json.loads(capsys.readouterr().out)["broken"]
    assert [row["sentence"] for row in rows] == [f"Pack, the red one {told}."]


def test_a_frequency_is_written_as_the_page_writes_it(tmp_path: Path) -> None:
    path = part(tmp_path, PART.replace("470-494 MHz, power: 50 mW}", "481.9-482.1 MHz, power: 50 mW}"))
    assert run(["radio", "plan", str(path), "--mode", "add", "--save"]) == 0
    assert "frequency: 482.000 MHz" in path.read_text("utf-8")
    assert "frequency: 471 MHz" in path.read_text("utf-8")


def test_who_adds_one_without_a_site_is_told_that_all_sites_are_held_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = part(
        tmp_path,
        "sites: [{id: deck, name: Deck}, {id: quay, name: Quay}]\n"
        + PART.replace("frequency: 471 MHz}", "frequency: 471 MHz, sites: [deck]}"),
    )
    for more, told in (
        (["--mode", "add"], True),
        (["--mode", "add", "--site", "quay"], False),
        (["--mode", "all"], False),
    ):
        assert run(["radio", "plan", str(plan), *more, "--seconds", "2", "--json"]) == 0
        notes = json.loads(capsys.readouterr().out)["notes"]
        assert any("--site: deck, quay" in each for each in notes) is told

"""Carriers and reach on the command line: the answer first, bad input in one sentence, nothing half-done."""

from __future__ import annotations

import json
import shutil
import signal
from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.radio import SoFar
from rollsound.cli.app import SUBCOMMANDS, run
from rollsound.cli.radio_plan import SoFarTeller
from rollsound.demo.show import SCAN_AFTER, WALK_TEST, make_show

PART = """# a plan without a show
radio:
  transmitters:
    # the lead
    - id: one
      name: Pack 1
      power: 50 mW
      tuning: 470-494 MHz
      step: 25 kHz
      frequency: 471 MHz
    - id: two
      name: Pack 2
      power: 50 mW
      tuning: 470-494 MHz
      step: 25 kHz
      frequency: 472 MHz
    - id: three
      name: Pack 3
      power: 50 mW
      tuning: 470-494 MHz
      step: 25 kHz
"""
CAUTION = "Check your licence"


@pytest.fixture
def part(tmp_path: Path) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(PART, "utf-8")
    return path


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("ferry")
    return make_show(folder)


@pytest.fixture
def show(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "ferry"))


def answered(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    capsys.readouterr()
    code = run([*arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


def newest(show: Path, capsys: pytest.CaptureFixture[str]) -> int:
    """The number of the last thing that was done to a show, be it to its plan or its log."""
    return max(int(each["number"]) for each in answered(["history", str(show)], capsys)[1]["entries"])


def test_every_command_of_the_group_tells_how_it_is_used(capsys: pytest.CaptureFixture[str]) -> None:
    for name in SUBCOMMANDS["radio"]:
        assert run(["radio", name, "--help"]) == 0
        said = " ".join(capsys.readouterr().out.split())
        assert f"Example: rollsound radio {name}" in said
        assert "--json" in said


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["radio", "chek"], "There is no command 'chek'; did you mean 'check'?"),
        (["radio", "plan"], "'rollsound radio plan' needs SHOW"),
        (["radio", "check", "nowhere"], "nowhere is not there"),
    ],
)
def test_what_was_mistyped_is_said_with_the_help_that_answers_it(
    arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(arguments) == 2
    assert sentence in " ".join(capsys.readouterr().err.split())


def test_a_check_tells_margins_and_carries_the_caution(part: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["radio", "check", str(part)]) == 0
    said = capsys.readouterr().out
    assert "2 carriers keep what is asked" in said
    assert "471.000" in said
    assert CAUTION in said


def test_a_check_that_fails_says_which_product_and_ends_with_one(
    part: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    part.write_text(PART + "      frequency: 473 MHz\n", "utf-8")
    code, result = answered(["radio", "check", str(part)], capsys)
    assert code == 1
    hit = {(row["limit"], row["hit"]) for row in result["broken"]}
    assert ("2A-B", "three") in hit
    assert ("2A-B", "one") in hit
    assert all(row["margin_khz"] < 0 for row in result["broken"])


def test_a_plan_places_everybody_the_same_way_for_a_seed(part: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = [answered(["radio", "plan", str(part), "--seed", "3"], capsys)[1] for _ in range(2)]
    assert len(results[0]["assignments"]) == 3
    assert results[0]["assignments"] == results[1]["assignments"]
    assert results[0]["unplaced"] == []
    assert results[0]["margin_khz"] >= 0
    assert any(CAUTION in caution for caution in results[0]["cautions"])
    assert part.read_text("utf-8") == PART


def test_saving_into_a_text_keeps_its_comments(part: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, result = answered(["radio", "plan", str(part), "--mode", "add", "--save"], capsys)
    assert code == 0
    text = part.read_text("utf-8")
    assert "# a plan without a show" in text
    assert "# the lead" in text
    placed = {each["id"]: each["mhz"] for each in result["assignments"]}
    assert placed["one"] == 471.0
    assert f"{placed['three']:.3f}" in text or f"{placed['three']:g} MHz" in text
    assert answered(["radio", "check", str(part)], capsys)[1]["without"] == []


def test_a_plan_goes_out_as_csv_and_pdf(part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    csv, pdf = tmp_path / "plan.csv", tmp_path / "plan.pdf"
    assert run(["radio", "plan", str(part), "--csv", str(csv), "--pdf", str(pdf)]) == 0
    lines = csv.read_text("utf-8-sig").splitlines()
    assert lines[0].startswith("transmitter,id,")
    assert [line.split(",")[1] for line in lines[1:4]] == ["one", "two", "three"]
    assert CAUTION in lines[-2] + lines[-1]
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert str(pdf) in capsys.readouterr().out


def test_a_json_part_and_a_bare_request_are_read_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = {"id": "one", "name": "Pack 1", "tuning": "470-478 MHz", "step": "25 kHz", "frequency": "471 MHz"}
    (tmp_path / "part.json").write_text(json.dumps({"radio": {"transmitters": [one]}}), "utf-8")
    assert answered(["radio", "check", str(tmp_path / "part.json")], capsys)[0] == 0
    kind = {"spacing_khz": 400, "guard_2tx3_khz": 100, "guard_3tx3_khz": 50}
    wanted = [{"id": f"t{n}", "kind": "mic", "lo_mhz": 470, "hi_mhz": 472, "step_khz": 25} for n in range(9)]
    request = tmp_path / "request.json"
    request.write_text(json.dumps({"mode": "max_number", "kinds": {"mic": kind}, "transmitters": wanted}), "utf-8")
    code, result = answered(["radio", "plan", str(request), "--seconds", "3"], capsys)
    assert code == 1
    assert result["bound"]["most"] < 9
    assert len(result["assignments"]) + len(result["unplaced"]) == 9
    assert run(["radio", "plan", str(request), "--seconds", "1", "--save"]) == 2
    assert "no place for frequencies" in capsys.readouterr().err


NO_UNIT = PART.replace("tuning: 470-494 MHz", "tuning: 470-494", 1)
NO_DIVIDE = PART.replace("step: 25 kHz", "step: 7 kHz", 1)
OUTSIDE = (
    PART.replace("radio:\n", "radio:\n  region: uk\n", 1)
    .replace("470-494 MHz", "740-760 MHz")
    .replace("471 MHz", "741 MHz")
    .replace("472 MHz", "742 MHz")
)
COLLIDE = PART.replace("frequency: 472 MHz", "frequency: 471.1 MHz\n      fixed: true").replace(
    "frequency: 471 MHz", "frequency: 471 MHz\n      fixed: true"
)
NO_SCALE = PART + "  grounds:\n    - id: quay\n      image: quay.png\n"
NAN = PART.replace("power: 50 mW", "power: .nan", 1)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (NO_UNIT, "no amount in Hz; write it as for example"),
        (NO_DIVIDE, "does not divide the range"),
        (OUTSIDE, "outside of what"),
        (COLLIDE, "collide already"),
        (NO_SCALE, "width"),
        (NAN, "power"),
        ("transmitters: []\n", "holds no radio part; begin with 'radio:'"),
        ("", "holds no radio part"),
    ],
)
@pytest.mark.parametrize("command", ["check", "plan"])
def test_bad_plans_are_refused_in_a_sentence(
    command: str, text: str, sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(text, "utf-8")
    assert run(["radio", command, str(path)]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert sentence in said
    assert "Traceback" not in said
    assert path.read_text("utf-8") == text


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "scan"),
        ("frequency MHz,level dBm\n", "no line that begins with a frequency and a level"),
        ("frequency MHz,level dBm\n470000000,-90\n470025000,-91\n", "where no radio for sound is"),
        ("frequency MHz,level dBm\n470,nan\n470.025,-91\n", "a level that is no number"),
        ("frequency MHz,level dBm\n470,9000\n470.025,-91\n", "which no receiver meets"),
    ],
)
def test_bad_scans_are_refused_in_a_sentence(
    text: str, sentence: str, part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "scan.csv"
    path.write_text(text, "utf-8")
    assert run(["radio", "scan", str(part), str(path)]) == 2
    assert sentence in " ".join(capsys.readouterr().err.split())
    assert part.read_text("utf-8") == PART


def test_five_hundred_in_a_megahertz_end_with_a_proof(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    packs = "".join(
        f"    - {{id: p{n}, name: P{n}, tuning: 470-471 MHz, step: 25 kHz, power: 50 mW}}\n" for n in range(500)
    )
    path = tmp_path / "many.yaml"
    path.write_text(f"radio:\n  transmitters:\n{packs}", "utf-8")
    code, result = answered(["radio", "plan", str(path), "--seconds", "2"], capsys)
    assert code == 1
    assert result["bound"]["most"] <= 3
    assert len(result["assignments"]) <= result["bound"]["most"]


def test_a_stranger_on_the_scan_forces_a_repair_that_moves_one(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert answered(["radio", "check", str(show)], capsys)[0] == 0
    before = newest(show, capsys)
    code, scan = answered(["radio", "scan", str(show), str(show / SCAN_AFTER), "--save"], capsys)
    assert code == 1
    assert scan["touched"] == ["pack-04"]
    assert scan["saved"]["revision"] == before + 1
    assert answered(["radio", "check", str(show)], capsys)[0] == 1
    code, plan = answered(["radio", "plan", str(show), "--mode", "repair", "--save"], capsys)
    assert code == 0
    assert plan["moved"] == ["pack-04"]
    assert answered(["radio", "check", str(show)], capsys)[0] == 0
    assert run(["undo", str(show)]) == 0


def test_spares_are_clear_and_saved(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, result = answered(["radio", "spare", str(show), "--transmitter", "pack-05", "--each", "1", "--save"], capsys)
    assert code == 0
    [row] = result["spares"]
    assert row["id"] == "pack-05"
    assert len(row["mhz"]) == 1


def test_reach_tells_areas_power_and_cables(show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawn = tmp_path / "deck.svg"
    two = ["--transmitter", "pack-02", "--transmitter", "boom-1-tx"]
    code, result = answered(["radio", "reach", str(show), "--site", "car-deck", *two, "--map", str(drawn)], capsys)
    assert code == 0
    assert {row["id"] for row in result["where"]} == {"ramp", "lane", "idris-walks"}
    assert all(row["enough"] for row in result["where"])
    cart = next(row for row in result["antennas"] if row["id"] == "deck-cart")
    assert 0.5 < cart["cable_loss_db"] < 1.0  # four metres of 240-class cable at 600 MHz
    assert all(row["least_mw"] is not None for row in result["powers"])
    assert any(row["hours_gained"] for row in result["powers"])
    assert b"<svg" in drawn.read_bytes()[:400]
    assert run(["radio", "reach", str(show), "--site", "nowhere"]) == 2
    assert "nowhere" in capsys.readouterr().err
    assert run(["radio", "reach", str(show), "--site", "car-deck", "--map", str(tmp_path / "deck.bmp")]) == 2
    assert ".png, .svg or .pdf" in " ".join(capsys.readouterr().err.split())


def test_a_walk_test_finds_its_truth_and_names_the_outlier(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from rollsound.demo.walk_test import CASING_DB, EXPONENT, STRANGE

    before = newest(show, capsys)
    code, result = answered(["radio", "walk", str(show), str(show / WALK_TEST), "--save"], capsys)
    assert code == 0
    assert result["site"] == "car-deck"
    fitted = {row["name"]: row for row in result["fitted"]}
    exponent, metal = fitted["loss with distance"], fitted["loss of metal"]
    assert abs(exponent["after"] - EXPONENT) < 3 * exponent["sigma"]
    assert abs(metal["after"] - CASING_DB) < 3 * metal["sigma"]
    assert [row["id"] for row in result["residuals"] if row["outlier"]] == [f"r{STRANGE[0] + 1:03d}"]
    assert result["rms_after_db"] < 3 < result["rms_before_db"]
    assert result["saved"]["revision"] == before + 1
    again = answered(["radio", "walk", str(show), str(show / WALK_TEST)], capsys)[1]
    assert again["rms_before_db"] < 4


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "holds no readings"),
        ("a,b\n1,2\n", "does not name its columns"),
        ("x m,y m,level dBm\n1,2,loud\n", "which is no number"),
        ("x m,y m,level dBm\n1,2,nan\n", "which is no number"),
        ("x m,y m,level dBm\n1,2,900\n", "which no receiver shows"),
        ("x m,y m,level dBm\n1,,-60\n", "has no place"),
    ],
)
def test_bad_readings_are_refused_in_a_sentence(
    text: str, sentence: str, show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "readings.csv"
    path.write_text(text, "utf-8")
    assert run(["radio", "walk", str(show), str(path), "--site", "car-deck"]) == 2
    assert sentence in " ".join(capsys.readouterr().err.split())


def test_the_example_that_a_show_begins_with_can_be_checked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["new", str(tmp_path / "ferry"), "--example"]) == 0
    code, result = answered(["radio", "check", str(tmp_path / "ferry")], capsys)
    assert code == 0
    assert result["margin_khz"] > 0
    assert result["without"] == []
    uses = [row["use"] for row in result["carriers"]]
    assert len(uses) == 21
    assert uses.count("boom") == 3
    assert uses.count("monitor") + uses.count("talkback") == 4


def test_stopped_a_search_answers_with_the_best_found(
    show: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    told: list[int] = []

    def stop_at_once(self: SoFarTeller, found: SoFar) -> None:
        told.append(found.placed)
        if len(told) == 1:
            signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(SoFarTeller, "__call__", stop_at_once)
    code, result = answered(["radio", "plan", str(show), "--mode", "all", "--seconds", "20"], capsys)
    assert told
    assert code == 130
    assert result["stopped"] is True
    assert len(result["assignments"]) >= told[0]
    assert result["margin_khz"] is None or result["margin_khz"] >= 0

"""A plan that is handed in: what else is given must agree with it, and it is never lost to a new one."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from rollsound.actions.conform_result import EARLIER_PLAN_NAME, PLAN_NAME
from rollsound.cli.app import run


@pytest.fixture(scope="module")
def planned(small_day: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a plan for one take, to compare."""
    out = tmp_path_factory.mktemp("planned") / "m"
    words = [str(small_day / "recorder" / "31T1.wav"), "--cards", str(small_day / "cards"), "--out", str(out)]
    assert run(["conform", *words, "--mode", "compare", "--plan-only"]) == 0
    return out


def carry_out(small_day: Path, planned: Path, *more: str, **instead: Path) -> int:
    """Run conform with the plan; ``recorder``, ``cards``, ``out`` and ``plan`` may be others."""
    named = {
        "recorder": small_day / "recorder",
        "cards": small_day / "cards",
        "out": planned,
        "plan": planned / PLAN_NAME,
        **instead,
    }
    words = [word for name in ("cards", "out", "plan") for word in (f"--{name}", str(named[name]))]
    return run(["conform", str(named["recorder"]), *words, *more])


def test_a_plan_alone_leaves_only_a_plan(planned: Path) -> None:
    assert sorted(path.name for path in planned.iterdir() if not path.name.startswith(".")) == [PLAN_NAME]


def test_the_plans_own_mode_is_carried_out_when_none_is_named(
    small_day: Path, planned: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert carry_out(small_day, planned, "--json") == 0
    assert json.loads(capsys.readouterr().out)["mode"] == "compare"
    assert carry_out(small_day, planned, "--mode", "compare") == 0


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--mode", "mirror"], ["--mode mirror was asked for", "a plan to compare"]),
        (["--mode", "mend"], ["--mode mend was asked for"]),
        (["--takes", "WEARERS"], ["--takes has no effect"]),
        (["--place", "track"], ["--place has no effect"]),
        (["--place", "source"], ["--place has no effect"]),
        (["--path-delay", "3 ms", "--place", "source"], ["--place and --path-delay have no effect"]),
        (["--plan-only"], ["--plan-only has no effect"]),
    ],
)
def test_options_that_the_plan_settles_are_refused(
    small_day: Path, planned: Path, capsys: pytest.CaptureFixture[str], more: list[str], words: list[str]
) -> None:
    named = [str(small_day / "wearers.csv") if word == "WEARERS" else word for word in more]
    assert carry_out(small_day, planned, *named) == 2
    said = capsys.readouterr().err
    assert all(word in said for word in words), said


def test_a_plan_for_other_folders_is_refused(
    small_day: Path, planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert carry_out(small_day, planned, recorder=small_day / "recorder" / "31T2.wav") == 2
    assert "31T1.wav, which does not lie in" in capsys.readouterr().err
    assert carry_out(small_day, planned, cards=small_day / "cards" / "card-ane") == 2
    assert "name with --cards" in capsys.readouterr().err


def mirror_plan(planned: Path, output: Callable[[], Path]) -> dict[str, object]:
    """The same plan as a mirror that writes elsewhere."""
    document: dict[str, object] = json.loads((planned / PLAN_NAME).read_text("utf-8").replace('"compare"', '"replace"'))
    document["mode"] = "mirror"
    take = document["takes"][0]  # type: ignore[index]
    take["mode"] = "mirror"
    take["members"][0]["output"] = str(output())
    return document


def test_outputs_outside_the_folder_named_are_refused(
    small_day: Path, planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = tmp_path / "plan.json"
    elsewhere = tmp_path / "elsewhere" / "31T1.wav"
    plan.write_text(json.dumps(mirror_plan(planned, lambda: elsewhere)), "utf-8")
    out = tmp_path / "out"
    assert carry_out(small_day, planned, out=out, plan=plan) == 2
    said = capsys.readouterr().err
    assert f"does not lie in {out}" in said
    assert f"--out {elsewhere.parent}" in said
    assert not out.exists()
    assert not elsewhere.exists()
    assert carry_out(small_day, planned, out=elsewhere.parent, plan=plan) == 0
    assert elsewhere.is_file()


def test_an_output_outside_by_way_of_dots_is_refused(small_day: Path, planned: Path, tmp_path: Path) -> None:
    plan, out = tmp_path / "plan.json", tmp_path / "out"
    plan.write_text(json.dumps(mirror_plan(planned, lambda: out / ".." / "31T1.wav")), "utf-8")
    assert carry_out(small_day, planned, out=out, plan=plan) == 2
    assert not (tmp_path / "31T1.wav").exists()


def test_a_contradiction_in_a_plan_writes_nothing(
    small_day: Path, planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan, out = tmp_path / "plan.json", tmp_path / "out"
    document = mirror_plan(planned, lambda: out / "31T1.wav")
    track = document["takes"][0]["tracks"][2]  # type: ignore[index]
    track["offset_samples"] += 480
    plan.write_text(json.dumps(document), "utf-8")
    assert carry_out(small_day, planned, out=out, plan=plan) == 2
    said = capsys.readouterr().err
    assert "track 3 (Ane) of 31T1 states offset_samples 480480.0" in said
    assert "edit those" in said
    track["offset_samples"] -= 480
    document["takes"][0]["start_samples"] = 7  # type: ignore[index]
    plan.write_text(json.dumps(document), "utf-8")
    assert carry_out(small_day, planned, out=out, plan=plan) == 2
    assert "start_samples is 7" in capsys.readouterr().err
    assert not out.exists()


def test_an_edited_plan_is_kept_when_a_new_one_is_made(
    small_day: Path, planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "m"
    shutil.copytree(planned, out)
    own = (out / PLAN_NAME).read_text("utf-8").replace('"reason": "', '"reason": "Edited. ', 1)
    (out / PLAN_NAME).write_text(own, "utf-8")
    words = [str(small_day / "recorder" / "31T1.wav"), "--cards", str(small_day / "cards"), "--out", str(out)]
    words += ["--mode", "compare", "--plan-only"]
    assert run(["conform", *words]) == 0
    assert EARLIER_PLAN_NAME in capsys.readouterr().out
    assert (out / EARLIER_PLAN_NAME).read_text("utf-8") == own
    assert run(["conform", *words]) == 0
    assert EARLIER_PLAN_NAME not in capsys.readouterr().out
    assert (out / EARLIER_PLAN_NAME).read_text("utf-8") == own


def test_sheets_that_name_what_is_not_there_are_told(
    small_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wearers, sheet = tmp_path / "w.csv", tmp_path / "t.csv"
    wearers.write_text("track,card\nAne,card-ana\nIvor,card-ivo\n", "utf-8")
    sheet.write_text("file,kind\n31T1,take\n31T2.wav,no good\n31T8.wav,take\n", "utf-8")
    where = ["--cards", str(small_day / "cards"), "--out", str(tmp_path / "m"), "--mode", "compare", "--json"]
    named = ["--wearers", str(wearers), "--takes", str(sheet)]
    assert run(["conform", str(small_day / "recorder"), *where, *named]) == 0
    found = {each["kind"]: each for each in json.loads(capsys.readouterr().out)["findings"]}
    assert found["card not there"]["subject"] == "card-ana"
    assert found["track not there"]["subject"] == "Ivor"
    assert found["file not there"]["subject"] == "31T8.wav"
    assert {found[kind]["weight"] for kind in found} == {"watch"}
    # Of one take out of a day, a sheet of the day is not expected to be all there.
    where[3] = str(tmp_path / "one")
    assert run(["conform", str(small_day / "recorder" / "31T1.wav"), *where, *named]) == 0
    kinds = {each["kind"] for each in json.loads(capsys.readouterr().out)["findings"]}
    assert not kinds & {"track not there", "file not there"}


def test_a_sheet_beside_a_plan_is_compared_with_it(
    small_day: Path, planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wearers = tmp_path / "w.csv"
    wearers.write_text("track,card\nane,card-ivo\nIvor,card-x\n", "utf-8")
    assert carry_out(small_day, planned, "--wearers", str(wearers), "--json") == 0
    kinds = [each["kind"] for each in json.loads(capsys.readouterr().out)["findings"]]
    assert sorted(kinds) == ["card not there", "sheet disagrees", "track not there"]

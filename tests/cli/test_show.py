"""The commands of a show, as a person runs them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rollsound.cli.app import run

FERRY = Path(__file__).parents[1] / "reference" / "show" / "ferry.yaml"


@pytest.fixture
def ferry(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    folder = str(tmp_path / "northbound-ferry")
    assert run(["new", folder, "--from", str(FERRY)]) == 0
    capsys.readouterr()
    return folder


def _json(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    code = run([*arguments, "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert (code == 0) == ("error" not in answer)
    return answer


def test_a_plan_goes_out_and_comes_in(ferry: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["export", ferry]) == 0
    text = capsys.readouterr().out
    assert text.startswith("# Northbound Ferry")
    plan = tmp_path / "plan.yaml"
    plan.write_text(text.replace("mass: 95 g", "mass: 110 g"), "utf-8")
    assert run(["import", ferry, str(plan), "--base", "1"]) == 0
    assert "95 g → 110 g (revision 2)" in capsys.readouterr().out
    assert run(["history", ferry, "--values"]) == 0
    assert "Mina Sørvaag: Body pack 1: mass 95 g → 110 g" in capsys.readouterr().out
    assert run(["undo", ferry]) == 0
    assert run(["redo", ferry]) == 0
    assert run(["export", ferry, "--out", str(tmp_path / "again.yaml")]) == 0
    assert "mass: 110 g" in (tmp_path / "again.yaml").read_text("utf-8")


def test_every_answer_is_json_when_asked(ferry: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    exported = _json(capsys, "export", ferry)
    assert exported["revision"] == 1
    plan = tmp_path / "plan.yaml"
    plan.write_text(exported["text"].replace("draw: 18 W", "draw: 21 W"), "utf-8")
    imported = _json(capsys, "import", ferry, str(plan), "--as", "Tarek Obuya")
    assert [change["path"] for change in imported["changes"]] == ["/kit/items/recorder/draw"]
    assert _json(capsys, "undo", ferry, "--as", "tarek")["number"] == 3
    assert _json(capsys, "redo", ferry, "--as", "tarek")["number"] == 4
    entries = _json(capsys, "history", ferry, "--person", "tarek", "--limit", "2")["entries"]
    assert [entry["number"] for entry in entries] == [4, 3]
    made = _json(capsys, "backup", ferry)["made"]
    assert _json(capsys, "restore", ferry)["backup"] == made["path"]
    assert _json(capsys, "new", str(tmp_path / "other"), "--title", "Other")["title"] == "Other"


def test_every_mistake_is_told_with_its_line(ferry: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["export", ferry])
    text = capsys.readouterr().out
    wrong = text.replace(" mW", " metres").replace("12.8 V", "12.8 g").replace("95 g", "95 V")
    plan = tmp_path / "plan.yaml"
    plan.write_text(wrong, "utf-8")
    assert run(["import", ferry, str(plan)]) == 2
    said = capsys.readouterr().err
    lines = [n for n, (old, new) in enumerate(zip(text.splitlines(), wrong.splitlines(), strict=True), 1) if old != new]
    assert len(lines) == 4
    for number in lines:
        assert f"line {number}," in said
    assert _json(capsys, "history", ferry)["revision"] == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["new", "{show}"], "holds a show already"),
        (["export", "nowhere"], "holds no show"),
        (["export", "{show}", "--revision", "9"], "no revision 9"),
        (["import", "{show}", "nowhere.yaml"], "check the name"),
        (["import", "{show}", "{show}"], "folder where a file is wanted"),
        (["undo", "{show}"], "nothing of Mina Sørvaag to take back"),
        (["redo", "{show}"], "nothing of Mina Sørvaag to make again"),
        (["restore", "{show}"], "no good backup"),
        (["restore", "{show}", "x"], "--list"),
        (["history", "{show}", "--limit", "0"], "--limit 1"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    ferry: str, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    assert run([each.format(show=ferry) for each in arguments]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said
    assert said.count("\n") == 1


def test_a_show_may_begin_with_the_example(tmp_path: Path) -> None:
    assert run(["new", str(tmp_path / "show"), "--example"]) == 0
    assert run(["undo", str(tmp_path / "show")]) == 2

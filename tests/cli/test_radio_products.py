"""Products ranked by what they would do at the receivers, on the command line and in JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rollsound.cli.app import run

# 500 and 500.5 MHz make a product at 499.5 MHz, where the third one is
PART = """radio:
  transmitters:
    - {id: one, name: Pack 1, tuning: 470-542 MHz, power: 250 mW, frequency: 500 MHz}
    - {id: two, name: Pack 2, tuning: 470-542 MHz, power: 250 mW, frequency: 500.5 MHz}
    - {id: three, name: Pack 3, tuning: 470-542 MHz, power: 10 mW, frequency: 499.5 MHz}
"""
RECEIVER = "  receivers:\n    - {id: cart, name: Cart, channels: 4, hears: [one, two, three]}\n"


def answered(tmp_path: Path, capsys: pytest.CaptureFixture[str], *more: str, receiver: str = RECEIVER) -> object:
    path = tmp_path / "plan.yaml"
    path.write_text(PART + receiver, "utf-8")
    run(["radio", "check", str(path), *more, "--json"])
    return json.loads(capsys.readouterr().out)


def test_the_most_harmful_product_comes_first_and_each_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    result = answered(tmp_path, capsys, "--products", "20")
    rows = result["products"]  # type: ignore[index]
    assert (rows[0]["hit"], rows[0]["sources"], rows[0]["at_mhz"]) == ("three", ["one", "two"], 499.5)
    assert rows[0]["product"] == "2 × Pack 1 − Pack 2"
    assert rows[0]["receiver"] == "Cart"
    keys = [(row["hit"], row["form"], tuple(row["sources"])) for row in rows]
    assert len(set(keys)) == len(keys)
    assert all(row["heard"] == row["verdict"].startswith("will be heard") for row in rows)
    assert len(answered(tmp_path, capsys, "--products", "1")["products"]) == 1  # type: ignore[index]
    assert answered(tmp_path, capsys)["products"] == []  # type: ignore[index]


def test_the_table_says_what_each_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answered(tmp_path, capsys)
    run(["radio", "check", str(tmp_path / "plan.yaml"), "--products", "3"])
    said = " ".join(capsys.readouterr().out.split())
    assert "Products at the receivers, the most harmful first" in said
    assert "2 × Pack 1 − Pack 2" in said
    assert "the noise" in said


def test_without_a_receiver_no_level_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    result = answered(tmp_path, capsys, "--products", "3", receiver="")
    assert result["products"] == []  # type: ignore[index]
    assert any("No receiver hears anything" in note for note in result["notes"])  # type: ignore[index]
    assert run(["radio", "check", str(tmp_path / "plan.yaml"), "--products", "0"]) == 2
    assert "ask for 1 to 1,000" in " ".join(capsys.readouterr().err.split())

"""`rollsound offload` and `verify`, as a person runs them."""

import json
import shutil
from pathlib import Path

import pytest

from rollsound.cli.app import run


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card7"
    (folder / "sub").mkdir(parents=True)
    (folder / "T1.wav").write_bytes(bytes(range(256)) * 4000)
    (folder / "sub" / "notes.txt").write_text("Åse’s pack, ünïcode ✓", "utf-8")
    return folder


def test_two_places_and_a_proof(card: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    a, b = tmp_path / "a", tmp_path / "b"
    a.mkdir(), b.mkdir()
    assert run(["offload", str(card), "--to", str(a), "--to", str(b), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result["file_count"] == 2
    assert [len(place["copied"]) for place in result["destinations"]] == [2, 2]
    for place in (a, b):
        assert (place / "card7" / "T1.wav").read_bytes() == (card / "T1.wav").read_bytes()
        assert run(["verify", str(place / "card7")]) == 0
    moved = tmp_path / "elsewhere"
    shutil.move(str(a / "card7"), str(moved))
    assert run(["verify", str(moved), "--json"]) == 0


def test_a_changed_byte_is_found(card: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "a"
    place.mkdir()
    assert run(["offload", str(card), "--to", str(place)]) == 0
    copy = place / "card7" / "T1.wav"
    data = bytearray(copy.read_bytes())
    data[1000] ^= 1
    copy.write_bytes(data)
    capsys.readouterr()
    assert run(["verify", str(place / "card7")]) == 1
    assert "T1.wav holds other bytes" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [
        ["offload", "gone", "--to", "x"],
        ["verify", "gone"],
        ["verify", "."],
        ["offload", ".", "--to", "x", "--hash", "rot13"],
    ],
)
def test_bad_input_is_one_sentence(
    arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file.txt").write_text("x")
    assert run(arguments) == 2
    said = capsys.readouterr().err.strip()
    assert said
    assert "Traceback" not in said

"""Sheets of takes and wearers."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError, MistakesError, RollsoundError
from rollsound.log import read_takes, read_wearers


def sheet(tmp_path: Path, text: str, encoding: str = "utf-8") -> Path:
    path = tmp_path / "takes.csv"
    path.write_bytes(text.encode(encoding))
    return path


def test_a_full_row_is_read(tmp_path: Path) -> None:
    path = sheet(
        tmp_path,
        'file,scene,slate,take,sound_roll,circled,kind,note\n31T1.wav,31,210,1,R04,yes,take,"good, wind at end"\n',
    )
    (row,) = read_takes(path)
    assert (row.file, row.scene, row.slate, row.take, row.sound_roll) == ("31T1.wav", "31", "210", "1", "R04")
    assert row.circled
    assert row.note == "good, wind at end"


@pytest.mark.parametrize(("separator", "encoding"), [(";", "utf-8"), ("\t", "utf-8-sig"), (",", "cp1252")])
def test_spreadsheets_export_in_many_ways(tmp_path: Path, separator: str, encoding: str) -> None:
    text = separator.join(["track", "character", "card"]) + "\r\n" + separator.join(["Radio 1", "Åse", "A7"]) + "\r\n"
    (row,) = read_wearers(sheet(tmp_path, text, encoding))
    assert (row.track, row.character, row.card) == ("Radio 1", "Åse", "A7")


def test_every_mistake_is_reported_with_its_line(tmp_path: Path) -> None:
    path = sheet(tmp_path, "file,circled,kind\na.wav,perhaps,take\n,yes,take\nb.wav,no,song\nA.WAV,no,take\n")
    with pytest.raises(MistakesError) as caught:
        read_takes(path)
    assert [(m.line, m.place) for m in caught.value.mistakes] == [(2, "circled"), (3, "file"), (4, "kind")]


def test_a_file_named_twice_is_told_beside_other_mistakes(tmp_path: Path) -> None:
    with pytest.raises(MistakesError) as caught:
        read_takes(sheet(tmp_path, "file,kind\na.wav,take\n,take\nA.wav,take\nb.wav,song\n"))
    assert sorted((m.line, m.place) for m in caught.value.mistakes) == [(3, "file"), (4, "file"), (5, "kind")]
    assert "file: is empty" in str(caught.value)


def test_a_file_named_twice_is_a_mistake(tmp_path: Path) -> None:
    with pytest.raises(MistakesError, match="line 3"):
        read_takes(sheet(tmp_path, "file\na.wav\nA.wav\n"))


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    with pytest.raises(MistakesError, match="no column 'file'"):
        read_takes(sheet(tmp_path, "scene,take\n1,1\n"))


def test_binary_is_refused_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "takes.csv"
    path.write_bytes(b"RIFF\0\0\0\0WAVE")
    with pytest.raises(InputError, match=r"takes\.csv"):
        read_takes(path)


@given(st.binary(max_size=400))
def test_any_bytes_give_rows_or_our_error(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(data)
    try:
        read_takes(path)
    except RollsoundError as error:
        assert str(error)

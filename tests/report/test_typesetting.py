"""The typesetter's door: what comes out, what is refused, and which signs the shipped fonts print."""

from __future__ import annotations

from pathlib import Path

import pytest

from rollsound.errors import InputError, RollsoundError
from rollsound.report import typeset, typesetting

TTLib = pytest.importorskip("fontTools.ttLib")


@pytest.fixture
def template(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(typesetting, "TEMPLATES", tmp_path)
    return tmp_path / "page.typ"


def test_a_page_comes_out(template: Path) -> None:
    template.write_text("#let data = json(bytes(sys.inputs.data))\n#data.words")
    assert typeset("page", {"words": "Łucja"}).startswith(b"%PDF")


@pytest.mark.parametrize("text", ['#panic("no")', "#let x = ", '#import "gone.typ": *', '#json(bytes("{"))'])
def test_refusals_become_our_error(template: Path, text: str) -> None:
    template.write_text(text)
    with pytest.raises(RollsoundError, match="the report 'page' could not be typeset"):
        typeset("page", {})


def test_a_template_reads_no_file_outside_its_folder(template: Path, tmp_path: Path) -> None:
    (tmp_path.parent / "secret.txt").write_text("secret")
    template.write_text('#read("../secret.txt")')
    with pytest.raises(RollsoundError, match="could not be typeset"):
        typeset("page", {})


def test_an_unknown_report_names_the_known() -> None:
    known = "callsheet, carrier_plan, .*kit_carnet, kit_labels, .*sound_report"
    with pytest.raises(InputError, match=f"there is no report 'poster'; choose one of: {known}"):
        typeset("poster", {})


@pytest.mark.parametrize("value", [float("nan"), float("inf"), object(), {1, 2}])
def test_data_must_be_plain(template: Path, value: object) -> None:
    template.write_text("x")
    with pytest.raises(InputError, match="is not plain"):
        typeset("page", {"value": value})


@pytest.mark.source("the fonts' own character maps, read by fontTools", kind="library")
def test_the_fonts_print_every_name() -> None:
    maps = {path.name: TTLib.TTFont(path).getBestCmap() for path in typesetting.FONTS.glob("*.ttf")}
    assert len(maps) == 9
    for name, cmap in maps.items():
        if name.startswith("atkinson"):
            assert all(ord(sign) in cmap for sign in "Łucja Șerban Ýžæß ůőđħ −×·–—’“”0123456789"), name
    every = set().union(*maps.values())
    assert all(ord(sign) in every for sign in "Ελληνικά Ответ הערה ملاحظة")


def test_machine_fonts_are_asked_only_for_other_signs() -> None:
    assert not typesetting._needs_more_fonts("Łucja הערה ملاحظة Ответ Ελληνικά −12 dB × 2 “x”")
    assert typesetting._needs_more_fonts("港")

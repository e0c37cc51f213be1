"""The sound report: a sheet that programs read, and pages that people read."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.turnover import DayMaterial
from rollsound.turnover.sound_report import COLUMNS, findings_csv, page_data, report_csv, report_pdf

NEEDS_PDFTOTEXT = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not on this machine")
Make = Callable[..., DayMaterial]


def rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def text_of(pdf: bytes) -> str:
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return done.stdout.decode("utf-8")


def test_the_sheet_has_a_line_for_every_take(day: Make) -> None:
    material = day(6, note='wind; "ramp", Łucja\nsecond line')
    table = rows(report_csv(material, {}))
    assert tuple(table[0]) == COLUMNS
    assert len(table) == 6
    first = table[0]
    assert first["sound_roll"] == "NBF-D04"
    assert (first["scene"], first["slate"], first["take"]) == ("31A", "112", "1")
    assert (first["timecode_in"], first["timecode_out"], first["length"]) == ("10:00:00:00", "10:00:45:12", "0:00:45")
    assert first["length_samples"] == "2160000"
    assert first["tracks"] == "1 Mix; 2 Boom 1; 3 Boom 2; 4 Odile; 5 Łucja; 6 Șerban"
    assert first["note"] == 'wind; "ramp", Łucja\nsecond line'
    assert first["findings"] == "stop: Odile falls silent."
    assert first["from_cards"] == "Odile: mirror 31A-001 Odile.wav; Łucja: not covered"
    assert [row["circled"] for row in table] == ["no", "yes", "no", "no", "no", "no"]
    assert [row["kind"] for row in table[-2:]] == ["wild track", "room tone"]


def test_lines_stand_in_the_order_of_recording(day: Make) -> None:
    material = day(6)
    turned = material.model_copy(update={"takes": material.takes[::-1]})
    assert report_csv(turned, {}) == report_csv(material, {})
    assert report_pdf(turned, {}) == report_pdf(material, {})


def test_findings_sheet_holds_all_heaviest_first(day: Make) -> None:
    table = rows(findings_csv(day(6)))
    assert [row["weight"] for row in table] == ["stop", "fine"]
    assert table[0]["take"] == "1"


def test_wild_tracks_and_room_tones_stand_apart(day: Make) -> None:
    data = page_data(day(6), {})
    assert len(data["rolls"][0]["takes"]) == 4
    assert [row["kind"] for row in data["apart"]] == ["Wild track, roll NBF-D04", "Room tone, roll NBF-D04"]
    assert data["verdict"] == "Four takes, one circled. One thing to settle before the cut."


def test_shared_tracks_are_said_once(day: Make) -> None:
    material = day(6)
    other = material.takes[2].model_copy(update={"tracks": material.takes[2].tracks[:2]})
    takes = (*material.takes[:2], other, *material.takes[3:])
    data = page_data(material.model_copy(update={"takes": takes}), {})
    assert [row["tracks"] for row in data["rolls"][0]["takes"]] == ["", "", "Tracks: 1 Mix · 2 Boom 1", ""]


@NEEDS_PDFTOTEXT
@pytest.mark.source("pdftotext of poppler reads the words back from the PDF", kind="library")
def test_the_pages_say_what_the_day_was(day: Make) -> None:
    pdf = report_pdf(day(6, note="Ferry horn at the head"), {})
    text = text_of(pdf)
    for words in (
        "Northbound Ferry",
        "Four takes, one circled.",
        "What post should know",
        "Odile falls silent.",
        "Sound roll NBF-D04",
        "Łucja",
        "Șerban",
        "Ferry horn at the head",
        "10:00:00:00",
        "Wild tracks and room tones",
        "Mirrors and mends from cards",
        "+2.113 ppm",
        "Every file opens.",
        "31A-006.wav",
    ):
        assert words in text, words
    assert "stop" in text
    assert "fine" in text


@NEEDS_PDFTOTEXT
def test_long_lists_run_over_pages_with_their_heads(day: Make) -> None:
    pdf = report_pdf(day(300), {})
    text = text_of(pdf)
    pages = text.split("\f")[:-1]
    assert len(pages) > 8
    assert f"of {len(pages)}" in pages[0]
    for n in range(300):
        assert f"31A-{n + 1:03d}.wav" in text
    assert all("Time code in" in page for page in pages[1:-2])


def test_the_same_day_gives_the_same_bytes(day: Make) -> None:
    assert report_pdf(day(6), {}) == report_pdf(day(6), {})
    assert b"CreationDate" not in report_pdf(day(6), {})


@NEEDS_PDFTOTEXT
@pytest.mark.parametrize(
    "note",
    [
        "הערה בעברית עם 12 מספרים",
        "ملاحظة: صوت الرياح",
        "Ответ с причала",
        "Ελληνικά",
        "港の合唱 🎙",
        '#let x = 1; $a^2$ *bold* _it_ `raw` \\ // no comment @ref <label> [x] "q"',
        "\u202eturned\u202c \u200bzero",
        "a" * 3000,
        "e\u0301\u0302\u0303" * 40,
        "tab\tnew\nline\r\0end",
        "\ud800half",
    ],
)
def test_no_note_breaks_the_page(day: Make, note: str) -> None:
    pdf = report_pdf(day(3, note=note), {})
    text = text_of(pdf)
    assert "Sound roll NBF-D04" in text
    if note.startswith("#let"):
        assert "#let x = 1; $a^2$ *bold*" in text


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_typeset(text: str) -> None:
    from rollsound.turnover import Take, Track

    take = Take(files=(Path("x.wav"),), scene=text, take=text, note=text, tracks=(Track(index=1, name=text),))
    material = DayMaterial(show=text, day=text, takes=(take,))
    assert report_pdf(material, {}).startswith(b"%PDF")
    assert len(rows(report_csv(material, {}))) == 1

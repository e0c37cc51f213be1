"""Whatever is given as a script or sheet: it is read, or refused in one sentence."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.script.breakdown import breakdown
from rollsound.script.decoding import decode
from rollsound.script.fountain import read_fountain
from rollsound.script.from_sheet import breakdown_of_sheet
from rollsound.script.schedule_sheet import read_schedule
from rollsound.script.sheet import read_breakdown

_CELL = st.sampled_from(
    ["4", "28A", "INT", "2 3/8", "1,5", "31.2.2031", "13:00-13:45", "Runa (42)", "Runa; Signý", "day 3", "99999999999",
     "²", "٣", "4-6", "12-2", "OMITTED", "", " ", '"', "\n", "x" * 70, "1/0/8", "7.5", "٢/8", "−4"]
) | st.text(max_size=8)  # fmt: skip
_ROWS = st.lists(st.lists(_CELL, max_size=8), max_size=6)
_BREAKDOWN = "number,interior,time,eighths,pages,page,speaks,sings"
_SCHEDULE = "day,date,scenes,site,moves,call,wrap,breaks"


def _sheet(head: str, rows: list[list[str]]) -> str:
    cells = [['"' + cell.replace('"', '""') + '"' for cell in row] for row in rows]
    return "\n".join([head, *(",".join(row) for row in cells)])


@settings(max_examples=120, deadline=None)
@given(st.binary(max_size=80) | st.text(max_size=60).map(lambda text: text.encode("utf-16")))
@example(b"\xff\xfe\x00\xd8")
@example(b"\xff\xfe\x00\x00\xff\xff\xff\xff")
@example(b"a\0b\0c")
def test_any_bytes(data: bytes) -> None:
    try:
        found = decode(data, "a.fountain")
    except InputError as error:
        assert "a.fountain" in error.sentence
        return
    part = breakdown(read_fountain(found.text)).part
    assert len({scene.id for scene in part.scenes}) == len(part.scenes)


@settings(max_examples=150, deadline=None)
@given(_ROWS)
def test_any_breakdown_sheet(rows: list[list[str]]) -> None:
    found = breakdown_of_sheet(read_breakdown(_sheet(_BREAKDOWN, rows), "a.csv"))
    known = {each.id for each in found.part.characters}
    assert {who for scene in found.part.scenes for who in scene.characters} <= known
    assert len({scene.id for scene in found.part.scenes}) == len(found.part.scenes)
    assert all(trouble.line <= 2 + sum(cell.count("\n") + 1 for row in rows for cell in row) + len(rows)
               for trouble in found.remarks)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(_ROWS)
def test_any_schedule_sheet(rows: list[list[str]]) -> None:
    found = read_schedule(_sheet(_SCHEDULE, rows), "a.csv")
    for day in found.days:
        assert day.number is not None or day.date is not None
        assert len(set(day.scenes)) == len(day.scenes)


@settings(max_examples=100, deadline=None)
@given(st.text(st.sampled_from('scene,;\t|"\n0123456789 day.-\r\x00'), max_size=60))
def test_any_text_as_a_sheet(text: str) -> None:
    for read in (read_breakdown, read_schedule):
        try:
            read(text, "a.csv")
        except InputError as error:
            assert "a.csv" in error.sentence

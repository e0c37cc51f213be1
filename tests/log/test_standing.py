"""How things stand at a moment, and what the log tells about itself; what is odd is told, never refused."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest
from aboard import MINA, TAREK

from rollsound.finding import Finding, Weight
from rollsound.log.daylines import LogLine
from rollsound.log.entries import entry_of, fields_of
from rollsound.log.model import Author
from rollsound.log.proofs import proofs
from rollsound.log.standing import (
    charges_at,
    jams_at,
    positions_at,
    promises_open,
    rolling,
    wearing_at,
    worn_spans,
)
from rollsound.timecode.rates import Rate

START = datetime(2031, 2, 18, 12, 0, tzinfo=timezone(timedelta(hours=1)))
RATE = Rate(25, 1, 25)


def at(minutes: float) -> datetime:
    """A moment of the day."""
    return START + timedelta(minutes=minutes)


def line(
    minutes: float, of: str, /, *, by: Author = MINA, day: str = "day-4", id: str = "", **fields: object
) -> LogLine:
    """A line of the log."""
    return LogLine(id or f"{of}-{minutes:g}", of, day, at(minutes), by, fields_of(entry_of(of, fields)), 1, 1)


def kinds(found: list[Finding]) -> list[str]:
    """The names of what was found."""
    return [each.kind for each in found]


WORN = [
    line(0, "wearing", pack="p1", character="bram", mic_place="chest"),
    line(5, "wearing", pack="p2", character="runa"),
    line(30, "wearing", pack="p1", character="bram", mic_place="hair"),
    line(60, "wearing", pack="p1", character="haru"),
    line(90, "wearing", pack="p1"),
]


def test_who_wears_what_at_a_moment() -> None:
    def worn(minutes: float | None) -> dict[str, str]:
        found = wearing_at(reversed(WORN), None if minutes is None else at(minutes))
        return {pack: each.entry.character for pack, each in found.items()}

    assert worn(-1) == {}
    assert worn(4) == {"p1": "bram"}
    assert worn(5) == {"p1": "bram", "p2": "runa"}
    assert worn(60) == {"p1": "haru", "p2": "runa"}
    assert worn(None) == {"p2": "runa"}
    assert wearing_at(WORN, at(30))["p1"].entry.mic_place == "hair"


def test_spans_of_a_pack() -> None:
    spans = worn_spans(WORN)
    assert [(each.entry.character, each.start, each.end) for each in spans["p1"]] == [
        ("bram", at(0), at(60)),
        ("haru", at(60), at(90)),
    ]
    assert spans["p1"][0].entry.mic_place == "hair"
    assert [(each.entry.character, each.end) for each in spans["p2"]] == [("runa", None)]


def test_batteries_changeovers_and_jams() -> None:
    lines = [
        line(0, "battery", item="p1", percent=100),
        line(50, "battery", item="p1", what="checked", percent=40),
        line(51, "battery", item="cell", pack="p2"),
        line(10, "changeover", changeover="boom-1", position="radio"),
        line(20, "changeover", changeover="boom-1", position="cable"),
        line(10, "jam", device="slate", source="recorder"),
        line(20, "jam", device="slate", what="checked", offset_frames=0.4),
    ]
    charge = charges_at(lines)["p1"]
    assert (charge.percent, charge.changed and charge.changed.at, charge.looked.at) == (40, at(0), at(50))
    assert charges_at(lines, at(40))["p1"].percent == 100
    assert set(charges_at(lines)) == {"p1", "p2"}
    assert positions_at(lines, at(15))["boom-1"].fields["position"] == "radio"
    assert positions_at(lines)["boom-1"].fields["position"] == "cable"
    assert jams_at(lines)["slate"].at == at(10)


def test_a_promise_is_open_until_a_take_keeps_it() -> None:
    promise = line(0, "promise", text="Ferry horn", id="promise-1")
    take = line(9, "take", take="WT1", kind="wild track", id="take-9")
    assert promises_open([promise, take]) == [promise]
    assert kinds(proofs([promise, take])) == ["wild track promised"]
    assert not promises_open([promise, line(9, "take", take="WT1", kind="wild track", promise="promise-1")])
    assert not promises_open([line(0, "promise", text="Ferry horn", kept_by="take-9"), take])
    # The take that kept it was taken out since.
    assert promises_open([line(0, "promise", text="Ferry horn", kept_by="take-9")])


def test_the_take_that_rolls() -> None:
    first = line(0, "take", take="1", timecode_in="12:00:00:00", timecode_out="12:00:30:00")
    second = line(1, "take", take="2", timecode_in="12:01:00:00")
    assert rolling([first]) is None
    assert rolling([second, first]) == second
    assert rolling([first, second, line(2, "take", take="3")]) is None
    assert kinds(proofs([first, second])) == []
    assert kinds(proofs([second, line(2, "take", take="3", timecode_in="12:02:00:00")])) == ["take without an end"]


def _take(minutes: float, start: str, end: str, **more: object) -> LogLine:
    return line(minutes, "take", slate="214", take=f"{minutes:g}", timecode_in=start, timecode_out=end, **more)


@pytest.mark.parametrize("rate", [RATE, None])
def test_time_code_that_runs_backwards_is_told(rate: Rate | None) -> None:
    good = [_take(0, "23:59:50:00", "00:00:10:00"), _take(1, "00:00:10:00", "00:01:00:24")]
    assert proofs(good, rate=rate) == []
    (found,) = proofs([_take(0, "12:00:00:10", "12:00:00:09")], rate=rate)
    assert (found.kind, found.weight) == ("time code running backwards", Weight.WATCH)
    assert "ends at 12:00:00:09, before it begins at 12:00:00:10" in found.what
    (found,) = proofs([*good, _take(2, "00:00:59:00", "00:02:00:00")], rate=rate)
    assert "begins at 00:00:59:00, before 00:01:00:24, where slate 214 take 1 had come to" in found.what
    assert [ref.path for ref in found.refs] == ["log#take-2", "log#take-1"]
    twice = [_take(0, "12:00:00:00", "12:01:00:00"), _take(0, "12:00:01:00", "12:01:00:00", id="other", by=TAREK)]
    assert kinds(proofs(twice, rate=rate)) == ["duplicate take"]
    # Another day begins wherever it likes.
    assert proofs([*good, _take(2, "00:00:59:00", "00:02:00:00", day="day-5")], rate=rate) == []


def test_labels_that_do_not_exist_at_the_rate_are_told() -> None:
    take = _take(0, "12:00:00:29", "12:00:10:00")
    assert proofs([take]) == []
    (found,) = proofs([take], rate=RATE)
    assert found.kind == "time code that does not exist"
    assert "frames to 24" in found.what


def test_takes_of_one_name_are_told() -> None:
    def slated(minutes: float, slate: str, take: str, **more: object) -> LogLine:
        return line(minutes, "take", slate=slate, take=take, **more)

    assert proofs([slated(0, "214", "1"), slated(1, "214", "2"), slated(2, "215", "1")]) == []
    (found,) = proofs([slated(0, "214", "1"), slated(1, "214", "1", day="day-5", by=TAREK)])
    assert found.what == "Slate 214 take 1 is in the log twice, on day-4 and day-5."
    # Wild tracks begin anew with every roll, and where no roll is written with every day.
    assert proofs([slated(0, "", "WT1", kind="wild track"), slated(1, "", "WT1", kind="wild track", day="day-5")]) == []
    wild = {"kind": "wild track", "sound_roll": "NF-04"}
    assert kinds(proofs([slated(0, "", "WT1", **wild), slated(1, "", "WT1", day="day-5", **wild)])) == [
        "duplicate take"
    ]
    assert proofs([slated(0, "", "", kind="series"), slated(1, "", "", kind="series")]) == []


def test_a_day_that_is_not_in_the_plan_is_told_once() -> None:
    lines = [line(0, "note", text="a"), line(1, "note", text="b", day="day-9"), line(2, "note", text="c", day="day-9")]
    (found,) = proofs(lines, days={"day-4"})
    assert found.what == "2 lines of the log are of day-9, which is no day of the plan."
    assert proofs(lines) == []


def test_one_pack_on_two_by_two_devices_within_a_minute_is_told() -> None:
    first = line(0, "wearing", pack="p1", character="bram")
    assert kinds(proofs([first, line(0.5, "wearing", pack="p1", character="runa", by=TAREK)])) == [
        "pack on two at once"
    ]
    assert proofs([first, line(0.5, "wearing", pack="p1", character="runa")]) == []
    assert proofs([first, line(2, "wearing", pack="p1", character="runa", by=TAREK)]) == []
    assert proofs([first, line(0.5, "wearing", pack="p1", character="bram", by=TAREK)]) == []
    assert proofs([first, line(0.5, "wearing", pack="p2", character="runa", by=TAREK)]) == []

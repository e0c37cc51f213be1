"""Labels: drop-frame counting, illegal labels, an independent library as oracle."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

import timecode as oracle_library
from rollsound.errors import InputError
from rollsound.timecode import RATES, Rate, Timecode

DROP = {
    "29.97 DF": {
        0: "00:00:00;00", 1799: "00:00:59;29", 1800: "00:01:00;02", 3597: "00:01:59;29", 3598: "00:02:00;02",
        17981: "00:09:59;29", 17982: "00:10:00;00", 19781: "00:10:59;29", 19782: "00:11:00;02", 53946: "00:30:00;00",
        107891: "00:59:59;29", 107892: "01:00:00;00", 2589407: "23:59:59;29", 2589408: "00:00:00;00",
    },
    "59.94 DF": {
        3599: "00:00:59;59", 3600: "00:01:00;04", 7195: "00:01:59;59", 7196: "00:02:00;04", 35964: "00:10:00;00",
        215784: "01:00:00;00", 5178815: "23:59:59;59", 5178816: "00:00:00;00",
    },
}  # fmt: skip


def wrong(table: dict[str, dict[int, str]]) -> list[str]:
    return [
        label
        for name, rows in table.items()
        for frames, label in rows.items()
        if str(Timecode.from_frames(frames, Rate.parse(name))) != label
        or Timecode.parse(label, Rate.parse(name)).to_frames() != frames % Rate.parse(name).frames_per_day
    ]


@pytest.mark.source("SMPTE ST 12-1 drop-frame rule: 17982 frames in ten minutes, 107892 in an hour", kind="published")
def test_drop_frame_vectors() -> None:
    assert wrong(DROP) == []


def test_a_perturbed_vector_is_noticed() -> None:
    assert wrong({"29.97 DF": {1800: "00:01:00;03"}}) == ["00:01:00;03"]


@pytest.mark.source("frames in a day from the rates of SMPTE ST 12-1", kind="published")
def test_frames_in_a_day() -> None:
    days = {str(rate): rate.frames_per_day for rate in RATES}
    assert days["24"] == days["23.976"] == 2_073_600
    assert days["25"] == 2_160_000
    assert days["29.97 ND"] == days["30"] == 2_592_000
    assert days["29.97 DF"] == days["30 DF"] == 2_589_408
    assert days["59.94 DF"] == 5_178_816
    assert days["48"] == days["47.952"] == 4_147_200
    assert days["50"] == 4_320_000
    assert days["60"] == days["59.94 ND"] == 5_184_000


@pytest.mark.source(
    "drop-frame hour is 3.6 ms short of the clock, non-drop 29.97 3.6 s long (SMPTE ST 12-1)", kind="published"
)
def test_an_hour_of_labels_against_the_clock() -> None:
    seconds = {str(r): Fraction(Timecode(1, 0, 0, 0, r).to_frames()) / r.fps for r in RATES}
    assert seconds["29.97 DF"] == seconds["59.94 DF"] == Fraction("3599.9964")
    assert seconds["29.97 ND"] == seconds["23.976"] == seconds["47.952"] == Fraction("3603.6")
    assert seconds["25"] == 3600
    assert seconds["30 DF"] == Fraction("3596.4")  # labels gain 3.6 s an hour at true 30


ORACLE_NAMES = {
    "23.976": "23.976", "24": "24", "25": "25", "29.97 DF": "29.97", "30": "30", "48": "48", "50": "50",
    "59.94 DF": "59.94", "60": "60",
}  # fmt: skip


@pytest.mark.source("timecode 1.5 from the Python package index (MIT)", kind="library")
@pytest.mark.parametrize(("name", "theirs"), ORACLE_NAMES.items())
def test_library_gives_the_same_labels(name: str, theirs: str) -> None:
    """The library counts frames from 1 and knows 29.97 only as drop-frame; within that it is an oracle."""
    rate = Rate.parse(name)
    spots = {0, 1, 1797, 1798, 1799, 1800, 17_981, 17_982, 107_891, 107_892, rate.frames_per_day - 1}
    for frames in sorted(spots | set(range(13, rate.frames_per_day, rate.frames_per_day // 311))):
        label = oracle_library.Timecode(theirs, frames=frames + 1)
        found = Timecode.from_frames(frames, rate)
        assert (found.hours, found.minutes, found.seconds, found.frames) == (
            label.hrs, label.mins, label.secs, label.frs,
        )  # fmt: skip


@given(st.sampled_from(RATES), st.integers(-(10**8), 10**8))
def test_counting_there_and_back(rate: Rate, frames: int) -> None:
    label = Timecode.from_frames(frames, rate)
    assert label.to_frames() == frames % rate.frames_per_day
    assert Timecode.parse(str(label), rate) == label


@given(st.sampled_from(RATES), st.integers(0, 10**7), st.integers(-3000, 3000))
def test_moving_adds_up(rate: Rate, frames: int, step: int) -> None:
    label = Timecode.from_frames(frames, rate)
    assert label.plus(step).plus(-step) == label


def test_midnight_wraps_both_ways() -> None:
    for rate in RATES:
        last = Timecode(23, 59, 59, rate.nominal - 1, rate)
        assert last.plus(1) == Timecode(0, 0, 0, 0, rate)
        assert Timecode(0, 0, 0, 0, rate).plus(-1) == last


@pytest.mark.source(
    "drop-frame skips ;00 and ;01 (four labels at 59.94) but in every tenth minute (SMPTE ST 12-1)", kind="published"
)
def test_skipped_labels_are_reported_not_moved() -> None:
    drop, double = Rate.parse("29.97DF"), Rate.parse("59.94DF")
    for minute in range(60):
        for frame in range(5):
            for rate in (drop, double):
                exists = minute % 10 == 0 or frame >= rate.dropped
                if exists:
                    assert Timecode(1, minute, 0, frame, rate).frames == frame
                else:
                    with pytest.raises(InputError, match="drop-frame skips it"):
                        Timecode(1, minute, 0, frame, rate)


@pytest.mark.parametrize("text", ["24:00:00:00", "00:60:00:00", "00:00:60:00", "00:00:00:25"])
def test_labels_that_do_not_exist(text: str) -> None:
    with pytest.raises(InputError, match="does not exist at 25"):
        Timecode.parse(text, Rate.parse("25"))


@pytest.mark.parametrize("text", ["", "10:00", "aa:bb:cc:dd", "1:2:3:4:5", "-1:00:00:00", "100:00:00:00"])
def test_no_label_at_all(text: str) -> None:
    with pytest.raises(InputError, match="write hours:minutes:seconds:frames"):
        Timecode.parse(text, Rate.parse("25"))


def test_drop_marks() -> None:
    drop = Rate.parse("29.97DF")
    for text in ("10:20:30;05", "10:20:30.05", "10;20;30;05", "10:20:30:05"):
        assert str(Timecode.parse(text, drop)) == "10:20:30;05"
    with pytest.raises(InputError, match="written as drop-frame but the rate is 25"):
        Timecode.parse("10:20:30;05", Rate.parse("25"))

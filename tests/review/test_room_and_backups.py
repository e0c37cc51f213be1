"""Room on the drives, and the age of backups."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from rollsound.finding import Weight
from rollsound.review.arithmetic import arithmetic
from rollsound.review.backups import backup_age
from rollsound.review.storage import Drive, planned_day, recorded_day, room, room_figure

NOW = datetime(2031, 2, 18, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("free", "weight"),
    [(99, Weight.STOP), (100, Weight.WATCH), (199, Weight.WATCH), (200, Weight.FINE), (0, Weight.STOP)],
)
def test_a_drive_stops_below_one_day_and_is_watched_below_two(free: int, weight: Weight) -> None:
    day = recorded_day([100])
    assert day is not None
    found = room(Drive("the show", free), day)
    assert found.weight is weight
    assert bool(found.remedy) == (weight is not Weight.FINE)


def test_the_largest_recorded_day_counts() -> None:
    day = recorded_day([50, 200, 0])
    assert day is not None
    assert (day.size_bytes, day.basis) == (200.0, "as the largest of 2 recorded days")
    assert recorded_day([]) is None
    assert recorded_day([0]) is None


@pytest.mark.source("32 tracks x 48000 Hz x 3 bytes x 3600 s = 16.6 GB an hour, by hand", kind="practice")
def test_a_planned_day_is_tracks_times_rate_times_depth_times_hours() -> None:
    day = planned_day(32, 48_000.0, 3, 10.0)
    assert day is not None
    assert day.size_bytes == 165_888_000_000.0
    assert room(Drive("the show", 166_000_000_000), day).weight is Weight.FINE
    # no day rolls without a stop, so a smaller drive may still do
    assert room(Drive("the show", 100_000_000_000), day).weight is Weight.WATCH
    assert planned_day(0, 48_000.0, 3, 10.0) is None
    assert planned_day(32, 48_000.0, 3, 0.0) is None


def test_the_tightest_drive_is_the_figure() -> None:
    day = recorded_day([1_000])
    assert day is not None
    found = [room(Drive("the show", 5_500), day), room(Drive("the turnover", 3_100), day)]
    figure = room_figure(found)
    assert figure is not None
    assert (figure.figure, figure.sentence) == ("3.1 days", "of room on the drive of the turnover")
    assert room_figure([]) is None
    far = room_figure([room(Drive("the show", 1_000_000), day)])
    assert far is not None
    assert far.figure == "99+ days"


@pytest.mark.parametrize(
    ("backup", "since", "weight"),
    [
        ((NOW, 7), NOW, Weight.FINE),
        ((NOW - timedelta(days=90), 7), NOW, Weight.FINE),  # old, but nothing has changed since
        ((NOW - timedelta(days=3), 5), NOW - timedelta(hours=23), Weight.FINE),
        ((NOW - timedelta(days=3), 5), NOW - timedelta(hours=25), Weight.WATCH),
        (None, NOW - timedelta(hours=1), Weight.FINE),
        (None, NOW - timedelta(hours=25), Weight.WATCH),
    ],
)
def test_changes_without_a_backup_are_watched_after_a_day(
    backup: tuple[datetime, int] | None, since: datetime, weight: Weight
) -> None:
    found = backup_age(NOW, 7, backup, since)
    assert found.weight is weight
    assert found.what.endswith(".")


def test_a_clock_that_was_set_back_is_no_error() -> None:
    assert backup_age(NOW, 7, (NOW + timedelta(hours=2), 5), NOW + timedelta(hours=1)).weight is Weight.FINE


def test_figures_are_told_with_their_units() -> None:
    day = recorded_day([2_000_000_000])
    assert day is not None
    told = dict(arithmetic(room(Drive("the show", 3_000_000_000), day)))
    assert told == {"free": "3 GB", "day": "2 GB", "days": "1.5", "recorded days": "1"}


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("rate_ppm", -12.345, ("rate", "−12.3 ppm")),
        ("loudest_dbfs", -16.24, ("loudest", "−16.2 dBFS")),
        ("loudest_dbfs", float("-inf"), ("loudest", "silence")),
        ("seconds", 0.046, ("in all", "46 ms")),
        ("offset_seconds", 42120.0, ("offset", "11 h 42 min")),
        ("count", 3.0, ("count", "3")),
        ("integrated_lufs", float("nan"), ("integrated", "not measured")),
        ("h", 2.0, ("h", "2")),
    ],
)
def test_a_figure(name: str, value: float, told: tuple[str, str]) -> None:
    from rollsound.finding import Area, Finding

    finding = Finding(area=Area.SYNC, weight=Weight.WATCH, subject="s", kind="k", what="w", numbers={name: value})
    assert arithmetic(finding) == [told]

"""Whether a day can go: each check holds where it should, and does not where something is amiss."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rollsound.actions.inspect import inspect
from rollsound.actions.media import media_in
from rollsound.actions.media_build import told_of
from rollsound.actions.media_model import MediaDay
from rollsound.actions.offload import offload
from rollsound.actions.turnover_check import TurnoverCheck, _cards, _sentence, turnover_check, turnover_order
from rollsound.actions.worker_kinds import job_of
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter

INES = Author("Ines", "ines", "this machine")
SHEET = "file,scene,slate,take,kind\nT1.wav,31,214,1,take\nT2.wav,31,214,2,take\n"


def _take(path: Path, minute: int, scene: str = "31", take: str = "1") -> None:
    rng = np.random.default_rng(minute)
    path.parent.mkdir(parents=True, exist_ok=True)
    ixml = IXml.build(scene=scene, take=take, sound_roll="R4", rate=Rate.parse("25"), tracks=["Boom 1", "Runa"])
    bext = Bext(time_reference=(12 * 3600 + 60 * minute) * 48_000)
    with WaveWriter(path, AudioFormat(48_000, 2, SampleFormat.PCM24), bext=bext, ixml=ixml) as writer:
        writer.write((0.01 * rng.standard_normal((24_000, 2))).astype(np.float32))


class Day:
    """A show with one day of two takes; each test spoils something."""

    def __init__(self, folder: Path) -> None:
        self.day = folder / "day 4"
        _take(self.day / "recorder" / "T1.wav", 1)
        _take(self.day / "recorder" / "T2.wav", 2, take="2")
        (self.day / "takes.csv").write_text(SHEET, "utf-8")
        (self.day / "wearers.csv").write_text("track,character,performer,card\nRuna,Runa,Tuva,C01\n", "utf-8")
        self.folder = folder / "show"
        self.media: dict[str, Any] = {
            "id": "day-4",
            "day": "day-4",
            "recorder": str(self.day / "recorder"),
            "takes_sheet": str(self.day / "takes.csv"),
            "wearers_sheet": str(self.day / "wearers.csv"),
            "turnover": "post",
        }

    def show(self) -> Show:
        plan: dict[str, Any] = {
            "version": 1,
            "show": {"title": "Northbound Ferry"},
            "people": [{"id": "ines", "name": "Ines", "role": "mixer"}],
            "schedule": {"days": [{"id": "day-4", "number": 4, "date": "2027-03-09"}]},
            "media": [self.media],
        }
        return Show.new(self.folder, plan, INES)

    def measure(self) -> None:
        inspect([self.day / "recorder"], index=self.folder / "media")

    def check(self) -> TurnoverCheck:
        with self.show() as show:
            found = turnover_check(show, "day-4")
        assert found is not None
        return found


@pytest.fixture
def day(tmp_path: Path) -> Day:
    return Day(tmp_path)


def _weights(check: TurnoverCheck) -> dict[str, Weight]:
    return {each.kind: each.weight for each in check.checks}


def test_a_day_in_order_can_go_and_says_what_is_left_to_know(day: Day) -> None:
    day.measure()
    check = day.check()
    assert check.can_go
    assert check.takes == 2
    assert {kind for kind, weight in _weights(check).items() if weight is not Weight.FINE} == {"copies listed"}
    assert check.to_tell == 1 + len(check.standing)
    assert check.label == "Day 4"


def test_a_copy_with_a_manifest_is_proven(day: Day, tmp_path: Path) -> None:
    offload(day.day / "recorder", [tmp_path / "a"], name="recorder")
    day.media["recorder"] = str(tmp_path / "a" / "recorder")
    check = day.check()
    assert _weights(check)["copies listed"] is Weight.FINE


def test_a_file_that_no_manifest_knows_is_named(day: Day, tmp_path: Path) -> None:
    offload(day.day / "recorder", [tmp_path / "a"], name="recorder")
    _take(tmp_path / "a" / "recorder" / "T3.wav", 3, take="3")
    day.media["recorder"] = str(tmp_path / "a" / "recorder")
    found = next(each for each in day.check().checks if each.kind == "copies listed")
    assert found.weight is Weight.WATCH
    assert "T3.wav" in found.what
    assert "T1.wav" not in found.what


def _no_sheet(day: Day) -> None:
    day.media.pop("takes_sheet")


def _sheet_gone(day: Day) -> None:
    (day.day / "takes.csv").unlink()


def _sheet_wrong(day: Day) -> None:
    (day.day / "takes.csv").write_text("file,circled\nT1.wav,perhaps\n", "utf-8")


def _file_lost(day: Day) -> None:
    day.measure()
    (day.day / "recorder" / "T2.wav").unlink()


def _not_audio(day: Day) -> None:
    (day.day / "recorder" / "T2.wav").write_bytes(b"RIFF")


def _not_slated(day: Day) -> None:
    day.media.pop("takes_sheet")
    _take(day.day / "recorder" / "T3.wav", 3, scene="", take="")


def _same_time(day: Day) -> None:
    _take(day.day / "recorder" / "T3.wav", 1, take="3")


def _cards_unused(day: Day) -> None:
    _take(day.day / "cards" / "C01" / "C01.wav", 1)
    day.media["cards"] = str(day.day / "cards")


def _no_takes(day: Day) -> None:
    shutil.rmtree(day.day / "recorder")
    (day.day / "recorder").mkdir()


@pytest.mark.parametrize(
    ("spoil", "kind", "weight"),
    [
        (_no_sheet, "takes sheet", Weight.WATCH),
        (_sheet_gone, "takes sheet", Weight.STOP),
        (_sheet_wrong, "takes sheet", Weight.STOP),
        (_file_lost, "files read", Weight.STOP),
        (_not_audio, "files read", Weight.STOP),
        (_not_slated, "takes slated", Weight.WATCH),
        (_same_time, "time code runs on", Weight.WATCH),
        (_cards_unused, "cards used", Weight.WATCH),
        (_no_takes, "files read", Weight.STOP),
        (lambda day: None, "files measured", Weight.WATCH),
    ],
)
def test_what_is_amiss_is_weighed_and_comes_with_a_remedy(
    day: Day, spoil: Callable[[Day], None], kind: str, weight: Weight
) -> None:
    spoil(day)
    check = day.check()
    found = next(each for each in check.checks if each.kind == kind)
    assert found.weight is weight
    assert found.remedy
    assert check.can_go is (weight is not Weight.STOP)


def test_a_line_of_the_sheet_without_its_file_keeps_the_day(day: Day) -> None:
    (day.day / "takes.csv").write_text(SHEET + "T9.wav,31,214,9,take\n", "utf-8")
    check = day.check()
    assert not check.can_go
    assert "t9.wav" in next(each for each in check.checks if each.kind == "sheet and files agree").what.casefold()


def test_a_file_that_changed_after_it_was_measured_is_no_longer_known(day: Day) -> None:
    day.measure()
    with day.show() as show:
        before = turnover_check(show, "day-4")
        _take(day.day / "recorder" / "T1.wav.new", 5)
        (day.day / "recorder" / "T1.wav.new").replace(day.day / "recorder" / "T1.wav")
        media_in(show.folder).look_again()
        after = turnover_check(show, "day-4")
    assert before is not None
    assert after is not None
    assert _weights(before)["files measured"] is Weight.FINE
    assert _weights(after)["files measured"] is not Weight.FINE


def test_a_sheet_that_was_mended_is_read_anew(day: Day) -> None:
    _sheet_wrong(day)
    with day.show() as show:
        first = turnover_check(show, "day-4")
        (day.day / "takes.csv").write_text(SHEET, "utf-8")
        second = turnover_check(show, "day-4")
    assert first is not None
    assert second is not None
    assert not first.can_go
    assert second.can_go


def test_a_day_that_is_not_in_the_plan_is_none(day: Day) -> None:
    with day.show() as show:
        assert turnover_check(show, "day-5") is None


def test_the_order_takes_from_the_plan_what_is_not_given(day: Day) -> None:
    with day.show() as show:
        order = turnover_order(show, "day-4")
        other = turnover_order(show, "day-4", to=str(day.day.parent / "other"), day_name="Day four", mixer="Aiko")
    assert order["to"] == str(day.folder / "post")
    assert (order["show"], order["day_name"], order["date"], order["mixer"]) == (
        "Northbound Ferry",
        "Day 4",
        "2027-03-09",
        "Ines",
    )
    assert (other["to"], other["day_name"], other["mixer"]) == (str(day.day.parent / "other"), "Day four", "Aiko")


def test_recorder_and_mirrors_may_lie_anywhere(day: Day, tmp_path: Path) -> None:
    day.media |= {"cards": str(day.day / "cards"), "conformed": str(tmp_path / "elsewhere")}
    with day.show() as show:
        assert turnover_order(show, "day-4")["conformed"] == []
        (tmp_path / "elsewhere").mkdir()
        (tmp_path / "elsewhere" / "conform.json").write_text("{}", "utf-8")
        order = turnover_order(show, "day-4")
    assert order["day"] == str(day.day / "recorder")
    assert order["conformed"] == [str(tmp_path / "elsewhere")]


def test_the_order_is_one_that_the_runner_takes(day: Day) -> None:
    with day.show() as show:
        job = job_of("turnover", turnover_order(show, "day-4"))
    assert job.kind == "turnover"


@pytest.mark.parametrize(
    ("given", "told"), [({"to": "post"}, "no whole path"), ({"to": "", "lacks": "turnover"}, "where the turnover goes")]
)
def test_an_order_without_a_place_is_refused_in_a_sentence(day: Day, given: dict[str, str], told: str) -> None:
    day.media.pop(given.get("lacks", ""), None)
    with day.show() as show, pytest.raises(InputError, match=told):
        turnover_order(show, "day-4", to=given["to"])


def test_a_file_of_another_length_than_listed_stops(day: Day, tmp_path: Path) -> None:
    offload(day.day / "recorder", [tmp_path / "a"], name="recorder")
    day.media["recorder"] = str(tmp_path / "a" / "recorder")
    with open(tmp_path / "a" / "recorder" / "T1.wav", "ab") as file:
        file.write(b"more")
    found = next(each for each in day.check().checks if each.kind == "copies listed")
    assert found.weight is Weight.STOP
    assert "T1.wav" in found.what
    assert "T2.wav" not in found.what


def test_of_no_take_nothing_is_said_to_be_measured(day: Day) -> None:
    _no_takes(day)
    assert "files measured" not in {each.kind for each in day.check().checks}


@pytest.mark.parametrize(("rebuilt", "weight"), [(0, Weight.WATCH), (3, Weight.WATCH), (4, Weight.FINE)])
def test_tracks_that_stay_as_recorded_deserve_a_look(rebuilt: int, weight: Weight) -> None:
    made = cast(MediaDay, SimpleNamespace(mode="mirror", radio_tracks=4, rebuilt_tracks=rebuilt))
    assert _cards(made, None).weight is weight


def test_a_name_keeps_its_letters_at_the_head_of_a_sentence() -> None:
    assert _sentence(InputError("t9.wav is not whole")) == "t9.wav is not whole."
    assert _sentence(InputError("no take lies here")) == "No take lies here."
    path = Path("/mnt/x/drive a/day 4")
    assert told_of(InputError(f"{path} is not there"), path, "drive a/day 4") == "drive a/day 4 is not there."

"""The demo's log of day 4 against the files of its table: each seeded mistake is told once, and none is invented."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from rollsound.actions.crosscheck_gather import planned_day, takes_of_log, told_by_log
from rollsound.demo.day_four import DAY_FOUR
from rollsound.demo.day_log import DAY_4, SEEDED, write_log
from rollsound.demo.example import example_plan_text
from rollsound.demo.scenario import MIX, MUSIC, Take
from rollsound.finding import Weight
from rollsound.log.daybook import LogBook
from rollsound.log.model import Author
from rollsound.review.crosscheck import crosscheck
from rollsound.review.crosscheck_model import Crosschecked, FileOnDisk, TakeOnDisk, TrackOnDisk
from rollsound.show.folder import Show
from rollsound.timecode import Rate, Timecode
from rollsound.timecode.samples import samples_of_timecode

HZ = 48_000
START = int(samples_of_timecode(Timecode.parse(DAY_FOUR.starts_at, Rate.parse("25")), HZ))
FLAGS = {"wild track": ("WILD_TRACK",), "false start": ("FALSE_START",)}


def files() -> Iterator[TakeOnDisk]:
    """Files of the demo's recorder, without their sound."""
    for take in DAY_FOUR.takes:
        block = next(each for each in DAY_FOUR.blocks if each.site is take.site)
        names = (*MIX, *block.booms, *block.radios, *(MUSIC if take.sung else ()))
        tracks = enumerate(names)
        yield TakeOnDisk(
            files=tuple(_file(take, f"{take.file}_{n}.wav") for n in range(1, len(names) + 1))
            if take.mono_set
            else (_file(take, f"{take.file}.wav"),),
            start_samples=START + round(take.start_s * HZ),
            frames=round(take.seconds * HZ),
            sample_rate_hz=HZ,
            tracks=tuple(
                TrackOnDisk(n, 1, name) if take.mono_set else TrackOnDisk(0, n + 1, name) for n, name in tracks
            ),
        )


def _file(take: Take, name: str) -> FileOnDisk:
    return FileOnDisk(
        name,
        scene=take.scene,
        take=take.take,
        sound_roll=DAY_FOUR.sound_roll,
        circled=take.circled,
        kinds=FLAGS.get(take.kind, ()),
        frame_rate="25",
    )


@pytest.fixture(scope="module")
def answer(tmp_path_factory: pytest.TempPathFactory) -> Crosschecked:
    """The cross-check of day 4."""
    folder: Path = tmp_path_factory.mktemp("demo") / "show"
    with Show.new(folder, example_plan_text(), Author("Ines", "ines", "cart")) as show:
        write_log(show)
        plan, lines = show.plan(), LogBook(show.store).lines(DAY_4)
    day = next(each for each in plan.schedule.days if each.id == DAY_4)
    return crosscheck(takes_of_log(lines, plan), list(files()), planned_day(plan, day), told_by_log(lines, plan))


def test_each_seeded_mistake_is_told_once_and_none_is_invented(answer: Crosschecked) -> None:
    told = Counter(
        (each.refs[0].path.removeprefix("log#"), each.kind)
        for each in answer.findings
        if each.weight is not Weight.FINE
    )
    assert told == Counter((each.line, each.kind) for each in SEEDED if each.line.startswith("d4-"))


def test_the_likely_side_is_the_true_one(answer: Crosschecked) -> None:
    """The log was spoilt, the files were not: but for circling, which a log decides, the file is right."""
    sides = {each.field: each.right for each in answer.repairs}
    assert sides == {
        "time code out": "file",
        "take": "file",
        "circled": "log",
        "sound roll": "file",
        "time code in": "file",
    }

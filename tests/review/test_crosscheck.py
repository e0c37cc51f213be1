"""The cross-check: nothing is told of a sound day, every mistake that was put into one is told once."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.review.generated_days import HZ, MISTAKES, ONLY_SLATED, GeneratedDay, sound_days

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.review.crosscheck import crosscheck
from rollsound.review.crosscheck_match import apart_s, matched
from rollsound.review.crosscheck_model import (
    Crosschecked,
    FileOnDisk,
    PlannedDay,
    TakeOnDisk,
    TrackOnDisk,
    WrittenTake,
    plain,
)
from rollsound.timecode.rates import Rate

R25 = Rate.parse("25")
PLAN = PlannedDay(R25, ("31", "32"))


def checked(day: GeneratedDay) -> Crosschecked:
    return crosscheck(day.written, day.on_disk, day.planned)


def told(answer: Crosschecked) -> Counter[str]:
    return Counter(each.kind for each in answer.findings if each.weight is not Weight.FINE)


def line(number: int, start_s: int, end_s: int, **more: object) -> WrittenTake:
    values: dict[str, object] = {"scene": "31", "slate": "214", "take": str(number), "sound_roll": "NF-04", **more}
    code_in, code_out = (f"{s // 3600:02d}:{s // 60 % 60:02d}:{s % 60:02d}:00" for s in (start_s, end_s))
    return WrittenTake(id=f"take-{number}", timecode_in=code_in, timecode_out=code_out, **values)  # type: ignore[arg-type]


def disk(number: int, start_s: float, end_s: float, **more: object) -> TakeOnDisk:
    values: dict[str, object] = {"scene": "31", "take": str(number), "sound_roll": "NF-04", "circled": False, **more}
    tracks = values.pop("tracks", ())
    file = FileOnDisk(f"T{number}.wav", **values)  # type: ignore[arg-type]
    frames = round((end_s - start_s) * HZ)
    named = tuple(TrackOnDisk(0, n, name) for n, name in enumerate(tracks, 1))  # type: ignore[arg-type, var-annotated]
    return TakeOnDisk((file,), round(start_s * HZ), frames, HZ, tracks=named)


@settings(max_examples=40, deadline=None)
@given(sound_days())
def test_of_a_sound_day_nothing_is_told(day: GeneratedDay) -> None:
    answer = checked(day)
    assert told(answer) == Counter()
    assert [each.kind for each in answer.findings] == ["log and media agree"]
    assert [pair.written.id for pair in answer.pairs] == [each.id for each in day.written]
    assert answer.repairs == ()


@settings(max_examples=60, deadline=None)
@given(sound_days(), st.data())
def test_every_mistake_is_told_once_and_none_is_invented(day: GeneratedDay, data: st.DataObject) -> None:
    """One mistake each on takes that are not each other's slate, so that one does not hide another."""
    by_name = {each.files[0].name: each for each in day.on_disk}
    slated: dict[str, list[int]] = {}
    for n, each in enumerate(day.written):
        slated.setdefault(each.slate or each.take, []).append(n)
    lines: list[WrittenTake | None] = list(day.written)
    files: list[TakeOnDisk | None] = [by_name[name] for name in _names(day)]
    wanted: Counter[str] = Counter()
    for places in slated.values():
        choices = [kind for kind in MISTAKES if len(places) > 2 or kind not in ONLY_SLATED]
        kind = data.draw(st.sampled_from(["none", *choices]))
        if kind == "none":
            continue
        n = places[-1] if kind in ONLY_SLATED else data.draw(st.sampled_from(places))
        before = lines[n], files[n]
        assert before[0] is not None
        assert before[1] is not None
        if kind == "take differs" and not before[0].slate:
            continue
        lines[n], files[n] = MISTAKES[kind](before[0], before[1])
        if kind == "scene not on the day" and wanted[kind]:
            continue  # one finding for the scene, however many takes it has
        wanted[kind] += 1
    made = replace(day, written=tuple(each for each in lines if each), on_disk=tuple(each for each in files if each))
    assert told(checked(made)) == wanted


def _names(day: GeneratedDay) -> list[str]:
    return sorted((each.files[0].name for each in day.on_disk), key=lambda name: int(name[:-4].rpartition("_")[2]))


def test_the_check_can_fail() -> None:
    """Each kind of mistake on a fixed day, so that a check that was lost is noticed by name."""
    lines = [line(n, 40_000 + 100 * n, 40_060 + 100 * n) for n in (1, 2, 3)]
    tracks = ("Mix L", "Mix R", "Runa", "Tomasz")
    files = [disk(n, 40_000 + 100 * n, 40_060 + 100 * n, tracks=tracks, frame_rate="25") for n in (1, 2, 3)]
    plan = PlannedDay(R25, ("31",), tracks, {"31": ("Runa", "Tomasz")})
    assert told(crosscheck(lines, files, plan)) == Counter()
    for kind, change in MISTAKES.items():
        new_line, new_file = change(lines[1], files[1])
        some_lines = [lines[0], *([new_line] if new_line else []), lines[2]]
        some_files = [files[0], *([new_file] if new_file else []), files[2]]
        assert told(crosscheck(some_lines, some_files, plan)) == Counter({kind: 1}), kind


def test_a_take_whose_file_is_gone_stops_and_a_false_start_does_not() -> None:
    answer = crosscheck([line(1, 100, 120, kind="false start"), line(2, 200, 220)], [], PLAN)
    assert [(each.subject, each.weight) for each in answer.findings] == [
        ("slate 214 take 2", Weight.STOP),
        ("slate 214 take 1", Weight.WATCH),
    ]


@pytest.mark.parametrize(
    ("change", "right", "why"),
    [
        ({"scene": "47"}, "log", "scene 31 is on the day's schedule, the other is not"),
        ({"scene": "32"}, "log", "the log is corrected as the day goes"),
        ({"take": "1"}, "log", "another take of the slate is number 1 already"),
        ({"sound_roll": "NF-40"}, "log", "the day has NF-04 more often"),
        ({"circled": True}, "log", "takes are circled after the roll"),
    ],
)
def test_which_side_is_right(change: dict[str, object], right: str, why: str) -> None:
    lines = [line(1, 100, 120), line(2, 200, 220)]
    answer = crosscheck(lines, [disk(1, 100, 120), disk(2, 200, 220, **change)], PLAN)
    (repair,) = answer.repairs
    assert (repair.take, repair.right) == ("take-2", right)
    assert why in repair.why
    assert repair.files == ("T2.wav",)


def test_the_file_is_right_where_it_fits_better() -> None:
    lines = [line(1, 100, 120, files=("T1.wav",)), replace(line(2, 200, 220), take="1", files=("T2.wav",))]
    (repair,) = crosscheck(lines, [disk(1, 100, 120), disk(2, 200, 220)], PLAN).repairs
    assert (repair.field, repair.log, repair.file, repair.right) == ("take", "1", "2", "file")
    strange = [line(1, 100, 120, scene="47")]
    answer = crosscheck(strange, [disk(1, 100, 120)], PLAN)
    assert [(each.field, each.right) for each in answer.repairs] == [("scene", "file")]


def test_the_take_that_follows_is_right() -> None:
    lines = [line(1, 100, 120, files=("T1.wav",)), line(3, 200, 220, files=("T2.wav",))]
    (repair,) = crosscheck(lines, [disk(1, 100, 120), disk(2, 200, 220)], PLAN).repairs
    assert (repair.log, repair.file, repair.right, repair.why) == ("3", "2", "file", "take 2 follows take 1")
    lines = [line(1, 100, 120, files=("T5.wav",))]
    (repair,) = crosscheck(lines, [disk(5, 100, 120)], PLAN).repairs
    assert (repair.right, repair.why) == ("log", "a slate begins with take 1")


def test_a_label_turned_round_is_told_once() -> None:
    """The log tells by itself that its time code runs back; the file says which label is wrong."""
    lines = [line(1, 5000, 5060, files=("T1.wav",)), line(2, 5100, 5160, files=("T2.wav",))]
    lines[1] = replace(lines[1], timecode_in="01:20:05:00")
    log = Finding(
        area=Area.SYNC,
        weight=Weight.WATCH,
        subject="slate 214 take 2",
        kind="time code running backwards",
        what="back",
        refs=(Ref(path="log#take-2"), Ref(path="log#take-1")),
    )
    files = [disk(1, 5000, 5060), disk(2, 5100, 5160)]
    assert told(crosscheck(lines, files, PLAN, [log])) == Counter({"time code differs": 1})
    assert told(crosscheck(lines, files[:1], PLAN, [log])) == Counter(
        {"take without a file": 1, "time code running backwards": 1}
    )


def test_pre_roll_and_handwriting_are_no_mistake() -> None:
    for start, end in ((90.0, 121.5), (101.5, 118.5)):
        assert told(crosscheck([line(1, 100, 120)], [disk(1, start, end)], PLAN)) == Counter()
    assert told(crosscheck([line(1, 100, 120)], [disk(1, 102.5, 120)], PLAN)) == Counter({"time code differs": 1})
    assert told(crosscheck([line(1, 100, 120)], [disk(1, 85, 120)], PLAN)) == Counter({"time code differs": 1})
    assert told(crosscheck([line(1, 100, 120)], [disk(1, 100, 123)], PLAN)) == Counter({"length differs": 1})


def test_over_midnight() -> None:
    late = [line(1, 86_390, 86_399), line(2, 10, 30)]
    assert told(crosscheck(late, [disk(1, 86_390, 86_399), disk(2, 10, 30)], PLAN)) == Counter()
    over = [replace(line(1, 86_390, 86_399), timecode_out="00:00:20:00")]
    assert told(crosscheck(over, [disk(1, 86_390, 86_420)], PLAN)) == Counter()
    assert apart_s(5, 86_395, R25) == pytest.approx(10)


def test_time_code_that_runs_back_and_files_over_each_other() -> None:
    lines = [line(1, 1000, 1060), line(2, 500, 560)]
    answer = crosscheck(lines, [disk(1, 1000, 1060), disk(2, 500, 560)], PLAN)
    assert told(answer) == Counter({"time code running backwards": 1})
    lines = [line(1, 1000, 1060), line(2, 1030, 1090)]
    answer = crosscheck(lines, [disk(1, 1000, 1060), disk(2, 1030, 1090)], PLAN)
    assert told(answer) == Counter({"time code overlap": 1})
    assert answer.findings[0].numbers == {"overlap_s": 30.0}


def test_a_take_of_several_files_goes_on_without_a_gap() -> None:
    one, two = disk(1, 1000, 1030), replace(disk(1, 1030, 1060), files=(FileOnDisk("T1b.wav", scene="31", take="1"),))
    both = [line(1, 1000, 1060, files=("T1.wav", "T1b.wav"))]
    assert told(crosscheck(both, [two, one], PLAN)) == Counter()
    late = replace(two, start_samples=two.start_samples + 480)
    answer = crosscheck(both, [one, late], PLAN)
    assert told(answer) == Counter({"gap in a take": 1})
    assert answer.findings[0].what == "Slate 214 take 1: between T1.wav and T1b.wav 480 samples are missing."
    early = replace(two, start_samples=two.start_samples - 1)
    assert told(crosscheck(both, [one, early], PLAN)) == Counter({"overlap in a take": 1})
    assert [len(pair.on_disk) for pair in crosscheck([line(1, 1000, 1060)], [one, two], PLAN).pairs] == [2]


def test_a_copy_in_the_folder_is_told_once() -> None:
    twice = replace(disk(1, 100, 120), files=(replace(disk(1, 100, 120).files[0], name="T1 copy.wav"),))
    answer = crosscheck([line(1, 100, 120)], [disk(1, 100, 120), twice], PLAN)
    assert told(answer) == Counter({"file twice": 1})
    assert answer.copies == (twice,)


def test_monos_of_one_take_are_one_take() -> None:
    files = tuple(FileOnDisk(f"NF_S214_T1_{n}.wav", scene="31", take="1") for n in range(1, 13))
    take = TakeOnDisk(files, 100 * HZ, 20 * HZ, HZ, tracks=tuple(TrackOnDisk(n, 1, f"M{n}") for n in range(12)))
    tenth = replace(take, files=tuple(replace(each, name=each.name.replace("T1_", "T10_")) for each in files))
    pairs, lost, loose = matched([line(1, 100, 120, files=("NF_S214_T1",))], [tenth, take], R25)
    assert ([pair.on_disk for pair in pairs], lost, loose) == ([(take,)], [], [tenth])
    assert pairs[0].by == "file name"


def test_files_without_time_code_are_told_by_their_slate() -> None:
    bare = replace(disk(1, 0, 20), has_timecode=False)
    answer = crosscheck([line(1, 100, 120)], [bare], PLAN)
    assert [pair.by for pair in answer.pairs] == ["slate"]
    assert told(answer) == Counter()


def test_slates_that_say_the_same_are_not_taken_for_each_other() -> None:
    """A take lost its file, a file lost its line: two things, not one with a wrong clock."""
    lost = line(1, 100, 160, slate="214")
    loose = disk(1, 9000, 9060)
    assert told(crosscheck([lost], [loose], PLAN)) == Counter({"take without a file": 1, "file without a take": 1})
    wild = replace(line(1, 100, 160), slate="", take="WT1", kind="wild track")
    assert told(crosscheck([wild], [loose], PLAN)) == Counter({"take without a file": 1, "file without a take": 1})
    slated = disk(1, 9000, 9060, scene="214")
    assert told(crosscheck([lost], [slated], PLAN)) == Counter({"time code differs": 1})


def test_names_are_compared_as_people_do() -> None:
    assert plain("NF-04") == plain("nf 4")
    assert plain("31A") != plain("31B")
    assert plain("Maëlis ") == plain("maëlis")

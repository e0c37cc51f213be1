"""The tree of errors and the one shape of an answer."""

import errno
from pathlib import Path

import pytest

from rollsound.errors import Halted, InputError, Mistake, MistakesError, RollsoundError, StorageError, storage
from rollsound.facts import cautions
from rollsound.finding import Area, Finding, Weight, heaviest
from rollsound.progress import Event, Progress


def test_disk_full_leaves_as_one_sentence() -> None:
    with pytest.raises(StorageError, match=r"no space is left on the disk that holds .*a\.wav"), storage("a.wav"):
        raise OSError(errno.ENOSPC, "No space left on device")


def test_own_errors_pass_the_door_unchanged() -> None:
    with pytest.raises(InputError, match="as it was"), storage("a.wav"):
        raise InputError("as it was")


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"b\.wav is not there"), storage(tmp_path):
        (tmp_path / "b.wav").read_bytes()


def test_exit_codes() -> None:
    assert (InputError.exit_code, StorageError.exit_code, Halted.exit_code) == (2, 2, 130)
    assert issubclass(InputError, ValueError)
    assert issubclass(StorageError, OSError)


def test_all_mistakes_are_in_the_sentence() -> None:
    error = MistakesError("plan.yaml", [Mistake("radio", 3, "has no step"), Mistake("kit", 0, "is empty")])
    assert str(error) == "plan.yaml has 2 mistakes: line 3, radio: has no step; kit: is empty"


def test_the_heaviest_weight_wins() -> None:
    def finding(weight: Weight) -> Finding:
        return Finding(area=Area.MEDIA, weight=weight, subject="31/1", kind="test", what="x")

    assert heaviest([]) is Weight.FINE
    assert heaviest([finding(Weight.FINE), finding(Weight.WATCH)]) is Weight.WATCH
    assert heaviest([finding(Weight.WATCH), finding(Weight.STOP)]) is Weight.STOP


def test_progress_stops_at_the_next_safe_point() -> None:
    events: list[Event] = []
    progress = Progress(events.append)
    progress.tell("copy", 1, 2)
    progress.stop()
    with pytest.raises(Halted):
        progress.tell("copy", 2, 2)
    assert [event.done for event in events] == [1]


def test_cautions_carry_their_source() -> None:
    assert all(caution.text and caution.source for caution in cautions())
    with pytest.raises(RollsoundError, match="volcano"):
        cautions("volcano")

"""Finding the audio files that somebody means."""

from pathlib import Path

import pytest

from rollsound.actions.gather import audio_files
from rollsound.actions.jobs import run_jobs
from rollsound.errors import Halted, InputError, StorageError
from rollsound.progress import Progress


def touch(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"x")
    return path


def test_folders_are_searched_in_order_and_shadows_passed_over(tmp_path: Path) -> None:
    wanted = [touch(tmp_path / name) for name in ("a/1.wav", "a/2.WAV", "b/3.bwf")]
    for name in ("a/._1.wav", ".hidden/4.wav", "a/notes.txt", "a/.2.wav.part-ab12"):
        touch(tmp_path / name)
    assert audio_files([tmp_path]) == wanted


def test_a_file_named_outright_is_taken_and_named_once(tmp_path: Path) -> None:
    odd = touch(tmp_path / "take.dat")
    assert audio_files([odd, odd]) == [odd]


def test_a_folder_left_out_stays_out(tmp_path: Path) -> None:
    kept = touch(tmp_path / "day" / "1.wav")
    touch(tmp_path / "day" / "out" / "1.wav")
    assert audio_files([tmp_path / "day"], leave_out=[tmp_path / "day" / "out"]) == [kept]


def test_nothing_found_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no audio file"):
        audio_files([tmp_path])
    with pytest.raises(StorageError, match="is not there"):
        audio_files([tmp_path / "gone"])


def test_jobs_all_run_and_keep_their_places() -> None:
    assert dict(run_jobs([3, 1, 2], lambda n: n * n, Progress(), workers=2)) == {0: 9, 1: 1, 2: 4}
    assert dict(run_jobs([], lambda n: n, Progress())) == {}


def test_the_first_failure_stops_the_rest() -> None:
    progress = Progress()

    def work(n: int) -> int:
        if n == 0:
            raise InputError("the first is broken")
        progress.check()
        return n

    with pytest.raises((InputError, Halted)):
        dict(run_jobs(list(range(50)), work, progress, workers=1))
    assert progress.stopping


def test_files_come_in_the_order_people_count(tmp_path: Path) -> None:
    wanted = [touch(tmp_path / name) for name in ("T1.wav", "T2.wav", "T10.wav")]
    assert audio_files([tmp_path]) == wanted

"""A demo begun by another version: said plainly, with a way on."""

from __future__ import annotations

import errno
from pathlib import Path
from types import SimpleNamespace

import pytest

from rollsound.demo import night
from rollsound.errors import InputError, StorageError, storage_error


def failing(monkeypatch: pytest.MonkeyPatch, out: Path, number: int) -> None:
    """A night whose mirrors cannot be written for this reason."""

    def conform(*_: object, **__: object) -> None:
        raise storage_error(OSError(number, "no"), out / "drive a" / "day 4" / "mirrors" / "NF04_RT1.wav")

    monkeypatch.setattr(night, "_truth", lambda *_: SimpleNamespace(project="Northbound Ferry"))
    monkeypatch.setattr(night, "_offload", lambda *_: [])
    monkeypatch.setattr(night, "inspect", lambda *_, **__: None)
    monkeypatch.setattr(night, "conform", conform)


def test_mirrors_of_another_version_are_named_as_such(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, tmp_path, errno.EEXIST)
    with pytest.raises(InputError, match=r"another version of Rollsound .* name another folder") as told:
        night.run_night(tmp_path)
    assert str(told.value).startswith(str(tmp_path))
    assert told.value.detail["path"].endswith("NF04_RT1.wav")


def test_another_failure_of_the_disk_keeps_its_own_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, tmp_path, errno.ENOSPC)
    with pytest.raises(StorageError, match="no space is left"):
        night.run_night(tmp_path)

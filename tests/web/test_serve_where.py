"""Where a show is served from: a relative folder, and a port that there is."""

from __future__ import annotations

from pathlib import Path

import pytest

from rollsound.errors import InputError
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.web.serve import serve

PLAN = "version: 1\nshow: {title: Northbound Ferry}\n"


def test_a_port_that_there_is_not(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="ports run from 1 to 65535"):
        serve(tmp_path, port=99999, open_browser=False)


def test_a_relative_folder_is_made_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Show.new(tmp_path / "ferry", PLAN, Author("Ines", "ines", "this machine")).close()
    monkeypatch.chdir(tmp_path)
    opened: list[Path] = []

    def stop(folder: Path, **more: object) -> Show:
        opened.append(folder)
        raise InputError("enough")

    monkeypatch.setattr(Show, "open", stop)
    with pytest.raises(InputError, match="enough"):
        serve(Path("ferry"), port=0, open_browser=False)
    assert opened == [(tmp_path / "ferry").resolve()]

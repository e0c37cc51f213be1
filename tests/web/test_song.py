"""The page Song: read take by take while it is open, kept while files stay, and what it says where there is nothing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from callers import caller, plain
from demo_show import Visited, visited
from tests.actions.song_takes import PLAN, label, wav

from rollsound.actions import song_page
from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.web.desk import Desk
from rollsound.web.live import Live
from rollsound.web.security.doors import Doors

API = "/api/v1/song"


@pytest.fixture(scope="module")
def sung(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, Any]]:
    """A show with two takes of a song of ten seconds, and a mixer's browser."""
    folder = tmp_path_factory.mktemp("song") / "ferry"
    with Show.new(folder, PLAN, Author("Ines", "ines", "this machine")) as show:
        (folder / "ferry.csv").write_text("bar,tempo,meter,name\n1,96,4/4,Verse\n5,end,,\n", "utf-8")
        voice = np.random.default_rng(3).normal(0, 0.05, 48_000).astype(np.float32)
        wav(folder / "recorder/36T1.wav", {"Runa": voice, "Time code": label("00:59:58:00", 6)})
        wav(folder / "recorder/36T2.wav", {"Runa": voice, "Time code": label("01:00:06:00", 5)})
        desk = Desk(show=show, doors=Doors(show.store, port=8060, lan=True), live=Live())
        mixer = caller(desk)
        assert mixer.get(f"/enter?key={desk.doors.keys.make()}").status_code == 303
        yield folder, mixer


def test_takes_are_read_while_the_page_is_open(sung: tuple[Path, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    _, mixer = sung
    monkeypatch.setattr(song_page, "AT_ONCE_S", 0.0)
    first = mixer.get("/song").text
    assert "Reading: 2 takes are still to be looked at." in plain(first)
    assert 'data-left="2"' in first
    monkeypatch.undo()
    told = mixer.get("/pages/song/part/answer").text
    page = plain(told)
    for words in (
        "1 song is not whole on the takes.", "1 song, 2 takes looked at, 2 with time code of a playback.",
        "bar 2 beat 3.4 to bar 3 beat 2.6", "01:00:04:00 to 01:00:06:00", "2.0 s of Ferry are on no take", "96,000",
    ):  # fmt: skip
        assert words in page, words
    assert "song-more" not in told  # nothing is left, so it asks no more
    assert "1 song is not whole" in plain(mixer.get("/song").text)
    again: list[object] = []
    monkeypatch.setattr("rollsound.actions.song_read.read_take", lambda *given: again.append(given))
    mixer.get("/pages/song/part/answer")
    assert again == []  # known takes are not read again
    monkeypatch.setattr("rollsound.actions.ready.LOOK_AGAIN_SECONDS", 0.0)
    ready = mixer.get("/api/v1/ready").json()
    assert "song" in {each["place"]["page"] for each in ready["findings"] if each["place"]}, "Ready tells what it found"


def test_a_take_that_changed_is_read_anew(sung: tuple[Path, Any]) -> None:
    folder, mixer = sung
    mixer.get("/pages/song/part/answer")
    wav(folder / "recorder/36T3.wav", {"Time code": label("01:00:03:12", 4)})
    told = mixer.get(API).json()
    assert told["left"] == 0
    assert told["result"]["songs"][0]["missing"] == []
    assert "The song is whole on the takes." in plain(mixer.get("/song").text)
    (folder / "recorder/36T3.wav").unlink()


def test_the_picture_by_day_and_night(sung: tuple[Path, Any]) -> None:
    _, mixer = sung
    page = mixer.get("/pages/song/part/answer").text
    assert page.count("/api/v1/song/chart?theme=") == 2
    answer = mixer.get(f"{API}/chart?theme=night")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/svg+xml")
    assert "Songs of Northbound Ferry over takes" in answer.text
    assert mixer.get(f"{API}/chart?theme=night", headers={"if-none-match": answer.headers["etag"]}).status_code == 304


@pytest.fixture(scope="module")
def ferry(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visited]:
    with visited(tmp_path_factory.mktemp("songs")) as made:
        yield made


def test_songs_without_takes_and_a_tempo_map_that_is_gone(ferry: Visited) -> None:
    page = plain(ferry.guest.get("/song").text)
    assert "No take could be looked at." in page
    assert "The plan names no media" in page
    assert "harbour song.csv is not there" in page
    assert ferry.guest.get(f"{API}/chart").status_code == 404


def test_nothing_written_says_what_goes_here(tmp_path: Path) -> None:
    with visited(tmp_path, empty=True) as bare:
        page = plain(bare.mixer.get("/song").text)
        assert "No songs are written yet." in page
        assert "rollsound demo --serve" in page
        assert "Write songs in the plan" in page
        assert "Write songs in the plan" not in plain(bare.guest.get("/song").text)
        assert bare.guest.get(API).json()["result"] is None

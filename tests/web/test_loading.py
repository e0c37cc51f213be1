"""Signal code loads once, and nobody waits for it who only wants a figure in passing."""

from __future__ import annotations

import threading
import time
from importlib import import_module
from types import SimpleNamespace
from typing import Any

import pytest

from rollsound.log.model import Author
from rollsound.web import loading

AUTHOR = Author("Ines", "ines", "this machine")


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> tuple[threading.Event, list[str]]:
    """Nothing is loaded yet, and loading waits for the event."""
    may_end, asked = threading.Event(), []

    def load(name: str) -> Any:
        if name not in loading.media.modules:  # routes of a page that was just answered
            return import_module(name)
        asked.append(name)
        return may_end.wait(10) or pytest.fail("nothing let it end")

    monkeypatch.setattr(loading, "media", loading.Ahead("media", *loading.media.modules))
    monkeypatch.setattr(loading, "importlib", SimpleNamespace(import_module=load))
    return may_end, asked


def test_a_page_goes_without_while_it_loads(desk: Any, mixer: Any, slow: tuple[threading.Event, list[str]]) -> None:
    desk.show.save_text(
        desk.show.text() + "media:\n  - {id: day-4, day: day-4, recorder: /nowhere}\n", desk.show.revision, AUTHOR
    )
    for _ in range(3):
        began = time.monotonic()
        assert mixer.get("/settings").status_code == 200
        assert time.monotonic() - began < 5
    assert not loading.loaded()
    slow[0].set()
    loading.wait()
    assert loading.loaded()


def test_many_who_need_it_load_it_once(slow: tuple[threading.Event, list[str]]) -> None:
    may_end, asked = slow
    waiting = [threading.Thread(target=loading.wait) for _ in range(6)]
    for each in waiting:
        each.start()
    may_end.set()
    for each in waiting:
        each.join(10)
    assert sorted(asked) == sorted(loading.media.modules)


def test_what_failed_to_load_may_be_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    there: list[str] = []
    ahead = loading.Ahead("radio", "rollsound.radio.units", then=lambda: there.append("once"))

    def fail(name: str) -> Any:
        raise ModuleNotFoundError(name)

    with monkeypatch.context() as failing:
        failing.setattr(loading, "importlib", SimpleNamespace(import_module=fail))
        with pytest.raises(ModuleNotFoundError):
            ahead.wait()
    assert not ahead.there()
    for _ in range(2):
        ahead.wait()
    assert ahead.loaded()
    assert there == ["once"]


def test_nothing_is_loaded_in_passing_before_a_page_was_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    answered = threading.Event()
    monkeypatch.setattr(loading, "answered", answered)
    begun = threading.Event()
    ahead = loading.Ahead("radio", "rollsound.radio.units", then=begun.set)
    assert not ahead.loaded()
    assert not begun.wait(0.3)
    answered.set()
    assert begun.wait(10)


def test_a_program_that_ends_loads_no_further_module(slow: tuple[threading.Event, list[str]]) -> None:
    may_end, asked = slow
    loading.answered.set()
    assert not loading.loaded()
    while not asked:
        time.sleep(0.01)
    threading.Timer(0.2, may_end.set).start()
    loading.settle(10)
    assert asked == [loading.media.modules[0]]  # the one that was begun is finished, the rest is left out
    assert not [each for each in threading.enumerate() if each.name == "load media"]
    loading.wait()
    assert asked[1:] == list(loading.media.modules)
    assert loading.loaded()

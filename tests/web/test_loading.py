"""Signal code loads once, and nobody waits for it who only wants a figure in passing."""

from __future__ import annotations

import threading
import time
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
        asked.append(name)
        assert may_end.wait(10)

    monkeypatch.setattr(loading, "_all_there", threading.Event())
    monkeypatch.setattr(loading, "_begun", threading.Event())
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
    assert sorted(asked) == sorted(loading._SLOW)


def test_what_failed_to_load_may_be_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "_all_there", threading.Event())
    monkeypatch.setattr(loading, "_begun", threading.Event())
    with monkeypatch.context() as failing:
        failing.setattr(loading, "_SLOW", ("rollsound.actions.nowhere",))
        with pytest.raises(ModuleNotFoundError):
            loading.wait()
    assert not loading._all_there.is_set()  # asking by loaded() would begin anew, and may be done at once
    loading.wait()
    assert loading.loaded()

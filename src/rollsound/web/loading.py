"""Code that takes a moment to load is loaded once, by one thread, and never before the first page is answered.

Whoever only wants a figure in passing asks ``loaded`` and goes without until it is there; whoever cannot do without
calls ``wait``. That a module is listed as imported says nothing: it is listed from the moment its import begins, and
who then imports from it waits for its end.
"""

from __future__ import annotations

import importlib
import threading
import time
from collections.abc import Callable

PATIENCE_S = 5.0
"""How long loading in passing waits for the first page; then it begins all the same."""

answered = threading.Event()
"""Set once a page was answered: until then a processor is busy with that."""

building = threading.RLock()
"""Held while routes come into being. They are built with warnings put off for a moment, which two threads at once would
do to each other."""

_ending = threading.Event()
_at_work: set[threading.Thread] = set()


class Ahead:
    """Modules that are loaded together; ``then`` is called once they are there, and belongs to the loading."""

    def __init__(self, name: str, *modules: str, then: Callable[[], None] = lambda: None) -> None:
        self.modules = modules
        self._name = name
        self._then = then
        self._one_at_a_time = threading.Lock()
        self._all_there = threading.Event()
        self._begun = threading.Event()

    def there(self) -> bool:
        """Whether they are there; nothing is set going by asking."""
        return self._all_there.is_set()

    def loaded(self) -> bool:
        """Whether they are there. The first who asks sets their loading going, and does not wait for it."""
        if not self._all_there.is_set() and not self._begun.is_set():
            self._begun.set()
            thread = threading.Thread(target=self._in_passing, name=f"load {self._name}", daemon=True)
            _at_work.add(thread)
            thread.start()
        return self._all_there.is_set()

    def wait(self) -> None:
        """Return when they are there; they are loaded here where nobody else is at it."""
        with self._one_at_a_time:
            if not self._all_there.is_set():
                self._load(lambda: False)

    def _load(self, ended: Callable[[], bool]) -> None:
        for module in self.modules:
            if ended():
                return
            with building:
                importlib.import_module(module)
        with building:
            self._then()
        self._all_there.set()

    def _in_passing(self) -> None:
        try:
            answered.wait(PATIENCE_S)
            with self._one_at_a_time:
                if not self._all_there.is_set():
                    self._load(_ending.is_set)
        finally:
            self._begun.clear()  # what failed, or was ended, may be tried again
            _at_work.discard(threading.current_thread())


def settle(seconds: float = 3.0) -> None:
    """Return when nothing is loaded in passing any more: a program does not end while a module is half there.

    What has begun is finished, one module each; the rest of them is left out. Nobody who stops a program waits for it
    longer than some seconds.
    """
    end = time.monotonic() + seconds
    _ending.set()
    waiting = not answered.is_set()
    answered.set()  # who waits for the first page need not any longer
    try:
        for thread in tuple(_at_work):
            thread.join(max(0.0, end - time.monotonic()))
    finally:
        _ending.clear()
        if waiting:
            answered.clear()


media = Ahead(
    "media",
    "rollsound.actions.media",
    "rollsound.actions.media_waveform",
    "rollsound.actions.listen",
    "rollsound.actions.turnover_check",
)
"""Signal code."""


def loaded() -> bool:
    """Whether signal code is there; asking sets its loading going."""
    return media.loaded()


def wait() -> None:
    """Return when signal code is there."""
    media.wait()

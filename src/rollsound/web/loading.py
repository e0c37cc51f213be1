"""Signal code takes a second or more to load. It is loaded once, by one thread, when a page first asks for it.

Whoever only wants a figure in passing asks ``loaded`` and goes without until it is; whoever cannot do without calls
``wait``. That a module is listed as imported says nothing: it is listed from the moment its import begins, and who
then imports from it waits for its end.
"""

from __future__ import annotations

import importlib
import threading

_SLOW = (
    "rollsound.actions.media",
    "rollsound.actions.media_waveform",
    "rollsound.actions.listen",
    "rollsound.actions.turnover_check",
)
_one_at_a_time = threading.Lock()
_all_there = threading.Event()
_begun = threading.Event()


def loaded() -> bool:
    """Whether signal code is there. The first who asks sets its loading going, and does not wait for it."""
    if not _all_there.is_set() and not _begun.is_set():
        _begun.set()
        threading.Thread(target=_in_passing, name="load media", daemon=True).start()
    return _all_there.is_set()


def wait() -> None:
    """Return when signal code is there; it is loaded here where nobody else is at it."""
    with _one_at_a_time:
        if _all_there.is_set():
            return
        for name in _SLOW:
            importlib.import_module(name)
        _all_there.set()


def _in_passing() -> None:
    try:
        wait()
    finally:
        _begun.clear()  # what failed may be tried again

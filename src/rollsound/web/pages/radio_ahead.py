"""The arithmetic of carriers and of reach takes a moment to load: once, ahead of the first page that asks for it."""

from __future__ import annotations

import importlib
import threading

_SLOW = (
    "rollsound.radio.asking",
    "rollsound.radio.carriers.audit",
    "rollsound.radio.carriers.live",
    "rollsound.radio.carriers.bounds",
)
_one_at_a_time = threading.Lock()
_all_there = threading.Event()
_begun = threading.Event()


def loaded() -> bool:
    """Whether it is there. The first who asks sets its loading going, and does not wait for it."""
    if not _all_there.is_set() and not _begun.is_set():
        _begun.set()
        threading.Thread(target=_in_passing, name="load radio", daemon=True).start()
    return _all_there.is_set()


def wait() -> None:
    """Return when it is there; it is loaded here where nobody else is at it."""
    with _one_at_a_time:
        if not _all_there.is_set():
            for name in _SLOW:
                importlib.import_module(name)
            _compile()
            _all_there.set()


def _compile() -> None:
    """Check three carriers: what is compiled when it is first called is there for whoever comes next."""
    from rollsound.radio.carriers.audit import audit
    from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

    guard = Guard("any", 400_000, dict.fromkeys(Product, 50000))
    three = {f"t{n}": 500_000_000 + n * 1_000_000 for n in range(3)}
    audit(Task({"any": guard}, tuple(Wanted(name, "any", 0, 10**9, 1, 0, 200_000) for name in three)), three)


def _in_passing() -> None:
    try:
        wait()
    finally:
        _begun.clear()  # what failed may be tried again

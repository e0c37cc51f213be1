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


def there() -> bool:
    """Whether it is there; nothing is set going by asking."""
    return _all_there.is_set()


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
            _first_check()
            _all_there.set()


def _first_check() -> None:
    """Three carriers, checked once: what is compiled is fetched from its cache by its first use."""
    from rollsound.radio.carriers.audit import audit
    from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

    guard = Guard("any", 400_000, dict.fromkeys(Product, 50_000))
    wanted = tuple(Wanted(str(n), "any", 470_000_000, 480_000_000, 25_000, 470_000_000, 200_000) for n in range(3))
    audit(Task({"any": guard}, wanted), {each.id: 471_000_000 + n * 1_300_000 for n, each in enumerate(wanted)})


def _in_passing() -> None:
    try:
        wait()
    finally:
        _begun.clear()  # what failed may be tried again

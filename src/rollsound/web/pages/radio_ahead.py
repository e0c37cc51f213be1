"""The arithmetic of carriers and of reach takes a moment to load: once, ahead of the first page that asks for it."""

from __future__ import annotations

from rollsound.web.loading import Ahead


def _first_check() -> None:
    """Three carriers, checked once: what is compiled is fetched from its cache by its first use."""
    from rollsound.radio.carriers.audit import audit
    from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

    guard = Guard("any", 400_000, dict.fromkeys(Product, 50_000))
    wanted = tuple(Wanted(str(n), "any", 470_000_000, 480_000_000, 25_000, 470_000_000, 200_000) for n in range(3))
    audit(Task({"any": guard}, wanted), {each.id: 471_000_000 + n * 1_300_000 for n, each in enumerate(wanted)})


_radio = Ahead(
    "radio",
    "rollsound.radio.asking",
    "rollsound.radio.carriers.audit",
    "rollsound.radio.carriers.live",
    "rollsound.radio.carriers.bounds",
    then=_first_check,
)


def there() -> bool:
    """Whether it is there; nothing is set going by asking."""
    return _radio.there()


def loaded() -> bool:
    """Whether it is there. The first who asks sets its loading going, and does not wait for it."""
    return _radio.loaded()


def wait() -> None:
    """Return when it is there; it is loaded here where nobody else is at it."""
    _radio.wait()

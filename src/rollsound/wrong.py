"""What is wrong with a part of the plan beyond its form, each with its place."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from rollsound.errors import Mistake, MistakesError


@dataclass(frozen=True)
class Wrong:
    """One mistake: where, by ids (``radio``, ``transmitters``, ``pack-01``, ``tuning``), and what to do."""

    at: tuple[str, ...]
    """The part of the plan first."""
    sentence: str

    @property
    def path(self) -> str:
        """JSON Pointer into the plan, with ids in place of positions."""
        return pointer(self.at)

    @property
    def place(self) -> str:
        """The place for people: ``transmitters pack-01, tuning``."""
        part, *at = self.at
        listed = len(at) > 1
        words = [" ".join(at[:2]) if listed else "".join(at[:1]), *at[2:]]
        return ", ".join(word for word in words if word) or part


def pointer(at: Iterable[str]) -> str:
    """JSON Pointer of a place in the plan."""
    return "".join(f"/{step.replace('~', '~0').replace('/', '~1')}" for step in at)


def raise_all(wrong: Iterable[Wrong], document: str) -> None:
    """Tell all mistakes at once; nothing happens where there is none.

    Raises
    ------
    MistakesError
        with every one of them
    """
    told = [Mistake(each.place, 0, each.sentence) for each in dict.fromkeys(wrong)]
    if told:
        raise MistakesError(document, told)


def not_there(name: str, what: str, known: Collection[str]) -> str:
    """The sentence for a name that does not exist, with the one that was perhaps meant."""
    near = difflib.get_close_matches(name, known, 1, 0.6)
    if near:
        return f"names {what} '{name}', which is not there; perhaps '{near[0]}' was meant"
    there = f"there are: {', '.join(sorted(known)[:8])}" if known else "there is none yet"
    return f"names {what} '{name}', which is not there; {there}"

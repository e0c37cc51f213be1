"""Characters' names: which spellings are one name, which look alike and are offered, and how an id is made of one."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from rollsound.script.model import Character

_AND = re.compile(r"\s+(?:and|with|og|und|et|y)\s+|\s*[&/+,]\s*", re.IGNORECASE)
_NOT_OF_AN_ID = re.compile(r"[^a-z0-9]+")
_OTHER_AGE = frozenset({"young", "younger", "old", "older", "little", "teenage", "baby", "voice", "double"})
GROUPS = frozenset(
    {"all", "everyone", "everybody", "both", "choir", "chorus", "crowd", "company", "passengers", "crew", "children"}
)
"""Names that stand for more than one."""
_SHORTEST_ALIKE, _LONG = 4, 8


@dataclass(frozen=True)
class Offer:
    """Two spellings that may be one character. Nobody merges them but the person who is asked."""

    keep: str
    """The spelling that is said more often."""
    other: str
    why: str

    @property
    def sentence(self) -> str:
        """The offer for people."""
        return f"'{self.other}' may be '{self.keep}' ({self.why}); merge them, or say that they are two."


def key_of(name: str) -> str:
    """What two spellings share that are one name without a doubt: capitals and spaces make no other character."""
    return " ".join(name.replace("’", "'").split()).casefold()


def loose_key(name: str) -> str:
    """Letters and digits alone, without their accents: what is the same here is offered."""
    plain = unicodedata.normalize("NFKD", name.replace("ø", "o").replace("Ø", "O").replace("ß", "ss"))
    return "".join(letter for letter in plain.casefold() if letter.isalnum())


def slug(name: str, taken: Collection[str] = (), otherwise: str = "character") -> str:
    """An id made of a name, with a number behind it where it is taken."""
    plain = unicodedata.normalize("NFKD", name.replace("ø", "o").replace("Ø", "O").replace("ł", "l").replace("Ł", "L"))
    letters = plain.encode("ascii", "ignore").decode().lower().replace("'", "")
    base = _NOT_OF_AN_ID.sub("-", letters).strip("-")[:56].strip("-") or otherwise
    made, number = base, 2
    while made in taken:
        made, number = f"{base}-{number}", number + 1
    return made


def as_spoken(name: str) -> str:
    """A name in capitals as people write it: RUNA is Runa; one of mixed letters stays."""
    if not name.isupper():
        return name
    return re.sub(r"[^\W\d_]+", lambda found: found[0].capitalize(), name).replace("'S", "'s")


def is_group(name: str) -> bool:
    """Whether a name stands for more than one."""
    return any(word in GROUPS for word in key_of(name).split())


def several(name: str, known: Collection[str]) -> tuple[str, ...]:
    """The names in a name such as RUNA AND IDRIS, where each of them is ``known`` by its key; nothing else."""
    parts = [part.strip() for part in _AND.split(name) if part.strip()]
    return tuple(parts) if len(parts) > 1 and all(key_of(part) in known for part in parts) else ()


def known_names(characters: Iterable[Character]) -> dict[str, str]:
    """The id of every spelling by its key; the first that has it wins."""
    found: dict[str, str] = {}
    for character in characters:
        for spelling in character.spellings:
            found.setdefault(key_of(spelling), character.id)
    return found


def offers(counts: Sequence[tuple[str, int]], apart: Collection[frozenset[str]] = ()) -> tuple[Offer, ...]:
    """Pairs of names that look like one, with how often each speaks; ``apart`` are pairs of keys that are two."""
    made: list[Offer] = []
    for at, (one, said) in enumerate(counts):
        for other, also_said in counts[at + 1 :]:
            if frozenset((key_of(one), key_of(other))) in apart:
                continue
            why = alike(one, other)
            if why:
                keep, away = (one, other) if said >= also_said else (other, one)
                made.append(Offer(keep, away, why))
    return tuple(made)


def alike(one: str, other: str) -> str:
    """Why two names may be one character; empty when they do not look so."""
    a, b = loose_key(one), loose_key(other)
    if not a or not b or re.sub(r"\D", "", a) != re.sub(r"\D", "", b):  # Woman 1 and Woman 2 are two
        return ""
    if a == b:
        return "they differ in accents, hyphens or spaces only"
    words, others = set(key_of(one).split()), set(key_of(other).split())
    short, long = sorted((words, others), key=len)
    if short < long and not (long - short) & _OTHER_AGE and not short & GROUPS and not long & {"and", "&", "with"}:
        return "one is the other's name in short"
    least = min(len(a), len(b))
    if least < _SHORTEST_ALIKE or len(words) != len(others):
        return ""
    allowed = 2 if least >= _LONG else 1
    distance = _distance(a, b, allowed)
    return f"{'one letter' if distance == 1 else 'two letters'} apart" if distance <= allowed else ""


def _distance(a: str, b: str, most: int) -> int:
    """Letters to change, put in, take out or swap with their neighbour; ``most + 1`` when there are more."""
    if abs(len(a) - len(b)) > most:
        return most + 1
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, letter in enumerate(a, 1):
        two_before, before, row = before, row, [i]
        for j, other in enumerate(b, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == b[j - 2] and a[i - 2] == other:
                cost = min(cost, two_before[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
    return row[-1]

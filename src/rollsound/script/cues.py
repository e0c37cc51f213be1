"""Sound cues found in what a scene shows, by rules that the mixer can change."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rollsound.facts import table
from rollsound.script.model import Cue, CueRule

_TABLE = "script_cues"
MOST_OF_A_KIND = 3
"""Cues of one kind that are kept of a scene: a crowd that murmurs ten times is one crowd."""
_TOKEN = re.compile(r"\w+")
_AROUND = 24
_LETTERS_OF_CUE = 90


class Rules:
    """Rules made ready to search with, in the order of their kinds."""

    def __init__(self, words: Mapping[str, Sequence[str]]) -> None:
        self.patterns = tuple((kind, _pattern(found)) for kind, found in words.items())
        self._begins: dict[str, set[int]] = {}
        self._stems: dict[str, set[int]] = {}
        self._always: set[int] = set()
        self._seen: dict[str, frozenset[int]] = {}
        for at, found in enumerate(words.values()):
            for word in found:
                first = _TOKEN.match(word.strip().lower())
                if first is None:
                    self._always.add(at)
                elif word.strip().lower() == f"{first[0]}*":
                    self._stems.setdefault(first[0], set()).add(at)
                else:
                    self._begins.setdefault(first[0], set()).add(at)
        self._lengths = sorted({len(stem) for stem in self._stems})

    def perhaps(self, text: str) -> list[int]:
        """Positions of the patterns that may find something: those of which a first word stands in the text."""
        found = set(self._always)
        for token in set(_TOKEN.findall(text.lower())):
            kinds = self._seen.get(token)
            if kinds is None:
                kinds = self._seen[token] = frozenset(self._begins.get(token, ())).union(
                    *(self._stems.get(token[:length], ()) for length in self._lengths)
                )
            found |= kinds
        return sorted(found)


@dataclass(frozen=True)
class BuiltIn:
    """A rule of the table: what it finds, and what it asks of the mixer."""

    kind: str
    words: tuple[str, ...]
    asks: str
    source: str


def built_in() -> tuple[BuiltIn, ...]:
    """The rules of the table."""
    rows = table(_TABLE)["rule"]
    return tuple(BuiltIn(row["id"], tuple(row["words"]), row["asks"], row["source"]) for row in rows)


def rules_of(own: Iterable[CueRule] = ()) -> Rules:
    """The table's rules with the show's own: one of the same kind stands in its place, one without words ends it."""
    words = {rule.kind: rule.words for rule in built_in()}
    for rule in own:
        kind = next((kind for kind in words if kind.casefold() == rule.kind.casefold()), rule.kind)
        words[kind] = tuple(word for word in rule.words if word.strip(" *"))
    return Rules({kind: found for kind, found in words.items() if found})


def _pattern(words: Iterable[str]) -> re.Pattern[str]:
    # The longest first, so that "wind machine" is told rather than "wind".
    ordered = sorted(words, key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(_word(word) for word in ordered)})(?!\w)", re.IGNORECASE)


def _word(word: str) -> str:
    text = re.sub(r"\s+", " ", word.strip())
    stem = re.escape(text.removesuffix("*")).replace(r"\ ", r"\s+")
    return stem + (r"\w*" if text.endswith("*") else "")


def find_cues(texts: Sequence[tuple[int, str]], rules: Rules) -> tuple[Cue, ...]:
    """What rules find in these texts, each with the line that it begins in, in their order.

    Parameters
    ----------
    texts
        line and text of what is seen, not of what is said
    """
    cues: list[Cue] = []
    counts: dict[str, int] = {}
    for line, text in texts:
        for which in rules.perhaps(text):
            kind, pattern = rules.patterns[which]
            if counts.get(kind, 0) >= MOST_OF_A_KIND:
                continue
            told: set[int] = set()
            for found in pattern.finditer(text):
                at = line + text.count("\n", 0, found.start())
                if at in told or counts.get(kind, 0) >= MOST_OF_A_KIND:
                    continue
                told.add(at)
                counts[kind] = counts.get(kind, 0) + 1
                cues.append(Cue(kind=kind, text=_around(text, found), line=at))
    cues.sort(key=lambda cue: cue.line)
    return tuple(cues)


def _around(text: str, found: re.Match[str]) -> str:
    """The words around, whole words only, of the line that it stands in."""
    start = text.rfind("\n", 0, found.start()) + 1
    end = text.find("\n", found.end())
    end = len(text) if end < 0 else end
    first, last = max(start, found.start() - _AROUND), min(end, found.end() + _AROUND)
    while first > start and not text[first - 1].isspace():
        first -= 1
    while last < end and not text[last].isspace():
        last += 1
    return " ".join(text[first:last].split())[:_LETTERS_OF_CUE]

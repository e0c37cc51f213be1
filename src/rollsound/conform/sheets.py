"""Sheets against what is there: names on the sheets of wearers and takes that no card, track or file has."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence

from rollsound.conform.hints import plain
from rollsound.finding import Area, Finding, Weight

SOURCE = "common practice, no source"
_NEAR = 0.6
"""Likeness from which a name is offered: the usual bound for slips of the hand (Python's difflib)."""
_MOST_LISTED = 8


def unknown_cards(wearers: Mapping[str, str], cards: Sequence[str]) -> list[Finding]:
    """A finding for each card (values of ``wearers``, track to card) that is not among the cards."""
    return [
        _finding(
            "card not there",
            name,
            f"The wearers sheet names the card {name}, which is not among the cards{_listed(cards)}.",
            _remedy(name, cards, "; if this card was forgotten, copy it to the others and run again"),
        )
        for name in _strange(wearers.values(), cards)
    ]


def unknown_tracks(wearers: Iterable[str], tracks: Sequence[str]) -> list[Finding]:
    """A finding for each track of the wearers sheet that no recorder file has."""
    return [
        _finding(
            "track not there",
            name,
            f"The wearers sheet names the track {name}, which no recorder file has.",
            _remedy(name, tracks),
        )
        for name in _strange(wearers, tracks)
    ]


def missing_files(unmatched: Iterable[str], files: Sequence[str]) -> list[Finding]:
    """A finding for each line of the takes sheet that no file was found for (``unmatched``)."""
    return [
        _finding(
            "file not there",
            name,
            f"The sheet of takes names the file {name}, which is not among the recorder's.",
            _remedy(name, files, "; if this file is missing, look for it on the recorder's drives"),
        )
        for name in unmatched
    ]


def _strange(names: Iterable[str], known: Iterable[str]) -> list[str]:
    """Each name once that is none of the known, which are compared as hints are: without case, spaces and signs."""
    there = {plain(name) for name in known}
    return [name for name in dict.fromkeys(names) if name and plain(name) not in there]


def _remedy(name: str, known: Sequence[str], otherwise: str = "") -> str:
    by_plain = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(name.casefold(), by_plain, n=2, cutoff=_NEAR)
    meant = f"If {' or '.join(by_plain[each] for each in near)} is meant, correct" if near else "Correct"
    return f"{meant} the sheet{otherwise}."


def _listed(names: Sequence[str]) -> str:
    more = f" and {len(names) - _MOST_LISTED} more" if len(names) > _MOST_LISTED else ""
    return f" ({', '.join(names[:_MOST_LISTED])}{more})" if names else ""


def _finding(kind: str, subject: str, what: str, remedy: str) -> Finding:
    return Finding(
        area=Area.MEDIA, weight=Weight.WATCH, subject=subject, kind=kind, what=what, remedy=remedy, source=SOURCE
    )

"""Slates and takes: two styles of numbering, and what is likely to stand on the slate next.

*Slate numbers* count every setup of the show once, whatever its scene. *Scene letters* name a setup by its scene: the
master has the scene's own number, those after it a letter each, without I and O, which read as 1 and 0; after Z come
AA, AB and so on. A scene whose own number ends in a letter (28A) goes on in the same way: 28AA, 28AB.

Source: "Slating / Boarding in the UK vs USA", a sound crew's web article read in 2026 (both styles, doubled letters);
the letters left out: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from rollsound.log.entries import TakeEntry, TakeKind

Style = Literal["slate numbers", "scene letters"]
STYLES: tuple[Style, ...] = get_args(Style)
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
MARKS: dict[TakeKind, str] = {"wild track": "WT", "room tone": "RT"}
"""What stands before the number of a take that has no slate."""
_NUMBERED = re.compile(r"(\D*)(\d+)(.*)", re.DOTALL)
_LARGEST_DIGITS = 9


@dataclass(frozen=True)
class Slate:
    """What stands on the slate."""

    scene: str
    slate: str
    take: str


def letters_of(setup: int) -> str:
    """The letters of a setup, counted from 0 for the master, which has none: 1 is A, 24 is Z, 25 is AA."""
    text = ""
    while setup > 0:
        setup, place = divmod(setup - 1, len(LETTERS))
        text = LETTERS[place] + text
    return text


def setup_of(letters: str) -> int | None:
    """Which setup letters stand for; None where they have an I or O, or are no letters."""
    setup = 0
    for letter in letters.upper():
        if letter not in LETTERS:
            return None
        setup = setup * len(LETTERS) + LETTERS.index(letter) + 1
    return setup


def style_of(takes: Iterable[TakeEntry]) -> Style:
    """The style in which the last slates were written; slate numbers where nothing tells.

    A slate that is its scene's own number may be either; slate numbers begin with 1.
    """
    slated = [take for take in takes if take.slate and take.scene]
    for take in reversed(slated):
        setup = _setup_in(take.slate, take.scene)
        if setup != 0:
            return "slate numbers" if setup is None else "scene letters"
    return "scene letters" if slated and slated[0].slate != "1" else "slate numbers"


def next_take(
    takes: Sequence[TakeEntry],
    *,
    style: Style | None = None,
    kind: TakeKind = "take",
    scene: str = "",
    new_setup: bool = False,
    sound_roll: str = "",
) -> Slate:
    """What is likely to stand on the slate next.

    Parameters
    ----------
    takes
        those of the whole show, in the order in which they were rolled
    style
        that of the last slate when left out
    scene
        that of the last take when empty; another one begins a new setup
    new_setup
        the camera has moved
    sound_roll
        wild tracks and room tones are counted within it
    """
    slated = [take for take in takes if take.slate]
    last = slated[-1] if slated else None
    at = scene or (takes[-1].scene if takes else "")
    if kind in MARKS:
        counted = [take.take for take in takes if take.kind == kind and take.sound_roll == sound_roll]
        return Slate(at, "", f"{MARKS[kind]}{_highest(counted) + 1}")
    if last is not None and not new_setup and (not scene or scene == last.scene):
        of_slate = [take.take for take in slated if (take.slate, take.scene) == (last.slate, last.scene)]
        return Slate(last.scene, last.slate, str(_highest(of_slate) + 1))
    if (style or style_of(takes)) == "slate numbers":
        before = _prefix(last.slate) if last is not None else ""
        alike = [take.slate for take in slated if _prefix(take.slate) == before]
        return Slate(at, f"{before}{_highest(alike) + 1}", "1")
    setups = [setup for take in slated if take.scene == at and (setup := _setup_in(take.slate, at)) is not None]
    return Slate(at, at + letters_of(max(setups) + 1 if setups else 0), "1")


def _setup_in(slate: str, scene: str) -> int | None:
    """Which setup of its scene a slate is; None where it is not written in the style of scene letters."""
    begins = slate.upper().startswith(scene.upper())
    return setup_of(slate[len(scene) :]) if begins else None


def _prefix(slate: str) -> str:
    """What stands before the number of a slate, such as the letter of a second unit."""
    form = _NUMBERED.fullmatch(slate)
    return form[1] if form else ""


def _highest(numbered: Iterable[str]) -> int:
    """The highest number in these names; 0 when there is none."""
    forms = (_NUMBERED.fullmatch(each) for each in numbered)
    return max((int(form[2]) for form in forms if form and len(form[2]) <= _LARGEST_DIGITS), default=0)

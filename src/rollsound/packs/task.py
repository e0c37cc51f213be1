"""What a pack plan is looked for: scenes in the order they are shot, who is heard in them, and what there is for them.

Everything is typed and frozen; whoever asks makes it from a show's plan. A *slot* is one scene on one day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cached_property
from typing import Literal, TypeAlias

Gap: TypeAlias = Literal["day", "break", "move", "scene"]
"""What lies before a slot: the night, a break, the company's move to another site, or nothing but the next scene."""
Kind: TypeAlias = Literal["adult", "child", "stunt", "double", "crowd", "other"]

EASY, MEANWHILE, HURRIED = 1, 2, 4
"""What a re-rig counts: in a break or a move; while a scene is shot that its wearer is not in; between two scenes."""


class Level(IntEnum):
    """What a plan is judged by, the first before the next."""

    UNCOVERED = 0
    BOOM_ALONE = 1
    SPARES = 2
    MOVED = 3
    WISHES = 4
    RERIGS = 5
    PAIRS = 6


DAY_LEVELS = tuple(level for level in Level if level is not Level.PAIRS)
"""Each is a sum over days that do not touch each other."""

LEVEL_WORDS: Mapping[Level, str] = {
    Level.UNCOVERED: "words that no microphone covers",
    Level.BOOM_ALONE: "words that only a boom covers, of characters who should have a pack",
    Level.SPARES: "days on which a spare pack is worn, counted by pack",
    Level.MOVED: "characters in scenes whose cover differs from the plan that was kept",
    Level.WISHES: "wishes not met, by weight and scene",
    Level.RERIGS: f"re-rigs within a day: {EASY} in a break or a move, {MEANWHILE} while a scene is shot that the "
    f"wearer is not in, {HURRIED} between two scenes",
    Level.PAIRS: "packs and tracks that characters wear over the show, counted by character",
}


@dataclass(frozen=True)
class Pack:
    """A radio pack that can be worn, and the recorder's track that it is on."""

    id: str
    name: str
    track: int
    small: bool = False
    spare: bool = False
    out: frozenset[str] = frozenset()
    """Ids of days on which it is not there."""


@dataclass(frozen=True)
class Boom:
    """A boom, and the recorder's track that it is on; 0 when none is known."""

    id: str
    name: str
    track: int = 0
    out: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Character:
    """Somebody who is heard, and what is wished for him or her. Words are ids; ``weight`` counts a missed wish."""

    id: str
    name: str
    kind: Kind = "adult"
    principal: bool = False
    pack: str = ""
    track: int = 0
    dual: bool = False
    small: bool = False
    rather_boom: bool = False
    boom_only: bool = False
    no_pack: frozenset[str] = frozenset()
    """Numbers of scenes in which a pack must not be worn: under a harness, in the water."""
    weight: int = 1


@dataclass(frozen=True)
class Voice:
    """A character in a scene."""

    character: str
    words: int = 0
    lines: int = 0
    sings: bool = False

    @property
    def weight(self) -> int:
        """What counts when nobody covers it: its words, of which a breath is one."""
        return max(1, self.words)


@dataclass(frozen=True)
class Slot:
    """One scene on one day, and what lies before it."""

    day: str
    scene: str
    gap: Gap
    voices: tuple[Voice, ...]
    site: str = ""
    gap_name: str = ""


@dataclass(frozen=True, order=True)
class Cover:
    """What covers a character in a slot: packs by id, in order, and whether a boom does."""

    packs: tuple[str, ...] = ()
    boom: bool = False

    @property
    def nothing(self) -> bool:
        """Nobody hears this voice."""
        return not self.packs and not self.boom


Worn: TypeAlias = Mapping[tuple[int, str], Cover]
"""By slot and character."""


@dataclass(frozen=True)
class PackTask:
    """All that bears on a pack plan. ``kept`` is a plan to stay near to, by slot and character."""

    packs: tuple[Pack, ...]
    booms: tuple[Boom, ...]
    characters: tuple[Character, ...]
    slots: tuple[Slot, ...]
    boom_covers: int = 2
    """Characters that one boom can follow in a scene."""
    kept: Worn = field(default_factory=dict)

    @cached_property
    def character(self) -> Mapping[str, Character]:
        """Characters by id."""
        return {each.id: each for each in self.characters}

    @cached_property
    def pack(self) -> Mapping[str, Pack]:
        """Packs by id."""
        return {each.id: each for each in self.packs}

    @cached_property
    def days(self) -> Mapping[str, tuple[int, ...]]:
        """Slots by day, in order."""
        found: dict[str, list[int]] = {}
        for n, slot in enumerate(self.slots):
            found.setdefault(slot.day, []).append(n)
        return {day: tuple(slots) for day, slots in found.items()}

    @cached_property
    def _cast(self) -> Mapping[str, tuple[str, ...]]:
        return {
            day: tuple(dict.fromkeys(voice.character for n in slots for voice in self.slots[n].voices))
            for day, slots in self.days.items()
        }

    def cast(self, day: str) -> tuple[str, ...]:
        """Who is heard on a day, in order of first scene."""
        return self._cast[day]

    @cached_property
    def _there(self) -> Mapping[str, tuple[Pack, ...]]:
        return {day: tuple(pack for pack in self.packs if day not in pack.out) for day in self.days}

    def packs_on(self, day: str) -> tuple[Pack, ...]:
        """Packs that are there on a day."""
        return self._there[day]

    def booms_on(self, day: str) -> tuple[Boom, ...]:
        """Booms that are there on a day."""
        return tuple(boom for boom in self.booms if day not in boom.out)

    def boom_places(self, day: str) -> int:
        """Characters that booms can cover in one scene."""
        return len(self.booms_on(day)) * self.boom_covers

    @cached_property
    def _voices(self) -> tuple[Mapping[str, Voice], ...]:
        return tuple({voice.character: voice for voice in slot.voices} for slot in self.slots)

    def voices(self, slot: int) -> Mapping[str, Voice]:
        """Who is heard in a slot, by character."""
        return self._voices[slot]

    def may_wear(self, character: str, slot: int) -> bool:
        """Whether a pack may be on a character in a slot."""
        who = self.character[character]
        return not who.boom_only and self.slots[slot].scene not in who.no_pack

    def wants_pack(self, character: str, slot: int) -> bool:
        """Whether a boom alone counts as given up."""
        return self.may_wear(character, slot) and not self.character[character].rather_boom

    def most_packs(self, character: str) -> int:
        """How many a character may wear at one time."""
        return 2 if self.character[character].dual else 1

    def price(self, slot: int, character: str) -> int:
        """What a re-rig of a character just before a slot counts."""
        if self.slots[slot].gap in ("break", "move"):
            return EASY
        return HURRIED if character in self.voices(slot) else MEANWHILE

    def missed(self, character: str, cover: Cover) -> int:
        """What wishes of a character count that a cover in one scene does not meet."""
        who = self.character[character]
        if who.rather_boom:
            return who.weight * bool(cover.packs)
        if not cover.packs:
            return 0
        packs = [self.pack[id] for id in cover.packs]
        broken = (
            bool(who.pack) and who.pack not in cover.packs,
            bool(who.track) and all(pack.track != who.track for pack in packs),
            who.small and not all(pack.small for pack in packs),
            who.dual and len(packs) < 2,
        )
        return who.weight * sum(broken)

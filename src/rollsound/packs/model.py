"""The pack plan's part of the plan, as people write it: packs and booms that there are, what is wished, what was kept.

Packs and booms are those of the radio part, each on the track that the rig gives it; what is listed here goes before
that, by id, or is there beside them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Annotated

from pydantic import Field

from rollsound.written import Id, Part
from rollsound.wrong import Wrong, not_there

TrackNumber = Annotated[int, Field(ge=0, le=512)]


class PackGiven(Part):
    """A pack that can be worn. What is left out comes from the radio part and the rig, by the pack's id."""

    id: Id
    name: str = ""
    track: TrackNumber = Field(default=0, description="the recorder's track; the rig's when left out")
    small: bool = Field(default=False, description="one for children and thin costumes")
    spare: bool | None = Field(
        default=None, description="worn only where nothing else is left; left out, whether no character wears it"
    )
    unit: str = Field(default="", description="the unit that it works with, where a day is split")
    out: tuple[str, ...] = Field(default=(), description="ids of days on which it is not there")
    unused: bool = Field(default=False, description="it is in the radio part, and not for this")
    note: str = ""


class BoomGiven(Part):
    """A boom with somebody to swing it."""

    id: Id
    name: str = ""
    track: TrackNumber = Field(default=0, description="the recorder's track; the rig's when left out")
    unit: str = Field(default="", description="the unit that it works with, where a day is split")
    out: tuple[str, ...] = Field(default=(), description="ids of days on which it is not there")
    unused: bool = Field(default=False, description="it is in the radio part, and not for this")
    note: str = ""


class Wish(Part):
    """What is wished for a character; its id is the character's."""

    id: Id
    pack: str = Field(default="", description="id of the pack that it is to have")
    track: TrackNumber = Field(default=0, description="number of the track that it is to be on; 0 for any")
    dual: bool = Field(default=False, description="two packs at a time")
    small: bool | None = Field(default=None, description="only a small pack; of a child when left out")
    boom: bool | None = Field(default=None, description="rather a boom than a pack; of crowds when left out")
    boom_only: bool = Field(default=False, description="never a pack")
    no_pack: tuple[str, ...] = Field(default=(), description="scenes without a pack: under a harness, in the water")
    weight: int = Field(default=1, ge=1, le=100, description="how much a wish that is not met counts")
    note: str = ""


class Kept(Part):
    """One scene of one day in the plan that was kept: who wears what, and who is left to a boom or to nobody."""

    id: Id
    day: str = Field(description="id of the day")
    scene: str = Field(description="number as on the slate")
    packs: dict[str, tuple[str, ...]] = Field(default_factory=dict, description="ids of packs, by character")
    boom: tuple[str, ...] = Field(default=(), description="ids of characters whom a boom covers")
    nobody: tuple[str, ...] = Field(default=(), description="ids of characters whom nothing covers")


class PacksPart(Part):
    """Everything that bears on the pack plan beside the script, the schedule, the radio part and the rig."""

    packs: tuple[PackGiven, ...] = Field(default=(), description="beside, or over, those of the radio part")
    booms: tuple[BoomGiven, ...] = Field(default=(), description="beside, or over, those of the radio part")
    tracks: tuple[TrackNumber, ...] = Field(default=(), description="tracks that isos may be on; all when left out")
    boom_covers: int = Field(default=2, ge=1, le=6, description="characters that one boom can follow in a scene")
    dual_principals: bool = Field(default=False, description="two packs for every principal, where there are packs")
    wishes: tuple[Wish, ...] = ()
    assigned: tuple[Kept, ...] = Field(default=(), description="the plan that was kept, scene by scene")
    note: str = ""

    @property
    def empty(self) -> bool:
        """Whether nobody wrote or kept anything here."""
        return not (self.packs or self.booms or self.wishes or self.assigned)

    def wish(self, character: str) -> Wish | None:
        """What is wished for a character."""
        return next((each for each in self.wishes if each.id == character), None)


def names_wrong(
    part: PacksPart,
    *,
    characters: Collection[str],
    packs: Collection[str],
    days: Collection[str],
    scenes: Collection[str],
) -> tuple[Wrong, ...]:
    """Every name in the part that points at nothing, each with its place.

    Parameters
    ----------
    characters, packs, days
        ids that the plan has
    scenes
        numbers of the scenes
    """
    found = [
        *_days_wrong(part, days),
        *_wishes_wrong(part, characters, packs, scenes),
    ]
    for kept in part.assigned:
        if kept.day not in days:
            found.append(_wrong(not_there(kept.day, "the day", days), "assigned", kept.id, "day"))
        for who, worn in kept.packs.items():
            if who not in characters:
                found.append(_wrong(not_there(who, "the character", characters), "assigned", kept.id, "packs", who))
            found += [
                _wrong(not_there(pack, "the pack", packs), "assigned", kept.id, "packs", who)
                for pack in worn
                if pack not in packs
            ]
    return tuple(dict.fromkeys(found))


def _wrong(sentence: str, *at: str) -> Wrong:
    return Wrong(("packs", *at), sentence)


def _days_wrong(part: PacksPart, days: Collection[str]) -> Iterator[Wrong]:
    for listed, items in (("packs", part.packs), ("booms", part.booms)):
        for item in items:
            for day in item.out:
                if day not in days:
                    yield _wrong(not_there(day, "the day", days), listed, item.id, "out")


def _wishes_wrong(
    part: PacksPart, characters: Collection[str], packs: Collection[str], scenes: Collection[str]
) -> Iterator[Wrong]:
    plain = {number.casefold() for number in scenes}
    for wish in part.wishes:
        if wish.id not in characters:
            yield _wrong(not_there(wish.id, "the character", characters), "wishes", wish.id)
        if wish.pack and wish.pack not in packs:
            yield _wrong(not_there(wish.pack, "the pack", packs), "wishes", wish.id, "pack")
        for number in wish.no_pack:
            if number.casefold() not in plain:
                yield _wrong(not_there(number, "the scene", scenes), "wishes", wish.id, "no_pack")
        if wish.boom_only and (wish.pack or wish.dual):
            yield _wrong("asks for a pack and for none; take boom_only out, or pack and dual", "wishes", wish.id)

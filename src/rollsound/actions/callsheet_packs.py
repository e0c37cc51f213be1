"""Who is wired and boomed, scene by scene of a day: by the pack plan, or by who wears what in the radio part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rollsound.script.model import plain_number

if TYPE_CHECKING:
    from rollsound.show.model import Day, Plan


@dataclass(frozen=True)
class Wired:
    """One character in one scene: a pack, a boom, or nobody."""

    scene: str
    character: str
    name: str
    pack: str = ""
    pack_name: str = ""
    boom: bool = False


@dataclass(frozen=True)
class WiredScene:
    """A scene's packs in words, whom a boom covers, and all names and ids that are covered."""

    worn: tuple[str, ...] = ()
    booms: tuple[str, ...] = ()
    covered: frozenset[str] = frozenset()


@dataclass(frozen=True)
class WiredDay:
    """A day's wiring. ``by_scene`` says whether the pack plan tells it, scene by scene."""

    rows: tuple[Wired, ...]
    by_scene: bool

    def has(self, number: str) -> bool:
        """Whether it tells of a scene: the pack plan of those it holds, the radio part's wearers of every one."""
        wanted = plain_number(number)
        return bool(self.rows) and (not self.by_scene or any(plain_number(each.scene) == wanted for each in self.rows))

    def of_scene(self, number: str) -> WiredScene:
        """What is known of a scene; what the radio part tells holds for every scene its wearers are in."""
        wanted = plain_number(number)
        mine = [each for each in self.rows if plain_number(each.scene) == wanted]
        return WiredScene(
            worn=tuple(f"{name}: {' and '.join(packs)}" for name, packs in _by_name(mine).items()),
            booms=_once(each.name for each in mine if each.boom),
            covered=frozenset(name for each in mine if each.pack or each.boom for name in (each.character, each.name)),
        )

    def wearers_of(self, pack: str) -> tuple[str, ...]:
        """Who wears a pack, with the scenes where the pack plan tells them."""
        scenes: dict[str, list[str]] = {}
        for each in self.rows:
            if each.pack == pack:
                scenes.setdefault(each.name, []).append(each.scene)
        return tuple(f"{name} ({', '.join(some)})" if self.by_scene else name for name, some in scenes.items())


def wired_day(plan: Plan, day: Day) -> WiredDay:
    """The pack plan's scenes of a day; without any, the radio part's wearers in the scenes that they are heard in."""
    names = {each.id: each.name for each in plan.script.characters}
    packs = {each.id: each.name for each in plan.radio.transmitters}
    packs |= {each.id: each.name for each in plan.packs.packs if each.name}
    wanted = {plain_number(each) for each in day.scenes}
    rows = []
    for kept in plan.packs.assigned:
        if kept.day != day.id or plain_number(kept.scene) not in wanted:
            continue
        for who, worn in kept.packs.items():
            rows += [Wired(kept.scene, who, names.get(who, who), pack, packs.get(pack, pack)) for pack in worn]
        rows += [Wired(kept.scene, who, names.get(who, who), boom=True) for who in kept.boom]
        rows += [Wired(kept.scene, who, names.get(who, who)) for who in kept.nobody]
    if rows:
        return WiredDay(tuple(rows), by_scene=True)
    return WiredDay(tuple(_by_radio(plan, day)), by_scene=False)


def _by_radio(plan: Plan, day: Day) -> Iterable[Wired]:
    spelt = {spelling.casefold(): each for each in plan.script.characters for spelling in (each.id, *each.spellings)}
    for transmitter in plan.radio.transmitters:
        if transmitter.kind != "body pack" or not transmitter.wearer:
            continue
        character = spelt.get(transmitter.wearer.casefold())
        for number in day.scenes:
            scene = plan.script.scene(number)
            if scene is not None and character is not None and character.id in scene.characters:
                yield Wired(number, character.id, character.name, transmitter.id, transmitter.name)


def _by_name(rows: Iterable[Wired]) -> dict[str, list[str]]:
    """Packs by who wears them: a principal may have two."""
    found: dict[str, list[str]] = {}
    for each in rows:
        if each.pack:
            found.setdefault(each.name, []).append(each.pack_name)
    return found


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))

"""A pack plan in words: who is not covered and when, who is re-rigged, who changes packs, and what would mend it.

What would mend it is counted, not guessed: in one scene, packs and booms can be put on anybody who may have them, so
what is missing there is how many are heard over how many can be covered.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rollsound.packs.counting import NOTHING, Rerig, rerigs
from rollsound.packs.task import EASY, HURRIED, Cover, Level, PackTask, Worn
from rollsound.quantities import count, several


@dataclass(frozen=True)
class Given:
    """Something that was given up. ``cure`` is empty where nothing but another schedule helps."""

    level: Level
    day: str
    scene: str
    characters: tuple[str, ...]
    sentence: str
    why: str = ""
    cure: str = ""
    amount: int = 0
    """What it counts at its level."""


@dataclass(frozen=True)
class Names:
    """What people call things, by id; an id stands for itself where there is none."""

    task: PackTask
    days: Mapping[str, str]

    def day(self, id: str) -> str:
        """``Day 3``, with a capital letter."""
        name = self.days.get(id, id)
        return name[:1].upper() + name[1:]

    def of_day(self, id: str) -> str:
        """The same inside of a sentence."""
        return self.days.get(id, id)

    def who(self, id: str) -> str:
        """A character."""
        found = self.task.character.get(id)
        return found.name if found else id

    def pack(self, id: str) -> str:
        """A pack."""
        found = self.task.pack.get(id)
        return found.name if found else id


def explain(task: PackTask, worn: Worn, days: Mapping[str, str] | None = None) -> tuple[Given, ...]:
    """Everything that a plan gives up, level by level, and in the order of the schedule.

    Parameters
    ----------
    days
        what days are called, by id
    """
    names = Names(task, days or {})
    found: list[Given] = []
    for n in range(len(task.slots)):
        found += [*_not_covered(task, worn, n, names), *_boom_alone(task, worn, n, names)]
    for day in task.days:
        found += [*_spares(task, worn, day, names), *_wishes(task, worn, day, names), *_rerigs(task, worn, day, names)]
    if task.kept:
        found += _moved(task, worn, names)
    found += _changes(task, worn, names)
    return tuple(sorted(found, key=lambda each: each.level))


def missing(task: PackTask, n: int) -> tuple[int, int]:
    """Packs, and characters on booms, that a scene is short of: so many more, and everybody in it can be covered."""
    voices, day = task.voices(n), task.slots[n].day
    may = sum(task.may_wear(who, n) for who in voices)
    must_boom, places = len(voices) - may, task.boom_places(day)
    return max(0, may - len(task.packs_on(day)) - max(0, places - must_boom)), max(0, must_boom - places)


def _there(task: PackTask, n: int) -> str:
    slot = task.slots[n]
    packs, booms = len(task.packs_on(slot.day)), len(task.booms_on(slot.day))
    covers = f", which {'covers' if booms == 1 else 'cover'} {task.boom_places(slot.day)}" if booms else ""
    are = "is" if packs + booms == 1 else "are"
    return f"{len(slot.voices)} are heard; {count(packs, 'pack')} and {count(booms, 'boom')}{covers}, {are} there"


def _told(task: PackTask, n: int, who: Sequence[str], names: Names) -> str:
    voices = task.voices(n)
    most_first = sorted(who, key=lambda each: -voices[each].words)
    return several([f"{names.who(each)} ({count(voices[each].words, 'word')})" for each in most_first])


def _not_covered(task: PackTask, worn: Worn, n: int, names: Names) -> Iterator[Given]:
    slot, voices = task.slots[n], task.voices(n)
    bare = [who for who in voices if worn.get((n, who), NOTHING).nothing]
    if not bare:
        return
    packs, places = missing(task, n)
    more_booms = -(-len(bare) // task.boom_covers)
    day = names.of_day(slot.day)
    boom = count(more_booms, "more boom")
    if places:
        cure = f"Put {boom} on {day}; {several([names.who(each) for each in bare])} may not all wear a pack there."
        if packs:
            cure = (
                f"Put {boom} on {day}, or {count(packs, 'more pack')} and {count(_booms(task, places), 'more boom')}."
            )
    elif packs:
        cure = f"Bring {count(packs, 'more pack')} on {day}, or {boom}."
    else:
        cure = "There is enough for everybody: let the search go on."
    yield Given(
        Level.UNCOVERED,
        slot.day,
        slot.scene,
        tuple(bare),
        f"{names.day(slot.day)}, scene {slot.scene}: nothing covers {_told(task, n, bare, names)}.",
        f"{_there(task, n)}.",
        cure,
        sum(voices[who].weight for who in bare),
    )


def _booms(task: PackTask, places: int) -> int:
    return -(-places // task.boom_covers)


def _boom_alone(task: PackTask, worn: Worn, n: int, names: Names) -> Iterator[Given]:
    slot, voices = task.slots[n], task.voices(n)
    alone = [
        who
        for who in voices
        if (cover := worn.get((n, who), NOTHING)).boom and not cover.packs and task.wants_pack(who, n)
    ]
    if alone:
        short = len(alone) + missing(task, n)[0]
        yield Given(
            Level.BOOM_ALONE,
            slot.day,
            slot.scene,
            tuple(alone),
            f"{names.day(slot.day)}, scene {slot.scene}: only a boom covers {_told(task, n, alone, names)}.",
            f"{_there(task, n)}.",
            f"Bring {count(short, 'more pack')} on {names.of_day(slot.day)}.",
            sum(voices[who].weight for who in alone),
        )


def _spares(task: PackTask, worn: Worn, day: str, names: Names) -> Iterator[Given]:
    wearers: dict[str, list[str]] = {}
    for n in task.days[day]:
        for who in task.voices(n):
            for pack in worn.get((n, who), NOTHING).packs:
                if task.pack[pack].spare and who not in wearers.setdefault(pack, []):
                    wearers[pack].append(who)
    for pack, whose in wearers.items():
        yield Given(
            Level.SPARES,
            day,
            "",
            tuple(whose),
            f"{names.day(day)}: {names.pack(pack)}, a spare, is worn by {several([names.who(one) for one in whose])}.",
            "One that fails on this day has one spare less to stand in for it.",
            amount=1,
        )


def _wishes(task: PackTask, worn: Worn, day: str, names: Names) -> Iterator[Given]:
    """By character, once a day."""
    for who in task.cast(day):
        character = task.character[who]
        missed = {
            n: amount
            for n in task.days[day]
            if who in task.voices(n) and (amount := task.missed(who, worn.get((n, who), NOTHING)))
        }
        if not missed:
            continue
        wants = []
        if character.rather_boom:
            wants.append("rather a boom")
        else:
            wants += [names.pack(character.pack)] if character.pack else []
            wants += [f"track {character.track}"] if character.track else []
            wants += ["a small pack"] if character.small else []
            wants += ["two packs"] if character.dual else []
        has = dict.fromkeys(_cover(worn.get((n, who), NOTHING), names) for n in missed)
        scenes = [task.slots[n].scene for n in missed]
        yield Given(
            Level.WISHES,
            day,
            scenes[0],
            (who,),
            f"{names.day(day)}, {'scene' if len(scenes) == 1 else 'scenes'} {', '.join(scenes)}: {character.name} has "
            f"{', then '.join(has)}, and wished is {', '.join(wants)}.",
            amount=sum(missed.values()),
        )


def _cover(cover: Cover, names: Names) -> str:
    if cover.packs:
        return " and ".join(names.pack(pack) for pack in cover.packs)
    return "a boom" if cover.boom else "nothing"


def _rerigs(task: PackTask, worn: Worn, day: str, names: Names) -> Iterator[Given]:
    short = packs_short(task, worn, day)
    for each in rerigs(task, day, worn):
        yield Given(
            Level.RERIGS,
            day,
            task.slots[each.slot].scene,
            tuple(who for who in (each.off, each.to) if who),
            rerig_sentence(task, each, names),
            f"{count(len(task.packs_on(day)), 'pack')} for {_wearers(task, worn, day)} who wear one on this day."
            if short
            else "",
            f"Bring {count(short, 'more pack')} on {names.of_day(day)}, and nobody hands one on." if short else "",
            each.price,
        )


def _wearers(task: PackTask, worn: Worn, day: str) -> int:
    return len({who for n in task.days[day] for who in task.voices(n) if worn.get((n, who), NOTHING).packs})


def packs_short(task: PackTask, worn: Worn, day: str) -> int:
    """How many more packs a day takes so that whoever wears one has one alone."""
    most: dict[str, int] = {}
    for n in task.days[day]:
        for who in task.voices(n):
            most[who] = max(most.get(who, 0), len(worn.get((n, who), NOTHING).packs))
    return max(0, sum(most.values()) - len(task.packs_on(day)))


def rerig_sentence(task: PackTask, each: Rerig, names: Names) -> str:
    """``Day 3, in the break before scene 29: Pack 4 goes from Tomasz to Haru.``"""
    slot = task.slots[each.slot]
    if each.price == EASY:
        when = f"in {slot.gap_name or ('the break' if slot.gap == 'break' else 'the move')} before scene {slot.scene}"
    elif each.price == HURRIED:
        before = each.slot - 1
        when = f"between scenes {task.slots[before].scene} and {slot.scene}"
    else:
        when = f"while scene {slot.scene} is shot"
    from_ = f" from {names.who(each.off)}" if each.off else ""
    instead = f", who wore {names.pack(each.changed_from)}" if each.changed_from else ""
    return f"{names.day(each.day)}, {when}: {names.pack(each.pack)} goes{from_} to {names.who(each.to)}{instead}."


def _moved(task: PackTask, worn: Worn, names: Names) -> Iterator[Given]:
    for (n, who), was in sorted(task.kept.items()):
        if n >= len(task.slots) or who not in task.voices(n):
            continue
        now = worn.get((n, who), NOTHING)
        if now != was:
            slot = task.slots[n]
            yield Given(
                Level.MOVED,
                slot.day,
                slot.scene,
                (who,),
                f"{names.day(slot.day)}, scene {slot.scene}: {names.who(who)} has {_cover(now, names)} in place of "
                f"{_cover(was, names)}.",
                amount=1,
            )


def _changes(task: PackTask, worn: Worn, names: Names) -> Iterator[Given]:
    """Who does not keep one pack, and so one track, through the show."""
    days: dict[str, dict[str, list[str]]] = {}
    for n, slot in enumerate(task.slots):
        for who in task.voices(n):
            for pack in worn.get((n, who), NOTHING).packs:
                on = days.setdefault(who, {}).setdefault(pack, [])
                if slot.day not in on:
                    on.append(slot.day)
    for who, packs in days.items():
        if len(packs) <= task.most_packs(who):
            continue
        told = []
        for pack, on in packs.items():
            track = task.pack[pack].track
            on_track = f" (track {track})" if track else ""
            told.append(f"{names.pack(pack)}{on_track} on {several([names.of_day(day) for day in on])}")
        first = next(iter(packs.values()))[0]
        yield Given(
            Level.PAIRS,
            first,
            "",
            (who,),
            f"{names.who(who)} changes packs over the show: {'; '.join(told)}.",
            "The name on the recorder's track must change with it.",
            amount=len(packs),
        )

"""A pack plan in one pass: everybody keeps a pack of his or her own as long as there is one, then day by day.

It is good where there are packs enough, and a start for the search where there are not.
"""

from __future__ import annotations

from collections.abc import Iterable

from rollsound.packs.task import Character, Cover, Pack, PackTask

Plan = dict[tuple[int, str], Cover]
_FAR = 1 << 30


def first_plan(task: PackTask) -> Plan:
    """A plan that breaks no rule. Near to the kept plan where there is one."""
    homes = homes_of(task)
    made: Plan = {}
    before: dict[str, list[str]] = {who.id: list(homes.get(who.id, ())) for who in task.characters}
    for day in task.days:
        _plan_day(task, day, before, made)
    return made


def homes_of(task: PackTask) -> dict[str, tuple[str, ...]]:
    """A pack (two for who is to have two) for each character that is to have one, shared by those who meet least."""
    days: dict[str, set[str]] = {who.id: set() for who in task.characters}
    words = dict.fromkeys(days, 0)
    for n, slot in enumerate(task.slots):
        for voice in slot.voices:
            if task.wants_pack(voice.character, n):
                days[voice.character].add(slot.day)
                words[voice.character] += voice.weight
    wanting = [who for who in task.characters if days[who.id]]
    wanting.sort(
        key=lambda who: (not (who.pack or who.track), not who.principal, -len(days[who.id]), -words[who.id], who.id)
    )
    taken: dict[str, list[str]] = {pack.id: [] for pack in task.packs}
    kept = _kept_packs(task)
    homes: dict[str, tuple[str, ...]] = {}
    for who in wanting:
        own: list[str] = []
        for _ in range(2 if who.dual else 1):
            left = [pack for pack in task.packs if pack.id not in own]
            if not left:
                break
            best = min(
                left,
                key=lambda pack: (
                    pack.id not in kept.get(who.id, ()),
                    pack.spare,
                    _meetings(days, days[who.id], [*taken[pack.id]]) + len(days[who.id] & pack.out),
                    _unlike(who, pack),
                    pack.small and not who.small,
                    len(taken[pack.id]),
                    task.packs.index(pack),
                ),
            )
            own.append(best.id)
            taken[best.id].append(who.id)
        homes[who.id] = tuple(own)
    return homes


def _kept_packs(task: PackTask) -> dict[str, set[str]]:
    kept: dict[str, set[str]] = {}
    for (_, who), cover in task.kept.items():
        kept.setdefault(who, set()).update(cover.packs)
    return kept


def _meetings(days: dict[str, set[str]], mine: set[str], others: Iterable[str]) -> int:
    return sum(len(mine & days[other]) for other in others)


def _unlike(who: Character, pack: Pack) -> int:
    return (
        (bool(who.pack) and pack.id != who.pack)
        + (bool(who.track) and pack.track != who.track)
        + (who.small and not pack.small)
    )


def _plan_day(task: PackTask, day: str, before: dict[str, list[str]], made: Plan) -> None:
    """One day: packs stay on who wears them until somebody needs one that is not there otherwise."""
    there = [pack.id for pack in task.packs_on(day)]
    worn: dict[str, str] = {}  # pack: who wears it now
    slots = task.days[day]
    ranked = _ranked(task, day)
    for at, n in enumerate(slots):
        voices = task.voices(n)
        wanting = [who for who in ranked if who in voices and task.wants_pack(who, n)]
        kept = {pack for who in wanting for pack in task.kept.get((n, who), Cover()).packs if pack in there}
        covers: dict[str, list[str]] = {who: [] for who in wanting}
        used: set[str] = set()
        for who in wanting:  # what was kept, then what is on already
            of_plan = [pack for pack in task.kept.get((n, who), Cover()).packs if pack in there]
            mine = of_plan or [pack for pack, other in worn.items() if other == who and pack not in kept]
            covers[who] = [pack for pack in mine if pack not in used][: task.most_packs(who)]
            used.update(covers[who])
        for share in range(2):
            for who in wanting:
                if len(covers[who]) > share or share >= task.most_packs(who) or (share and not covers[who]):
                    continue
                found = _free(task, n, slots[at:], who, there, worn, used, before, second=bool(share))
                if found:
                    covers[who].append(found)
                    used.add(found)
        for who, mine in covers.items():
            for pack in mine:
                if pack not in before[who]:
                    before[who].append(pack)
                worn[pack] = who
        _write(task, n, covers, made)


def _ranked(task: PackTask, day: str) -> list[str]:
    words: dict[str, int] = {}
    for n in task.days[day]:
        for voice in task.slots[n].voices:
            words[voice.character] = words.get(voice.character, 0) + voice.weight
    return sorted(words, key=lambda who: (-words[who], not task.character[who].principal, who))


def _free(
    task: PackTask,
    n: int,
    later: Iterable[int],
    who: str,
    there: list[str],
    worn: dict[str, str],
    used: set[str],
    before: dict[str, list[str]],
    *,
    second: bool,
) -> str:
    """The pack that is missed least elsewhere; nothing when all are in this scene."""
    ahead = [slot for slot in later if slot > n]
    free = [pack for pack in there if pack not in used]
    if second:  # a second pack is not worth a re-rig, nor a spare
        free = [pack for pack in free if worn.get(pack, who) == who and not task.pack[pack].spare]
    today = {other for slot in (n, *ahead) for other in task.voices(slot) if task.wants_pack(other, slot)}

    def missed(pack: str) -> tuple[object, ...]:
        on = worn.get(pack, "")
        next_needed = next((at for at, slot in enumerate(ahead) if on in task.voices(slot)), _FAR)
        spare = task.pack[pack].spare
        at_home = any(pack in before[other][:2] for other in today - {who})
        number = before[who].index(pack) if pack in before[who] else _FAR
        return (
            spare, bool(on) and on != who, -next_needed, number, _unlike(task.character[who], task.pack[pack]),
            at_home, there.index(pack),
        )  # fmt: skip

    return min(free, key=missed, default="")


def _write(task: PackTask, n: int, covers: dict[str, list[str]], made: Plan) -> None:
    """Put packs down, and booms on whoever has none: who may not wear one first, then by words."""
    slot = task.slots[n]
    places = task.boom_places(slot.day)
    without = sorted(
        (voice for voice in slot.voices if not covers.get(voice.character)),
        key=lambda voice: (-voice.weight, task.wants_pack(voice.character, n), voice.character),
    )
    on_boom = {voice.character for voice in without[:places]}
    for voice in slot.voices:
        who = voice.character
        made[n, who] = Cover(tuple(sorted(covers.get(who, ()))), who in on_boom)

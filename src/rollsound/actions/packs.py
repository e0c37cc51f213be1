"""The pack plan of a show: worked out, told, held against the schedule, and kept."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rollsound.actions.packs_gather import PacksOfShow
from rollsound.actions.packs_model import (
    CoverRow,
    GivenRow,
    LevelRow,
    PackDayRow,
    PacksResult,
    RerigRow,
    SceneRow,
)
from rollsound.actions.plan_write import keep_document
from rollsound.errors import InputError
from rollsound.finding import Finding
from rollsound.packs.alike import as_named
from rollsound.packs.booms import booms_of
from rollsound.packs.counting import NOTHING, rerigs
from rollsound.packs.explain import Names, explain, rerig_sentence
from rollsound.packs.find import DEFAULT_MOVES, PackPlan, SoFar, find
from rollsound.packs.proofs import SungScene, proofs
from rollsound.packs.task import EASY, LEVEL_WORDS, MEANWHILE, PackTask, Worn
from rollsound.quantities import count, several

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.show.model import Plan

HARNESS = (
    "A pack under a harness, in a fall or in the water can injure whoever wears it: ask the stunt coordinator first, "
    "and list such scenes under 'no_pack' of the character's wish."
)
CHILD = "A child is rigged only with its chaperone there, and its pack stays off the skin, where it grows warm."
_PLAIN = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True)
class PacksAnswer:
    """A pack plan, all that it rests on, and how it is told."""

    read: PlanRead
    gathered: PacksOfShow
    worn: Worn
    result: PacksResult


def packs(
    read: PlanRead,
    *,
    day: str = "",
    without: Collection[str] = (),
    near: bool = False,
    moves: int = DEFAULT_MOVES,
    seed: int = 0,
    progress: Callable[[SoFar], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> PacksAnswer:
    """The best pack plan that so many moves find.

    Parameters
    ----------
    day
        id of the day that is told; every day when empty
    without
        ids of packs and booms that fail on that day, or on every day
    near
        whether the plan that was kept is changed as little as can be
    stop
        asked now and then; the best until then is answered once it says yes

    Raises
    ------
    InputError
        when there is no script, nobody is heard, a name is not there, or no plan was kept to stay near to
    """
    if near and not read.plan.packs.assigned:
        raise InputError(
            f"{read.path} has no pack plan to stay near to; leave --replan out, and keep the plan with --save"
        )
    gathered = PacksOfShow(read.plan, day=day, without=frozenset(without), near=near)
    found = find(gathered.task, moves=moves, seed=seed, progress=progress, stop=stop)
    if not near:  # which of two packs that are alike is whose follows the radio part, at no cost
        found = replace(found, worn=as_named(found.task, found.worn, gathered.named))
    return PacksAnswer(read, gathered, found.worn, _told(read, gathered, found))


def kept_findings(plan: Plan) -> list[Finding]:
    """Proofs over the pack plan that a plan keeps; nothing while it has no script or no scenes on its days.

    What the schedule has wrong is left to the proofs of the script.
    """
    gathered = PacksOfShow(plan)
    wrong = [each for each in gathered.wrong if each.at[0] == "packs"]
    if not plan.script.scenes or not any(slot.voices for slot in gathered.slots):
        return proofs(None, {}, gathered.day_names, wrong=wrong)
    return proofs(gathered.task, gathered.kept, gathered.day_names, _sung(gathered), wrong)


def kept_plan(read: PlanRead, day: str = "") -> PacksAnswer:
    """The pack plan that was kept, told as it stands; nothing is worked out.

    Raises
    ------
    InputError
        when there is none, or the plan has no script
    """
    if not read.plan.packs.assigned:
        raise InputError(f"{read.path} keeps no pack plan; work one out with 'rollsound packs {read.path} --save'")
    gathered = PacksOfShow(read.plan, day=day)
    worn = dict(gathered.kept)
    return PacksAnswer(read, gathered, worn, _rows(read, gathered, gathered.task, worn))


def _told(read: PlanRead, gathered: PacksOfShow, found: PackPlan) -> PacksResult:
    made = _rows(read, gathered, found.task, found.worn)
    return made.model_copy(
        update={
            "levels": tuple(
                LevelRow(
                    id=each.level.name.lower().replace("_", " "),
                    words=LEVEL_WORDS[each.level],
                    value=each.value,
                    least=each.least,
                    proved=each.proved,
                )
                for each in found.reached
            ),
            "proved": found.proved,
            "near": gathered.near,
            "moves": found.moves,
            "stopped": found.stopped,
        }
    )


def _rows(read: PlanRead, gathered: PacksOfShow, task: PackTask, worn: Worn) -> PacksResult:
    names = Names(task, gathered.day_names)
    asked = (gathered.day,) if gathered.day else tuple(task.days)
    days = [day for day in asked if day in task.days]
    found = proofs(task, worn, gathered.day_names, _sung(gathered), gathered.wrong, day=gathered.day)
    return PacksResult(
        path=str(read.path),
        name=read.name,
        day=gathered.day,
        characters=len(task.characters),
        packs=len({pack.id for day in days for pack in task.packs_on(day)}),
        booms=len({boom.id for day in days for boom in task.booms_on(day)}),
        days=tuple(_day(task, worn, day, names) for day in days),
        levels=(),
        proved=False,
        given=tuple(
            GivenRow(
                level=each.level.name.lower().replace("_", " "),
                day=each.day,
                scene=each.scene,
                characters=each.characters,
                sentence=each.sentence,
                why=each.why,
                cure=each.cure,
                amount=each.amount,
            )
            for each in explain(task, worn, gathered.day_names)
            if each.day in asked
        ),
        findings=tuple(each for each in found if each.kind != "pack plan kept"),
        notes=tuple(_notes(gathered)),
        cautions=(HARNESS, *((CHILD,) if any(who.kind == "child" for who in task.characters) else ())),
    )


def _day(task: PackTask, worn: Worn, day: str, names: Names) -> PackDayRow:
    scenes = []
    for n in task.days[day]:
        slot = task.slots[n]
        covers = []
        booms = booms_of(task, worn, n)
        for voice in slot.voices:
            cover = worn.get((n, voice.character), NOTHING)
            covers.append(
                CoverRow(
                    character=voice.character,
                    name=names.who(voice.character),
                    words=voice.words,
                    lines=voice.lines,
                    sings=voice.sings,
                    packs=cover.packs,
                    pack_names=tuple(names.pack(pack) for pack in cover.packs),
                    tracks=tuple(task.pack[pack].track if pack in task.pack else 0 for pack in cover.packs),
                    boom=cover.boom,
                    boom_name=booms[voice.character].name if voice.character in booms else "",
                    boom_track=booms[voice.character].track if voice.character in booms else 0,
                )
            )
        scenes.append(
            SceneRow(
                scene=slot.scene,
                gap=slot.gap,
                gap_name=slot.gap_name,
                sung=any(voice.sings for voice in slot.voices),
                site=slot.site,
                covers=tuple(covers),
            )
        )
    rows = [
        RerigRow(
            day=day,
            scene=task.slots[each.slot].scene,
            when="break" if each.price == EASY else "meanwhile" if each.price == MEANWHILE else "between",
            pack=each.pack,
            pack_name=names.pack(each.pack),
            from_=names.who(each.off) if each.off else "",
            to=names.who(each.to),
            sentence=rerig_sentence(task, each, names),
        )
        for each in rerigs(task, day, worn)
    ]
    return PackDayRow(
        id=day,
        name=names.of_day(day),
        scenes=tuple(scenes),
        rerigs=tuple(rows),
        packs=len(task.packs_on(day)),
        worn=len({pack for row in scenes for cover in row.covers for pack in cover.packs}),
    )


def _sung(gathered: PacksOfShow) -> list[SungScene]:
    plan = gathered.plan
    names = {each.id: each.name for each in plan.script.characters}
    played = {source.id for source in plan.rig.sources if source.kind in ("playback", "click")}
    feeds = [feed for feed in plan.rig.feeds if played & set(feed.sources)]
    found = []
    for slot in gathered.slots:
        scene = plan.script.scene(slot.scene)
        if scene is None or not scene.sung:
            continue
        singers = tuple(names.get(voice.character, voice.character) for voice in slot.voices if voice.sings)
        song = bool(scene.songs or plan.songs.of_scene(slot.scene))
        found.append(SungScene(slot.day, slot.scene, singers or ("somebody",), song, bool(played), bool(feeds)))
    return found


def _notes(gathered: PacksOfShow) -> Iterator[str]:
    plan = gathered.plan
    bare = [pack.name for pack in gathered.packs if not pack.track]
    if bare and plan.rig.tracks:
        yield f"No track of the rig has {several(bare)}; write the track at the pack, or its source in the rig."
    if any(day.breaks for day in plan.schedule.days) or any(phase.break_ for phase in plan.power.phases):
        yield "Which scenes lie before and after a break was taken from their length in eighths of a page."
    else:
        yield "No break is written for any day, so no re-rig can be put into one; write breaks at the days."
    if gathered.off_tracks:
        yield f"Left out, as no track under 'tracks' of the packs part has them: {several(gathered.off_tracks)}."
    spare = [pack.name for pack in gathered.packs if pack.spare]
    if spare:
        yield f"Spares, worn only where nothing else is left: {several(spare)}."


def save_packs(answer: PacksAnswer, name: str = "") -> PacksAnswer:
    """Keep the plan where it was asked for: journalled in a show, or in the text itself, its comments kept.

    Parameters
    ----------
    name
        of the person whose edit it is; the mixer's when empty

    Raises
    ------
    ClashError
        when somebody changed the same since it was read
    InputError
        when a text was changed since it was read
    StorageError
        when the disk fails
    """
    read = answer.read
    document = copy.deepcopy(dict(read.document))
    document["packs"] = {**(document.get("packs") or {}), "assigned": assigned_rows(answer.gathered.task, answer.worn)}
    sentence = f"Kept a pack plan for {count(len(answer.gathered.task.slots), 'scene')}"
    kept = keep_document(read, document, sentence, name, f"{read.path} keeps this plan already; nothing was to change.")
    result = answer.result.model_copy(update={"saved": kept.sentence, "revision": kept.revision})
    return PacksAnswer(answer.read, answer.gathered, answer.worn, result)


def assigned_rows(task: PackTask, worn: Worn) -> list[dict[str, Any]]:
    """The plan as it is kept: a row a scene of a day."""
    rows: list[dict[str, Any]] = []
    taken: set[str] = set()
    for n, slot in enumerate(task.slots):
        covers = {voice.character: worn.get((n, voice.character), NOTHING) for voice in slot.voices}
        base = _PLAIN.sub("-", f"{slot.day}-{slot.scene}".casefold()).strip("-")[:60]
        id, number = base, 2
        while id in taken:
            id, number = f"{base}-{number}", number + 1
        taken.add(id)
        parts: dict[str, Any] = {
            "packs": {who: list(cover.packs) for who, cover in covers.items() if cover.packs},
            "boom": [who for who, cover in covers.items() if cover.boom],
            "nobody": [who for who, cover in covers.items() if cover.nothing],
        }
        kept = {field: value for field, value in parts.items() if value}
        rows.append({"id": id, "day": slot.day, "scene": slot.scene, **kept})
    return rows

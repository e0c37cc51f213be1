"""Rows of a script's answer: scenes, characters, days, and what a revision changes, each with its sentence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from rollsound.actions.script_model import (
    ChangedPersonRow,
    ChangedSceneRow,
    CharacterRow,
    CueRow,
    DayCostRow,
    OfferRow,
    RevisionRow,
    SceneRow,
    ScriptDayRow,
    VoiceRow,
)
from rollsound.quantities import count, several
from rollsound.script.compare import DayCost, Revision, SceneChange
from rollsound.script.lengths import eighths_text
from rollsound.script.model import Said, ScriptPart, plain_number
from rollsound.script.names import Offer

if TYPE_CHECKING:
    from rollsound.show.model import Day
    from rollsound.song.model import SongsPart


_WORDS = {"added": "added", "omitted": "taken out", "renumbered": "renumbered", "moved": "moved", "changed": "changed"}


def name_of_day(day: Day) -> str:
    """What people call a day."""
    return f"day {day.number}" if day.number is not None else day.id.replace("-", " ")


def scene_rows(part: ScriptPart, days: Sequence[Day], songs: SongsPart) -> tuple[SceneRow, ...]:
    """Scene by scene, as the script has them."""
    names = {each.id: each.name for each in part.characters}
    on = days_of_scenes(days)
    return tuple(
        SceneRow(
            id=each.id,
            number=each.number,
            heading=each.heading,
            interior=each.interior,
            place=each.place,
            time=each.time,
            eighths=each.eighths,
            pages=eighths_text(each.eighths),
            minutes=each.minutes,
            page=each.page,
            synopsis=each.synopsis,
            speaks=_voices(each.speaks, names),
            sings=_voices(each.sings, names),
            dual=each.dual,
            sung=each.sung,
            omitted=each.omitted,
            cues=tuple(CueRow(kind=cue.kind, text=cue.text, line=cue.line) for cue in each.cues),
            songs=tuple(dict.fromkeys((*each.songs, *(song.id for song in songs.of_scene(each.number))))),
            days=on.get(plain_number(each.number), ()),
            words=each.words,
        )
        for each in part.scenes
    )


def _voices(said: Iterable[Said], names: Mapping[str, str]) -> tuple[VoiceRow, ...]:
    return tuple(
        VoiceRow(
            character=each.character,
            name=names.get(each.character, each.character),
            words=each.words,
            lines=each.lines,
            off=each.off,
        )
        for each in said
    )


def days_of_scenes(days: Sequence[Day]) -> dict[str, tuple[str, ...]]:
    """Ids of the days of every scene, by its plain number."""
    found: dict[str, dict[str, None]] = {}
    for day in days:
        for number in day.scenes:
            found.setdefault(plain_number(number), {})[day.id] = None
    return {number: tuple(ids) for number, ids in found.items()}


def character_rows(part: ScriptPart, days: Sequence[Day]) -> tuple[CharacterRow, ...]:
    """Character by character, who says most first."""
    on = days_of_scenes(days)
    order = {day.id: at for at, day in enumerate(days)}
    rows = []
    for each in part.characters:
        scenes = [scene for scene in part.scenes if each.id in scene.characters]
        there = {day for scene in scenes for day in on.get(plain_number(scene.number), ())}
        rows.append(
            CharacterRow(
                id=each.id,
                name=each.name,
                also=each.also,
                performer=each.performer,
                kind=each.kind,
                principal=each.principal,
                scenes=len(scenes),
                words=sum(said.words for scene in scenes for said in scene.speaks if said.character == each.id),
                sung_words=sum(said.words for scene in scenes for said in scene.sings if said.character == each.id),
                days=tuple(sorted(there, key=lambda day: order[day])),
            )
        )
    return tuple(sorted(rows, key=lambda row: -(row.words + row.sung_words)))


def day_rows(part: ScriptPart, days: Sequence[Day], changes: Mapping[str, str]) -> tuple[ScriptDayRow, ...]:
    """The schedule, with what its scenes ask."""
    by_number = {plain_number(scene.number): scene for scene in reversed(part.scenes) if scene.number}
    rows = []
    for day in days:
        scenes = [found for number in day.scenes if (found := by_number.get(plain_number(number))) is not None]
        length = sum(scene.eighths for scene in scenes)
        rows.append(
            ScriptDayRow(
                id=day.id,
                name=name_of_day(day),
                date=day.date.isoformat() if day.date else "",
                sites=day.sites,
                unit=day.unit,
                call=day.call,
                wrap=day.wrap,
                scenes=day.scenes,
                eighths=length,
                pages=eighths_text(length),
                characters=tuple(dict.fromkeys(id for scene in scenes for id in scene.characters)),
                most=max((len(scene.characters) for scene in scenes), default=0),
                sung=tuple(scene.number for scene in scenes if scene.sung),
                change=changes.get(day.id, ""),
            )
        )
    return tuple(rows)


def offer_rows(found: Iterable[Offer]) -> tuple[OfferRow, ...]:
    """Names that look alike."""
    return tuple(OfferRow(keep=each.keep, other=each.other, why=each.why, sentence=each.sentence) for each in found)


def revision_row(found: Revision, part: ScriptPart, days: Sequence[Day], before: ScriptPart) -> RevisionRow:
    """What a revised script changes, in sentences."""
    names = {each.id: each.name for each in (*before.characters, *part.characters)}
    day_names = {day.id: name_of_day(day) for day in days}
    return RevisionRow(
        nothing=found.nothing,
        sentence=_sentence(found),
        scenes=tuple(_scene(each, day_names) for each in found.scenes),
        new_characters=found.new_characters,
        gone_characters=found.gone_characters,
        days=tuple(_day(each, names, day_names) for each in found.days),
        unscheduled=found.unscheduled,
        scheduled_and_gone=tuple(
            f"Scene {number} is out of the script and still on {day_names.get(day, day)}."
            for number, day in found.scheduled_and_gone
        ),
    )


def _sentence(found: Revision) -> str:
    if found.nothing:
        return "The script says what the show has already."
    told = []
    for kind, word in _WORDS.items():
        scenes = [scene for scene in found.scenes if kind in scene.kinds]
        if scenes:
            told.append(f"{count(len(scenes), 'scene')} {word}")
    if found.new_characters:
        told.append(count(len(found.new_characters), "new character"))
    touched = f"; {count(len(found.days), 'day')} of the schedule touched" if found.days else ""
    return f"{', '.join(told) or 'Only characters without a scene differ'}{touched}."


def _scene(each: SceneChange, day_names: Mapping[str, str]) -> ChangedSceneRow:
    people = tuple(
        ChangedPersonRow(
            character=who.character,
            name=who.name,
            spoken_before=who.spoken_before,
            spoken=who.spoken,
            sung_before=who.sung_before,
            sung=who.sung,
            sentence=who.sentence,
        )
        for who in each.people
    )
    was = f", which was {each.number_before}," if "renumbered" in each.kinds and each.number_before else ""
    does = " and ".join({"omitted": "is taken out"}.get(kind, f"is {kind}") for kind in each.kinds)
    details = [*(who.sentence for who in people), *each.told]
    on = f" (on {several([day_names.get(day, day) for day in each.days])})" if each.days else ""
    told = f": {'; '.join(details)}" if details else ""
    return ChangedSceneRow(
        kinds=each.kinds,
        number=each.number,
        number_before=each.number_before,
        heading=each.heading,
        people=people,
        told=each.told,
        days=each.days,
        sentence=f"Scene {each.number or each.heading}{was} {does}{on}{told}.",
    )


def _day(each: DayCost, names: Mapping[str, str], day_names: Mapping[str, str]) -> DayCostRow:
    newly = tuple(names.get(id, id) for id in each.newly_needed)
    no_more = tuple(names.get(id, id) for id in each.no_more)
    told = []
    if newly:
        told.append(f"{several(newly)} to be wired who had nothing to say")
    if no_more:
        told.append(f"{several(no_more)} not needed any more")
    if each.newly_sung:
        told.append(f"scene {several(each.newly_sung)} to playback now")
    if each.most != each.most_before:
        told.append(f"{each.most} at once in one scene instead of {each.most_before}")
    if each.eighths != each.eighths_before:
        told.append(f"{eighths_text(each.eighths)} pages instead of {eighths_text(each.eighths_before)}")
    name = day_names.get(each.day, each.day)
    return DayCostRow(
        day=each.day,
        name=name,
        newly_needed=newly,
        no_more=no_more,
        most_before=each.most_before,
        most=each.most,
        eighths_before=each.eighths_before,
        eighths=each.eighths,
        newly_sung=each.newly_sung,
        sentence=f"{name[:1].upper()}{name[1:]}: {'; '.join(told)}.",
    )

"""Two spellings made one character, or kept as two, as a person decided."""

from __future__ import annotations

from collections.abc import Iterable

from rollsound.errors import InputError
from rollsound.script.model import Character, Said, ScriptPart
from rollsound.script.names import Offer, key_of, known_names, offers


def offers_of(part: ScriptPart) -> tuple[Offer, ...]:
    """Characters that look like one another, without those that are known to be two."""
    apart = {frozenset((key_of(each.name), key_of(other))) for each in part.characters for other in each.apart}
    said = {each.id: 0 for each in part.characters}
    for scene in part.scenes:
        for each in (*scene.speaks, *scene.sings):
            said[each.character] = said.get(each.character, 0) + max(each.lines, 1)
    return offers([(each.name, said[each.id]) for each in part.characters], apart)


def merged(part: ScriptPart, other: str, keep: str) -> ScriptPart:
    """The part with ``other`` made a spelling of ``keep``, and what both say put together.

    Raises
    ------
    InputError
        when one of them is not there
    """
    gone, kept = _character(part, other), _character(part, keep)
    if gone.id == kept.id:
        return part
    spellings = [each for each in gone.spellings if key_of(each) not in map(key_of, kept.spellings)]
    apart = tuple(each for each in kept.apart if key_of(each) not in map(key_of, gone.spellings))
    also = tuple(dict.fromkeys((*kept.also, *spellings)))
    update = {"also": also, "apart": apart, "performer": kept.performer or gone.performer}
    whole = kept.model_copy(update=update)
    scenes = tuple(
        scene.model_copy(
            update={
                "speaks": _together(scene.speaks, gone.id, kept.id),
                "sings": _together(scene.sings, gone.id, kept.id),
            }
        )
        if gone.id in scene.characters
        else scene
        for scene in part.scenes
    )
    characters = tuple(whole if each.id == kept.id else each for each in part.characters if each.id != gone.id)
    return part.model_copy(update={"characters": characters, "scenes": scenes})


def kept_apart(part: ScriptPart, one: str, other: str) -> ScriptPart:
    """The part with two characters that look alike and are two, so that nobody asks again.

    Raises
    ------
    InputError
        when one of them is not there
    """
    first, second = _character(part, one), _character(part, other)
    if second.name in first.apart:
        return part
    told = first.model_copy(update={"apart": (*first.apart, second.name)})
    return part.model_copy(
        update={"characters": tuple(told if each.id == first.id else each for each in part.characters)}
    )


def _character(part: ScriptPart, name: str) -> Character:
    ids = known_names(part.characters)
    id = ids.get(key_of(name)) or (name if part.character(name) is not None else "")
    found = part.character(id) if id else None
    if found is None:
        there = ", ".join(each.name for each in part.characters[:10]) or "nobody yet"
        raise InputError(f"no character is called '{name[:40]}'; there are: {there}")
    return found


def _together(said: Iterable[Said], gone: str, kept: str) -> tuple[Said, ...]:
    found: dict[str, Said] = {}
    for each in said:
        id = kept if each.character == gone else each.character
        before = found.get(id)
        if before is None:
            found[id] = each.model_copy(update={"character": id})
            continue
        off = before.off if before.off == each.off else ""
        sums = {"words": before.words + each.words, "lines": before.lines + each.lines, "off": off}
        found[id] = before.model_copy(update=sums)
    return tuple(found.values())

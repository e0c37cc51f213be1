"""A breakdown that came as a sheet, in the plan's form: as a screenplay's own, with what a sheet tells of it."""

from __future__ import annotations

from collections.abc import Iterable

from rollsound.script.breakdown import Breakdown
from rollsound.script.cues import Rules, find_cues, rules_of
from rollsound.script.elements import Trouble
from rollsound.script.headings import read_heading
from rollsound.script.model import Character, Cue, Interior, Said, Scene, ScriptPart
from rollsound.script.names import as_spoken, is_group, key_of, known_names, offers, slug
from rollsound.script.sheet import Sheet, SheetScene, SheetVoice

WRITTEN = "sound"
"""The kind of a cue that somebody wrote and no rule knows."""


def breakdown_of_sheet(sheet: Sheet, known: ScriptPart | None = None) -> Breakdown:
    """Break a sheet down.

    Parameters
    ----------
    known
        what the plan has: its characters keep their ids and spellings, its scenes what the sheet has no column for
    """
    return _Joining(sheet, known or ScriptPart()).done()


class _Joining:
    def __init__(self, sheet: Sheet, known: ScriptPart) -> None:
        self.sheet = sheet
        self.known = known
        self.rules: Rules = rules_of(known.cue_rules)
        self.remarks: list[Trouble] = list(sheet.troubles)
        self.characters = {each.id: each for each in known.characters}
        self.ids = known_names(known.characters)
        self.said: dict[str, int] = {}
        self.spelt: dict[str, int] = {}

    def done(self) -> Breakdown:
        scenes: list[Scene] = []
        taken: set[str] = set()
        for row in self.sheet.scenes:
            scene = self._scene(row, taken)
            taken.add(scene.id)
            scenes.append(scene)
        if not {"speaks", "sings"} & set(self.sheet.used):
            told = "no column tells who speaks or sings; who was known from before stays, tell the column's heading"
            self.remarks.append(Trouble(1, told))
        used = {who for scene in scenes for who in scene.characters}
        bare = {each.id for each in self.characters.values() if each == Character(id=each.id, name=each.name)}
        part = self.known.model_copy(
            update={
                "characters": tuple(
                    each for each in self.characters.values() if each.id in used or each.id not in bare
                ),
                "scenes": tuple(scenes),
            }
        )
        apart = {
            frozenset((key_of(each.name), key_of(other))) for each in self.known.characters for other in each.apart
        }
        counts = [(self.characters[id].name, count) for id, count in self.said.items()]
        return Breakdown(part, offers(counts, apart), tuple(self.remarks), dict(self.spelt))

    def _scene(self, row: SheetScene, taken: set[str]) -> Scene:
        before = self.known.scene(row.number)
        told = read_heading(row.heading)
        base = before if before is not None and before.id not in taken else None
        id = base.id if base is not None else slug(f"scene-{slug(row.number, otherwise='x')}", taken)
        changed: dict[str, object] = {"number": row.number, "omitted": row.omitted or told.omitted}
        interior: Interior = row.interior or told.interior
        cues = self._cues(row)
        written = {
            "heading": row.heading or _heading(row),
            "interior": interior,
            "place": row.place or told.place,
            "time": row.time or told.time,
            "eighths": row.eighths,
            "page": row.page,
            "synopsis": row.synopsis,
            "cues": cues,
            "songs": tuple(slug(song, otherwise="song") for song in row.songs),
            "note": row.note,
        }
        changed |= {name: value for name, value in written.items() if value}
        for name, voices in (("speaks", row.speaks), ("sings", row.sings)):
            if name in self.sheet.used:
                changed[name] = self._voices(voices)
        if "dual" in self.sheet.used:
            changed["dual"] = row.dual
        return (base or Scene(id=id)).model_copy(update=changed)

    def _voices(self, voices: Iterable[SheetVoice]) -> tuple[Said, ...]:
        found: dict[str, Said] = {}
        for voice in voices:
            id = self._id(voice.name)
            words = voice.words + (found[id].words if id in found else 0)
            found[id] = Said(character=id, words=words)
        return tuple(found.values())

    def _id(self, name: str) -> str:
        key = key_of(name)
        if key not in self.ids:
            id = slug(name, self.characters)
            kind = "group" if is_group(name) else "adult"
            self.characters[id] = Character(id=id, name=as_spoken(name), kind=kind)
            self.ids[key] = id
        self.said[self.ids[key]] = self.said.get(self.ids[key], 0) + 1
        self.spelt[name] = self.spelt.get(name, 0) + 1
        return self.ids[key]

    def _cues(self, row: SheetScene) -> tuple[Cue, ...]:
        """What is written under sound stays whole, of the kind that the rules find in it."""
        cues: list[Cue] = []
        for text in row.cues:
            kinds = dict.fromkeys(cue.kind for cue in find_cues([(row.line, text)], self.rules)) or {WRITTEN: None}
            cues += [Cue(kind=kind, text=text, line=row.line) for kind in kinds]
        texts = [(row.line, text) for text in (row.heading, row.synopsis) if text]
        cues += [cue for cue in find_cues(texts, self.rules) if cue.kind not in {each.kind for each in cues}]
        return tuple(cues)


def _heading(row: SheetScene) -> str:
    """The heading that a row's columns make, where it has none of its own."""
    prefix = {"interior": "INT. ", "exterior": "EXT. ", "both": "INT./EXT. "}.get(row.interior, "")
    return (prefix + " - ".join(part.upper() for part in (row.place, row.time) if part)).strip() if row.place else ""

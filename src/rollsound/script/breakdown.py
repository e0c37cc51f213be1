"""A screenplay broken down for sound: who speaks and sings in every scene, how long it runs, what it sounds of."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from rollsound.script.cues import Rules, find_cues, rules_of
from rollsound.script.elements import (
    Action,
    Centred,
    Dialogue,
    Element,
    Lyric,
    Parenthetical,
    SceneHeading,
    Script,
    Section,
    Synopsis,
    Trouble,
    plain,
)
from rollsound.script.elements import Character as Name
from rollsound.script.headings import read_heading
from rollsound.script.lengths import PageCounter, eighths
from rollsound.script.model import Character, Cue, Off, Said, Scene, ScriptPart, plain_number
from rollsound.script.names import Offer, as_spoken, is_group, key_of, known_names, offers, several, slug

_WORD = re.compile(r"[^\W_]+(?:['’\-.][^\W_]+)*")
_CONTINUED = re.compile(r"cont(?:'|’)?d\.?|continued|cont\.", re.IGNORECASE)
SUNG_UNNAMED = "sung"
"""The kind of a cue that stands where something is sung and nobody is named."""


@dataclass(frozen=True)
class Breakdown:
    """A script in the plan's form; what looks alike, and what was not as it should be."""

    part: ScriptPart
    offers: tuple[Offer, ...] = ()
    remarks: tuple[Trouble, ...] = ()
    speeches: Mapping[str, int] = field(default_factory=dict)
    """By spelling as the script has it, how often it begins to speak or sing."""


@dataclass
class _Share:
    words: int = 0
    lines: int = 0
    offs: set[Off] = field(default_factory=set)

    def said(self, character: str) -> Said:
        off = next(iter(self.offs)) if len(self.offs) == 1 else ""
        return Said(character=character, words=self.words, lines=self.lines, off=off)


@dataclass
class _Open:
    """A scene while it goes by."""

    heading: SceneHeading | None
    page: int
    lines: int = 0
    speaks: dict[str, _Share] = field(default_factory=dict)
    sings: dict[str, _Share] = field(default_factory=dict)
    dual: bool = False
    shown: list[tuple[int, str]] = field(default_factory=list)
    synopsis: list[str] = field(default_factory=list)
    unnamed: list[Cue] = field(default_factory=list)


def breakdown(script: Script, known: ScriptPart | None = None) -> Breakdown:
    """Break a screenplay down.

    Parameters
    ----------
    known
        what the plan has: its characters keep their ids and spellings, its scenes their notes and songs, and its rules
        find the cues
    """
    return _Breaking(script, known or ScriptPart()).done()


def words_in(text: str) -> int:
    """Words of a text, marks of emphasis not counted."""
    return len(_WORD.findall(plain(text)))


class _Breaking:
    def __init__(self, script: Script, known: ScriptPart) -> None:
        self.script = script
        self.known = known
        self.before = {plain_number(each.number): each for each in reversed(known.scenes) if each.number}
        self.rules: Rules = rules_of(known.cue_rules)
        self.remarks = list(script.troubles)
        self.characters: dict[str, Character] = {each.id: each for each in known.characters}
        self.ids = known_names(known.characters)
        self.names = set(self.ids) | {
            key_of(each.name) for each in script.elements if isinstance(each, Name) and not several(each.name, {""})
        }
        self.spelt: dict[str, tuple[str, int]] = {}
        self.scenes: list[Scene] = []
        self.numbers: dict[str, int] = {}
        self.time = ""
        self.speakers: tuple[str, ...] = ()
        self.off: Off = ""
        self.singing_on = False
        self.began = False
        self.of_section = False
        """Whether a section was begun since the last heading: a synopsis tells of it then, not of the scene before."""

    def done(self) -> Breakdown:
        pages = PageCounter()
        scene = _Open(None, 1)
        for element in self.script.elements:
            if isinstance(element, SceneHeading):
                self._close(scene)
                scene = _Open(element, pages.page)
                self.of_section = False
            scene.lines += pages.take(element)
            self._take(scene, element)
        self._close(scene)
        self._say_what_is_missing()
        used = {said.character for each in self.scenes for said in (*each.speaks, *each.sings)}
        kept = [each for each in self.characters.values() if each.id in used or _has_more(each)]
        counts = dict(self.spelt.values())
        part = ScriptPart(
            file=self.known.file,
            draft=self.script.titled("draft date") or self.script.titled("revision") or self.script.titled("date"),
            characters=tuple(kept),
            scenes=tuple(self._numbered()),
            cue_rules=self.known.cue_rules,
            note=self.known.note,
        )
        told = tuple(sorted(self.remarks, key=lambda each: each.line))
        return Breakdown(part, self._offers(), told, counts)

    def _take(self, scene: _Open, element: Element) -> None:
        if isinstance(element, Name):
            self.speakers = self._who(element.name)
            self.off = _off(element.extension)
            self.began = True
            scene.dual |= element.dual or len(self.speakers) > 1
            told = _CONTINUED.sub("", element.extension).strip(" ,")
            if told:
                scene.shown.append((element.line, f"({told})"))
        elif isinstance(element, Dialogue):
            self._said(scene.speaks, words_in(element.text), int(self.began))
            self.began = False
        elif isinstance(element, Lyric):
            self._sung(scene, element)
        elif isinstance(element, Parenthetical):
            scene.shown.append((element.line, element.text))
        else:
            self.speakers = ()
            if isinstance(element, Action | Centred | SceneHeading):
                scene.shown.append((element.line, plain(element.text)))
            elif isinstance(element, Section):
                self.of_section = True
            elif isinstance(element, Synopsis) and scene.heading is not None and not self.of_section:
                scene.synopsis.append(element.text)

    def _said(self, shares: dict[str, _Share], words: int, lines: int) -> None:
        for who in self.speakers:
            share = shares.setdefault(who, _Share())
            share.words += words
            share.lines += lines
            share.offs.add(self.off)

    def _sung(self, scene: _Open, lyric: Lyric) -> None:
        lines = [line for line in lyric.text.split("\n") if line.strip()]
        if self.speakers:
            self._said(scene.sings, words_in(lyric.text), len(lines))
        else:
            scene.unnamed.append(Cue(kind=SUNG_UNNAMED, text=(lines or [""])[0][:80], line=lyric.line))
            told = "is sung, and nobody is named; write who sings above it"
            self.remarks.append(Trouble(lyric.line, told))

    def _who(self, name: str) -> tuple[str, ...]:
        """Ids of who stands in a line of a name, made where the name is new."""
        both = several(name, self.names)
        return tuple(dict.fromkeys(self._id(each) for each in (both or (name,))))

    def _id(self, name: str) -> str:
        key = key_of(name)
        spelling, said = self.spelt.get(key, (name, 0))
        self.spelt[key] = (spelling, said + 1)
        if key not in self.ids:
            id = slug(name, self.characters)
            kind = "group" if is_group(name) else "adult"
            self.characters[id] = Character(id=id, name=as_spoken(name), kind=kind)
            self.ids[key] = id
        return self.ids[key]

    def _close(self, open_: _Open) -> None:
        self.speakers = ()
        heading = open_.heading
        if heading is None and not (open_.speaks or open_.sings):
            return
        told = read_heading(heading.text if heading else "", self.time)
        self.time = told.time or self.time
        number = heading.number.rstrip(".") if heading else ""
        before = self.before.get(plain_number(number))
        if number and plain_number(number) in self.numbers:
            first = self.numbers[plain_number(number)]
            self.remarks.append(
                Trouble(
                    heading.line if heading else 0,
                    f"scene {number} is there already, in line {first}; number one of them otherwise",
                )
            )
            before = None
        elif number and heading:
            self.numbers[plain_number(number)] = heading.line
        ids = {each.id for each in self.scenes}
        base = f"scene-{slug(number, otherwise='x')}" if number else "scene-opening" if heading is None else ""
        id = before.id if before is not None and before.id not in ids else slug(base, ids) if base else ""
        self.scenes.append(
            Scene(
                id=id or slug(f"scene-at-{heading.line if heading else 1}", ids),
                number=number,
                heading=heading.text if heading else "",
                interior=told.interior,
                place=told.place,
                time=told.time,
                eighths=0 if told.omitted else eighths(open_.lines),
                page=open_.page,
                synopsis=" ".join(open_.synopsis) or (before.synopsis if before else ""),
                speaks=tuple(share.said(who) for who, share in open_.speaks.items()),
                sings=tuple(share.said(who) for who, share in open_.sings.items()),
                dual=open_.dual,
                omitted=told.omitted,
                cues=tuple(sorted((*find_cues(open_.shown, self.rules), *open_.unnamed), key=lambda cue: cue.line)),
                songs=before.songs if before else (),
                note=before.note if before else "",
            )
        )

    def _numbered(self) -> list[Scene]:
        """The scenes; where not one has a number they are counted, as the slate needs one."""
        if any(each.number for each in self.scenes):
            return self.scenes
        numbered = []
        for n, scene in enumerate(self.scenes, 1):
            before = self.before.get(str(n))
            same = before is not None and before.heading == scene.heading
            kept = {"note": before.note, "songs": before.songs} if before is not None and same else {}
            numbered.append(scene.model_copy(update={"id": f"scene-{n}", "number": str(n), **kept}))
        return numbered

    def _say_what_is_missing(self) -> None:
        if not self.scenes:
            self.remarks.append(Trouble(0, "there is no scene in it; a scene's heading begins with INT. or EXT."))
            return
        without = [each for each in self.scenes if not each.number]
        if len(without) == len(self.scenes):
            told = "no scene has a number; they were counted from 1, and may be numbered otherwise later"
            self.remarks.append(Trouble(0, told))
        elif without:
            lines = ", ".join(each.heading or "the opening" for each in without[:4])
            more = f" and {len(without) - 4} more" if len(without) > 4 else ""
            self.remarks.append(
                Trouble(0, f"these scenes have no number: {lines}{more}; write one as #12A# behind the heading")
            )

    def _offers(self) -> tuple[Offer, ...]:
        apart = {
            frozenset((key_of(each.name), key_of(other))) for each in self.known.characters for other in each.apart
        }
        by_id: dict[str, tuple[str, int]] = {}
        for key, (name, said) in self.spelt.items():
            id = self.ids[key]
            first, before = by_id.get(id, (name, 0))
            by_id[id] = (first, before + said)
        return offers([(self.characters[id].name, said) for id, (_, said) in by_id.items()], apart)


def _off(extension: str) -> Off:
    plain = extension.replace(".", "").replace(" ", "").casefold()
    if "vo" in plain.split(",") or "voiceover" in plain:
        return "voice over"
    return "off screen" if {"os", "oc"} & set(plain.split(",")) or "offscreen" in plain else ""


def _has_more(character: Character) -> bool:
    """Whether somebody wrote more of a character than a script tells."""
    plain = Character(id=character.id, name=character.name)
    return character != plain

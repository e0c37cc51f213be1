"""The script in the plan: its characters, its scenes with who speaks and sings, and the rules that find sound cues."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import Field

from rollsound.written import Id, Part

CharacterKind = Literal["adult", "child", "stunt double", "animal", "group", "voice only"]
Interior = Literal["interior", "exterior", "both", ""]
Off = Literal["", "off screen", "voice over"]
Words = Annotated[int, Field(ge=0)]


class Character(Part):
    """Somebody whom the script lets speak or sing."""

    id: Id
    name: str = Field(min_length=1)
    also: tuple[str, ...] = Field(default=(), description="other spellings that are this character")
    apart: tuple[str, ...] = Field(default=(), description="names that look alike and are somebody else")
    performer: str = ""
    kind: CharacterKind = "adult"
    principal: bool = False
    note: str = ""

    @property
    def spellings(self) -> tuple[str, ...]:
        """Every way it is spelt."""
        return (self.name, *self.also)


class Said(Part):
    """What one character says, or sings, in one scene."""

    character: str = Field(description="id of the character")
    words: Words = 0
    lines: Words = Field(default=0, description="speeches; lines of the song for singers")
    off: Off = Field(default="", description="where all of it is off screen, or a voice over that is not recorded here")


class Cue(Part):
    """Something that sounds, or wants the mixer's thought: a telephone, rain, playback."""

    kind: str = Field(min_length=1)
    text: str = Field(default="", description="the words that tell of it")
    line: int = Field(default=0, ge=0, description="line of the script's file; 0 where there is none")


class Scene(Part):
    """One scene."""

    id: Id
    number: str = Field(default="", description="as on the slate")
    heading: str = ""
    interior: Interior = ""
    place: str = ""
    time: str = Field(default="", description="day, night, dusk …")
    eighths: int = Field(default=0, ge=0, description="its length in eighths of a page; a page is about a minute")
    page: int = Field(default=0, ge=0)
    synopsis: str = ""
    speaks: tuple[Said, ...] = ()
    sings: tuple[Said, ...] = ()
    dual: bool = Field(default=False, description="whether two speak at once")
    omitted: bool = Field(default=False, description="whether the number stands for a scene that was taken out")
    cues: tuple[Cue, ...] = ()
    songs: tuple[str, ...] = Field(default=(), description="ids of the songs")
    note: str = ""

    @property
    def name(self) -> str:
        """What people call it."""
        return f"scene {self.number}" if self.number else self.heading or self.id

    @property
    def minutes(self) -> float:
        """How long it may run: a page is about a minute."""
        return self.eighths / 8

    @property
    def sung(self) -> bool:
        """Whether somebody sings, or a song is named; a cue ``sung`` stands where the script names nobody."""
        return bool(self.sings or self.songs or any(cue.kind == "sung" for cue in self.cues))

    @property
    def characters(self) -> tuple[str, ...]:
        """Ids of all who speak or sing, speakers first."""
        return tuple(dict.fromkeys(each.character for each in (*self.speaks, *self.sings)))

    @property
    def words(self) -> int:
        """All words spoken and sung."""
        return sum(each.words for each in (*self.speaks, *self.sings))


class CueRule(Part):
    """Words that tell of a cue.

    A rule of a kind that the built-in table has stands in its place; one without words switches it off. A word that
    ends in ``*`` is found with every ending.
    """

    kind: str = Field(min_length=1)
    words: tuple[str, ...] = ()
    note: str = ""


class ScriptPart(Part):
    """The script as it was last read."""

    file: str = Field(default="", description="the script's text, from the show's folder")
    draft: str = Field(default="", description="which draft or revision it is, as its title page tells")
    characters: tuple[Character, ...] = ()
    scenes: tuple[Scene, ...] = ()
    cue_rules: tuple[CueRule, ...] = ()
    note: str = ""

    def character(self, id: str) -> Character | None:
        """The character of an id."""
        return next((each for each in self.characters if each.id == id), None)

    def scene(self, number: str) -> Scene | None:
        """The scene of a number, as it is written on the slate."""
        wanted = plain_number(number)
        return next((each for each in self.scenes if wanted and plain_number(each.number) == wanted), None)

    def names_of(self, ids: Iterable[str]) -> tuple[str, ...]:
        """Names of characters by their ids; an id that nobody has stands for itself."""
        names = {each.id: each.name for each in self.characters}
        return tuple(names.get(id, id) for id in ids)


def plain_number(number: str) -> str:
    """A scene's number to compare by: 28a is 28A, and a full stop at its end is none of it."""
    return "".join(number.split()).strip(".").casefold()

"""What the pack plan answers with: who wears what, scene by scene; every re-rig; what was given up, and what is proven.

Shown on a screen, written as JSON, printed as a track sheet: always these objects.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class CoverRow(_Result):
    """One voice in one scene, and what covers it."""

    character: str = Field(description="id")
    name: str
    words: int
    lines: int
    sings: bool
    packs: tuple[str, ...] = Field(default=(), description="ids of the packs that it wears")
    pack_names: tuple[str, ...] = ()
    tracks: tuple[int, ...] = Field(default=(), description="recorder tracks of these packs; 0 where none is known")
    boom: bool = Field(default=False, description="whether a boom covers it")
    boom_name: str = ""
    boom_track: int = Field(default=0, description="recorder track of that boom; 0 where none is known")

    @property
    def told(self) -> str:
        """``Pack 3``, ``Boom 1``, ``nobody``."""
        return " + ".join(self.pack_names) or (self.boom_name or "boom" if self.boom else "nobody")


class RerigRow(_Result):
    """A pack put on somebody in the course of a day."""

    day: str
    scene: str = Field(description="number of the scene before which, or while which, it is done")
    when: Literal["break", "meanwhile", "between"] = Field(
        description="in a break or move; while a scene is shot that its wearer is not in; between two scenes"
    )
    pack: str
    pack_name: str
    from_: str = Field(alias="from", description="who wore it before; empty when nobody did")
    to: str
    sentence: str

    model_config = ConfigDict(frozen=True, populate_by_name=True, serialize_by_alias=True)


class SceneRow(_Result):
    """One scene of a day."""

    scene: str
    gap: Literal["day", "break", "move", "scene"] = Field(description="what lies before it")
    gap_name: str = ""
    sung: bool = False
    site: str = ""
    covers: tuple[CoverRow, ...]


class PackDayRow(_Result):
    """One day."""

    id: str
    name: str
    scenes: tuple[SceneRow, ...]
    rerigs: tuple[RerigRow, ...] = ()
    packs: int = Field(description="packs that are there")
    worn: int = Field(description="packs that are worn at all")


class LevelRow(_Result):
    """One thing that a plan is judged by, the first before the next."""

    id: str
    words: str
    value: int
    least: int = Field(description="no plan that is as good before it goes below this")
    proved: bool


class GivenRow(_Result):
    """Something that was given up."""

    level: str
    day: str
    scene: str = ""
    characters: tuple[str, ...] = Field(default=(), description="ids")
    sentence: str
    why: str = ""
    cure: str = Field(default="", description="what would mend it; empty where nothing but another schedule does")
    amount: int = Field(default=0, description="what it counts at its level")


class PacksResult(_Result):
    """A pack plan."""

    path: str
    name: str
    day: str = Field(default="", description="id of the day that was asked for; empty for the whole show")
    characters: int
    packs: int
    booms: int
    days: tuple[PackDayRow, ...]
    levels: tuple[LevelRow, ...]
    proved: bool = Field(description="whether no plan is better")
    given: tuple[GivenRow, ...] = ()
    findings: tuple[Finding, ...] = ()
    near: bool = Field(default=False, description="whether the plan that was kept was stayed near to")
    moves: int = Field(default=0, description="looks at several days together")
    stopped: bool = False
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    saved: str = ""
    revision: int | None = None
    files: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """The worst finding."""
        return heaviest(self.findings)

    @property
    def uncovered(self) -> int:
        """Places in which somebody is not covered."""
        return sum(not (cover.packs or cover.boom) for day in self.days for row in day.scenes for cover in row.covers)

"""A desk with the plan of Northbound Ferry, and its visitors, one for all tests of a file."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from callers import caller, joined

from rollsound.log.model import Author
from rollsound.show.folder import Show
from rollsound.show.text import read_text, write_text
from rollsound.web.desk import Desk
from rollsound.web.live import Live
from rollsound.web.security.doors import Doors

NORTHBOUND = Path(__file__).parents[2] / "src" / "rollsound" / "demo" / "northbound.yaml"


@dataclass(frozen=True)
class Visited:
    """A desk and a browser of each role."""

    desk: Desk
    mixer: Any
    crew: Any
    guest: Any

    def part(self, name: str) -> Any:
        """A part of the plan, as it is written."""
        return self.desk.show.document()[name]

    def revision(self) -> int:
        """The plan's revision."""
        return self.desk.show.revision


@contextmanager
def visited(folder: Path, *, empty: bool = False) -> Iterator[Visited]:
    """The demo's plan without its media; without power and kit as well where ``empty``."""
    read = read_text(NORTHBOUND.read_text("utf-8"))
    document = {name: part for name, part in read.document.items() if name != "media"}
    if empty:
        document = {name: document[name] for name in ("version", "show", "people", "sites", "schedule")}
    with Show.new(folder / "ferry", write_text(document, {}), Author("Ines", "ines", "this machine")) as show:
        desk = Desk(show=show, doors=Doors(show.store, port=8060, lan=True), live=Live())
        mixer = caller(desk)
        assert mixer.get(f"/enter?key={desk.doors.keys.make()}").status_code == 303
        yield Visited(desk, mixer, joined(desk, "crew", "Adjoa"), joined(desk, "guest", "Henrike"))

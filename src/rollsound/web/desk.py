"""The desk: what every route works with; one for each served show."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Annotated, Any, Protocol

from fastapi import Depends, HTTPException, Request

from rollsound.web.live import Live
from rollsound.web.security.doors import Doors, Visitor
from rollsound.web.security.rights import Right
from rollsound.web.strip import Strip, strip_of
from rollsound.web.words import w


class ShowDoor(Protocol):
    """What the frame needs of an open show."""

    def plan(self) -> Any:
        """The plan as it stands."""


@dataclass
class Desk:
    """The open show, its doors and its live stream."""

    show: ShowDoor
    doors: Doors
    live: Live
    runner: Any = None
    started: datetime = field(default_factory=lambda: datetime.now(UTC))

    show_id: str = ""
    """Names this show to browsers, so that what waits for one show is never sent to another."""

    def strip(self) -> Strip:
        """What stands at the head of every page."""
        plan = self.show.plan()
        return strip_of(plan, date.today())


def desk_of(request: Request) -> Desk:
    """The desk of this app."""
    desk: Desk = request.app.state.desk
    return desk


def visitor_of(request: Request) -> Visitor:
    """Who asks. The gate lets nobody unknown come this far."""
    visitor: Visitor | None = request.scope["state"]["visitor"]
    if visitor is None:
        raise HTTPException(401, w("doors.unknown"))
    return visitor


TheDesk = Annotated[Desk, Depends(desk_of)]
TheVisitor = Annotated[Visitor, Depends(visitor_of)]


class Needs:
    """A dependency: refuses whoever has not this right."""

    def __init__(self, right: Right) -> None:
        self.right = right

    def __call__(self, visitor: TheVisitor) -> Visitor:
        """The visitor, who has the right."""
        if not visitor.may(self.right):
            raise HTTPException(403, w(f"doors.needs_{self.right.name.lower()}"))
        return visitor


def needs(right: Right) -> Any:
    """For ``dependencies=[needs(Right.PLAN)]`` of a router or a route."""
    return Depends(Needs(right))

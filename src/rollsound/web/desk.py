"""The desk: what every route works with; one for each served show."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import Depends, HTTPException, Request

from rollsound.actions.running import UNDER_WAY
from rollsound.errors import InputError, MistakesError
from rollsound.log.daybook import LogBook, Written
from rollsound.log.model import Author
from rollsound.log.restoring import Restored
from rollsound.web.live import Live
from rollsound.web.security.doors import Doors, Visitor, kept_name
from rollsound.web.security.rights import Right
from rollsound.web.strip import Strip, strip_of
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.show.folder import Saved, Show
    from rollsound.show.model import Plan


@dataclass
class Desk:
    """The open show, its doors, its live stream, and the runner of its long jobs."""

    show: Show
    doors: Doors
    live: Live
    runner: Any = None
    started: datetime = field(default_factory=lambda: datetime.now(UTC))
    show_id: str = ""
    """Names this show to browsers, so that what waits for one show is never sent to another."""

    told_revision: int = 0
    """The newest revision that browsers were told of."""

    told_logged: int = 0
    """The newest entry about the log that browsers were told of."""

    told_roles: dict[str, str] = field(default_factory=dict)
    """The role that each device with a person was told last, by the device's id."""

    def __post_init__(self) -> None:
        self.show_id = self.show_id or kept_name(self.show.store, "web-show-id", 8)
        self.told_revision = self.show.store.head().revision
        self.told_logged = LogBook(self.show.store).last_number()
        self.heed_people()

    def plan(self) -> Plan | None:
        """The plan as it stands; nothing where it has mistakes, as one of another version may."""
        try:
            return self.show.plan()
        except MistakesError:
            return None

    def title(self) -> str:
        """What the show is called, also where its plan cannot be read."""
        plan = self.plan()
        return plan.show.title if plan is not None else self.show.folder.name

    def strip(self) -> Strip:
        """What stands at the head of every page."""
        plan = self.plan()
        return strip_of(plan, date.today()) if plan is not None else Strip(self.title(), "", ())

    def go_back(self, backup: Path, author: Author) -> Restored:
        """Put a backup in the place of the show. Devices that were shut out since stay out; those that joined stay.

        Raises
        ------
        InputError
            while a job is under way, which the backup may know nothing of
        """
        if self.runner is not None and any(row.state in UNDER_WAY for row in self.runner.jobs()):
            raise InputError("a job is under way on this show; stop it or wait for its end, then go back to the backup")
        restored = self.show.store.go_back(backup, author, serving=True)
        self.doors.devices.keep_again()
        self.heed_people()
        self.live.publish("plan", {"revision": restored.revision, "anew": True})
        self.live.publish("log", {"anew": True})
        return restored

    def heed_people(self) -> None:
        """Tell devices of their person's new role, and shut out for good those whose person left the plan.

        For good: a person added later may be given the same id.
        """
        devices = [each for each in self.doors.devices.all() if each.person_id and each.revoked is None]
        for device in devices:
            standing = self.doors.standing(device)
            if standing is None:
                self.shut_out(device.id)
            elif self.told_roles.get(device.id, device.role) != standing.role:
                self.told_roles[device.id] = standing.role
                self.live.tell(device.id, "you", you(standing.role))

    def shut_out(self, device_id: str) -> None:
        """Shut a device out at once: it loses its rights, its open pages their live stream."""
        self.doors.devices.revoke(device_id)
        self.live.end(device_id)
        self.live.publish("devices", {"revoked": device_id})

    def tell_saved(self, saved: Saved) -> None:
        """Tell every browser of a change to the plan; nothing when there was none."""
        if saved.entry is None:
            return
        self.told_revision = max(self.told_revision, saved.revision)
        self.heed_people()
        self.live.publish(
            "plan",
            {
                "revision": saved.revision,
                "person": saved.entry.author.person,
                "sentence": saved.entry.sentence,
                "paths": [change.path for change in saved.changes][:100],
            },
        )

    def tell_logged(self, written: Written) -> None:
        """Tell every browser of an act in the log; nothing when there was none, or it was told before."""
        entry = written.entry
        if entry is None or written.again:
            return
        self.told_logged = max(self.told_logged, entry.number)
        self.live.publish(
            "log",
            {
                "number": entry.number,
                "person": entry.author.person,
                "device": entry.author.device,
                "sentence": entry.sentence,
                "days": sorted({line.day for line in written.lines}),
                "lines": [line.id for line in written.lines][:100],
            },
        )


def you(role: str) -> dict[str, str]:
    """What a device is told of its role."""
    return {"role": role, "sentence": w("frame.role_now", role=w(f"frame.role_{role}"))}


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

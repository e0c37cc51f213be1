"""What the log of the days proves for Ready: each check once, over every day that has lines."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal

from rollsound.actions.daylog import findings_of
from rollsound.finding import Area, Finding
from rollsound.log.daybook import LogBook
from rollsound.review.model import Place, Proof, Told

if TYPE_CHECKING:
    from rollsound.show.folder import Show

_CHECKS: tuple[tuple[str, Area, Literal["takes", "floor"], str], ...] = (
    ("day not in the plan", Area.MEDIA, "takes", "log: every line is of a day of the plan"),
    ("duplicate take", Area.MEDIA, "takes", "log: every take stands there once"),
    ("time code that does not exist", Area.SYNC, "takes", "log: every time code exists at the show's rate"),
    ("time code running backwards", Area.SYNC, "takes", "log: time code runs on from take to take"),
    ("take without an end", Area.MEDIA, "takes", "log: every take has its end"),
    ("pack on two at once", Area.MEDIA, "floor", "log: every pack is on one character"),
    ("wild track promised", Area.MEDIA, "takes", "log: every wild track that was promised is there"),
)
_TO_COME = frozenset({"wild track promised"})
"""What can still be done on the day; everything else is of what was recorded already."""


def log_proven(show: Show) -> Iterator[Proof]:
    """Every check of the log; nothing while it has no lines."""
    days = {f"log#{line.id}": line.day for line in LogBook(show.store).lines()}
    by_check: dict[str, list[Told]] = {kind: [] for kind, _, _, _ in _CHECKS}
    for finding in findings_of(show) if days else ():
        day = next((days[ref.path] for ref in finding.refs if ref.path in days), "")
        by_check[finding.kind].append(Told(finding=finding, place=_place(finding, day)))
    for kind, area, _, what in _CHECKS if days else ():
        yield Proof(area=area, what=what, told=tuple(by_check[kind]), recorded=kind not in _TO_COME)


def _place(finding: Finding, day: str) -> Place:
    page = next(page for kind, _, page, _ in _CHECKS if kind == finding.kind)
    return Place(page=page, name=day, id=day)

"""What a page of the app is: its place in the way around, who may see it, and the figure beside its name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rollsound.web.security.rights import Right

if TYPE_CHECKING:
    from rollsound.web.desk import Desk

Group = Literal["", "before", "day", "after", "show"]


@dataclass(frozen=True)
class Badge:
    """A figure beside a page's name; its weight is also said in words to those who cannot see its colour."""

    count: int
    weight: Literal["stop", "watch", ""] = ""


@dataclass(frozen=True)
class Page:
    """One page. ``name`` is the first part of its words' keys; ``group`` its place in the day's work."""

    name: str
    path: str
    group: Group
    right: Right = Right.READ
    badge: Callable[[Desk], Badge | None] | None = None

    def badge_now(self, desk: Desk) -> Badge | None:
        """The figure to show now."""
        return self.badge(desk) if self.badge is not None else None

"""What a page of the app is: its place in the way around, who may see it, and the figure beside its name."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rollsound.web.security.rights import Right

if TYPE_CHECKING:
    from rollsound.web.desk import Desk

Group = Literal["", "before", "day", "after", "show"]
_log = logging.getLogger("rollsound.web")


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
        """The figure to show now; none where it cannot be told: the page itself tells why, all others stay open."""
        if self.badge is None:
            return None
        try:
            return self.badge(desk)
        except Exception:
            _log.exception("the figure beside the page %s could not be told", self.name)
            return None

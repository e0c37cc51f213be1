"""What each role may do."""

from __future__ import annotations

from enum import IntEnum
from typing import Literal

Role = Literal["mixer", "crew", "guest"]


class Right(IntEnum):
    """Each right holds those before it."""

    READ = 1
    """See everything of the show."""
    FLOOR = 2
    """Write floor, takes and notes."""
    PLAN = 3
    """Change the plan, devices, backups and jobs."""
    MACHINE = 4
    """Name folders of this machine's disks: only from this machine itself."""


ROLE_RIGHTS: dict[str, Right] = {"guest": Right.READ, "crew": Right.FLOOR, "mixer": Right.PLAN}


def right_of(role: str, at_machine: bool) -> Right:
    """The right of a device with this role; a role that nobody knows may read."""
    right = ROLE_RIGHTS.get(role, Right.READ)
    return Right.MACHINE if at_machine and right is Right.PLAN else right

"""Is there a backup of the plan that a day could begin from again?"""

from __future__ import annotations

from datetime import datetime, timedelta

from rollsound.finding import Area, Finding, Weight
from rollsound.quantities import show_time
from rollsound.review.storage import PRACTICE

LONGEST = timedelta(hours=24)
"""Changes older than this without a backup deserve a look. Against a lost drive only a copy elsewhere helps."""


def backup_age(now: datetime, revision: int, backup: tuple[datetime, int] | None, unsaved_since: datetime) -> Finding:
    """Judge the newest backup.

    Parameters
    ----------
    revision
        of the plan as it stands
    backup
        when the newest was made, and the revision it holds; None when there is none
    unsaved_since
        when the first change was made that no backup holds; not looked at when the backup holds all
    """
    numbers = {"revision": float(revision)}
    if backup is not None:
        numbers |= {"backup_revision": float(backup[1]), "backup_age_s": max((now - backup[0]).total_seconds(), 0.0)}
    if backup is not None and backup[1] >= revision:
        what = "The newest backup holds the plan as it stands; it lies beside the show, on the same drive."
        return _finding(Weight.FINE, what, numbers)
    age = max(now - unsaved_since, timedelta(0))
    numbers["unsaved_s"] = age.total_seconds()
    since = show_time(age.total_seconds())
    held = "No backup of the plan was made yet" if backup is None else "The newest backup lacks the last changes"
    what = f"{held}; the oldest change it lacks was made {since} ago."
    if backup is None:
        what = f"{held}; its oldest change was made {since} ago."
    return _finding(Weight.WATCH if age > LONGEST else Weight.FINE, what, numbers)


def _finding(weight: Weight, what: str, numbers: dict[str, float]) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=weight,
        subject="plan",
        kind="backup",
        what=what,
        remedy=""
        if weight is Weight.FINE
        else "Make a backup on the page Settings, and copy the show to another drive.",
        source=PRACTICE,
        numbers=numbers,
    )

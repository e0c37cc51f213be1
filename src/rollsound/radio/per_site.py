"""Carriers held against each site alone: what never sends on one place together does no harm to each other.

A television channel or a strange carrier on the quay says nothing about a transmitter that stays on the deck.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping

from rollsound.radio.asking import asked
from rollsound.radio.carriers.answer import Audit, Hold, Limit
from rollsound.radio.carriers.task import Task
from rollsound.radio.model import RadioPart
from rollsound.radio.scan import ScanLevels

ELSEWHERE = ""
"""Stands for all sites that nothing names: they are alike."""


def site_tasks(
    radio: RadioPart, *, scans: Mapping[str, ScanLevels] | None = None, site_ids: Collection[str] = ()
) -> dict[str, Task]:
    """The question for carriers of every site that anything names, and of one that stands for the others.

    Parameters
    ----------
    site_ids
        ids of the plan's sites
    """
    listed = (radio.transmitters, radio.excluded, radio.scans)
    named = dict.fromkeys(site for rows in listed for each in rows for site in each.sites)
    if not named:
        return {ELSEWHERE: asked(radio, scans=scans).task}
    tasks = {site: asked(radio, sites=[site], scans=scans).task for site in named}
    if not site_ids or any(site not in named for site in site_ids):
        tasks[ELSEWHERE] = asked(radio, sites=[ELSEWHERE], scans=scans).task
    return {site: task for site, task in tasks.items() if task.wanted}


def together(audits: Iterable[Audit]) -> Audit:
    """Several checks as one: of every carrier the smallest margin anywhere, and every relation once."""
    margins: dict[str, int] = {}
    set_by: dict[str, Hold] = {}
    broken: dict[Hold, None] = {}
    unavoidable: dict[Hold, None] = {}
    every = tuple(audits)
    for audit in every:
        for name, margin in audit.margins_hz.items():
            if name not in margins or margin < margins[name]:
                margins[name] = margin
                set_by.pop(name, None)
                if name in audit.set_by:
                    set_by[name] = audit.set_by[name]
        broken.update(dict.fromkeys(audit.broken))
        unavoidable.update(dict.fromkeys(audit.unavoidable))
    worst = tuple(sorted(broken, key=lambda hold: hold.margin_hz))
    # listed are only the worst of every site; what one site alone counts is never told as fewer
    counts: dict[Limit, int] = dict(Counter(hold.limit for hold in worst))
    for audit in every:
        for limit, number in audit.counts.items():
            counts[limit] = max(counts.get(limit, 0), number)
    return Audit(margins, set_by, worst, tuple(sorted(unavoidable, key=lambda hold: hold.margin_hz)), counts)

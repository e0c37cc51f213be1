"""What is said about carriers: the proofs of the radio part, and of a bare request what its audit alone tells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rollsound.actions.radio_read import Asked
from rollsound.actions.radio_words import hold_row, names_of
from rollsound.finding import Area, Finding, Weight
from rollsound.radio.carriers.answer import Audit
from rollsound.radio.carriers.task import Task

MOST_FINDINGS = 40


def tasks_of(asked: Asked) -> tuple[Task, ...]:
    """What is held together: everybody of the sites that were named, or each site alone where none was."""
    if asked.asking is None or asked.sites:
        return (asked.task,)
    from rollsound.radio.per_site import site_tasks

    found = site_tasks(asked.radio, scans=asked.scans, site_ids=tuple(asked.site_names))
    return tuple(found.values()) or (asked.task,)


def audit_of(asked: Asked, tasks: Sequence[Task], carriers_hz: Mapping[str, int]) -> Audit:
    """The check of carriers, the worst of all that is held together."""
    from rollsound.radio.carriers.audit import audit
    from rollsound.radio.per_site import together

    return together([audit(task, carriers_hz) for task in tasks]) if len(tasks) > 1 else audit(tasks[0], carriers_hz)


def findings_of(asked: Asked, audit: Audit, tasks: Sequence[Task] = ()) -> list[Finding]:
    """Every finding about these carriers; how areas are heard is told by ``reach``, and on Ready."""
    if asked.asking is None:
        return list(_of_audit(asked, audit))
    from rollsound.radio.proofs import carriers_of, proofs

    here = {each.id for each in asked.task.wanted} if asked.sites else None
    carriers = carriers_of(asked.radio)
    return list(proofs(asked.radio, asked.asking, audit, carriers, tasks=tasks, reach=False, asked_for=here))


def cautions_of(asked: Asked) -> tuple[str, ...]:
    """What goes along with every answer."""
    from rollsound.facts import cautions

    topics = ["radio-licence"] + (["radio-exposure"] if asked.radio.transmitters else [])
    return tuple(each.text for each in cautions(*topics))


def _of_audit(asked: Asked, audit: Audit) -> Iterator[Finding]:
    names = names_of(asked)
    for hold in audit.broken[:MOST_FINDINGS]:
        row = hold_row(hold, names)
        yield Finding(
            area=Area.RADIO,
            weight=Weight.STOP,
            subject=hold.hit,
            kind=f"carrier-{hold.limit.value}",
            what=row.sentence,
            remedy="Find other frequencies with: rollsound radio plan --mode repair",
            source="the request's own rules",
            numbers={"distance_khz": row.distance_khz, "required_khz": row.required_khz},
        )
    if not audit.broken and audit.margins_hz:
        yield Finding(
            area=Area.RADIO,
            weight=Weight.FINE,
            subject=asked.name,
            kind="carriers",
            what=f"All {len(audit.margins_hz)} carriers keep what is asked of them.",
            source="the request's own rules",
        )

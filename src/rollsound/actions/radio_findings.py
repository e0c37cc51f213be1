"""What is said about carriers: the proofs of the radio part, and of a bare request what its audit alone tells."""

from __future__ import annotations

from collections.abc import Iterator

from rollsound.actions.radio_read import Asked
from rollsound.actions.radio_words import hold_row, names_of
from rollsound.finding import Area, Finding, Weight
from rollsound.radio.carriers.answer import Audit

MOST_FINDINGS = 40


def findings_of(asked: Asked, audit: Audit) -> list[Finding]:
    """Every finding about these carriers; how areas are heard is told by ``reach``, and on Ready."""
    if asked.asking is None:
        return list(_of_audit(asked, audit))
    from rollsound.radio.proofs import proofs

    return list(proofs(asked.radio, asked.asking, audit, asked.carriers_hz, reach=False))


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

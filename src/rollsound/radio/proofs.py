"""What the radio part of the plan can be asked: are the carriers clean, legal and clear, and is everybody heard.

Every check that ran answers, with a fine finding where it holds; where there is nothing to prove it stays silent.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.quantities import count
from rollsound.radio.asking import Asking
from rollsound.radio.carriers.answer import Audit
from rollsound.radio.model import RadioPart

SOURCE = "the plan"
LICENCE = "Check your licence and local rules."


def proofs(
    radio: RadioPart, asking: Asking, audit: Audit | None = None, carriers_hz: Mapping[str, int] | None = None
) -> list[Finding]:
    """Every proof over the radio part, each with at least one finding; ``refs`` are ``plan#`` and a JSON Pointer."""
    result: list[Finding] = []
    for wrong in asking.wrong:
        result.append(
            finding(Weight.STOP, wrong.place, "radio plan", f"{wrong.place} {wrong.sentence}.", at=wrong.path)
        )
    if radio.transmitters:
        found = list(_placed(radio))
        result += found or [
            finding(
                Weight.FINE,
                "carriers",
                "carrier chosen",
                f"Every one of {count(len(radio.transmitters), 'transmitter')} has a carrier.",
            )
        ]
    return result


def finding(
    weight: Weight,
    subject: str,
    kind: str,
    what: str,
    *,
    why: str = "",
    remedy: str = "",
    at: str = "",
    area: Area = Area.RADIO,
    source: str = SOURCE,
    numbers: Mapping[str, float] | None = None,
) -> Finding:
    """One finding of the radio fields."""
    return Finding(
        area=area,
        weight=weight,
        subject=subject,
        kind=kind,
        what=what,
        why=why,
        remedy=remedy,
        source=source,
        numbers=dict(numbers or {}),
        refs=(Ref(path=f"plan#{at}"),) if at else (),
    )


def _placed(radio: RadioPart) -> Iterator[Finding]:
    without = [t for t in radio.transmitters if t.frequency_hz is None]
    if len(without) == len(radio.transmitters):
        yield finding(
            Weight.WATCH,
            "carriers",
            "carrier chosen",
            f"No carrier is chosen yet for {count(len(without), 'transmitter')}.",
            remedy="Find carriers on the page Radio.",
            at="/radio/transmitters",
        )
        return
    for t in without:
        yield finding(
            Weight.STOP if t.priority == 1 else Weight.WATCH,
            t.name,
            "carrier chosen",
            f"{t.name} has no carrier.",
            why="Switched on anywhere, it harms what is planned.",
            remedy="Find one for it on the page Radio, or leave it off.",
            at=f"/radio/transmitters/{t.id}",
        )

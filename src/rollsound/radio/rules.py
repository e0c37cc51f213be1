"""What transmitters ask for when the plan says nothing: rules by kind, as coordinators commonly choose them.

They are practice, not law: 400 kHz between microphones, 100 kHz from products of two and 50 kHz from products of three;
more where a monitor or talkback transmitter, or one of high power, takes part. Any rule of the plan goes before them.
"""

from __future__ import annotations

from rollsound.radio.carriers.task import Guard, Product
from rollsound.radio.model import HIGH_POWER, RadioPart, Rule, Transmitter

SOURCE = "common practice, no source"
STRONG_MW = 100.0
"""From this power on a microphone is treated as a high-power transmitter."""
MICROPHONE = Rule.model_construct(
    id="microphone", spacing_hz=400e3, two_third_hz=100e3, three_third_hz=50e3, two_fifth_hz=0.0, three_fifth_hz=0.0
)
STRONG = Rule.model_construct(
    id="high-power",
    spacing_hz=500e3,
    two_third_hz=150e3,
    three_third_hz=100e3,
    two_fifth_hz=0.0,
    three_fifth_hz=0.0,
    high_power=True,
)
SPACING_ONLY = Rule.model_construct(
    id="spacing-only", spacing_hz=400e3, two_third_hz=0.0, three_third_hz=0.0, two_fifth_hz=0.0, three_fifth_hz=0.0
)
COMMON: dict[str, Rule] = {rule.id: rule for rule in (MICROPHONE, STRONG, SPACING_ONLY)}


def rules(radio: RadioPart) -> dict[str, Rule]:
    """All rules by id: the plan's before the common ones."""
    return COMMON | {rule.id: rule for rule in radio.rules}


def rule_of(transmitter: Transmitter, power_mw: float | None, known: dict[str, Rule]) -> Rule | None:
    """The rule of a transmitter: its own, else the one called as its kind, else that of its strength.

    A strong one takes the plan's first rule of high power, and the common one where there is none. None when its own is
    not there.
    """
    if transmitter.rule:
        return known.get(transmitter.rule)
    by_kind = known.get(transmitter.kind.replace(" ", "-"))
    if by_kind is not None:
        return by_kind
    strong = transmitter.kind in HIGH_POWER or (power_mw is not None and power_mw >= STRONG_MW)
    if not strong:
        return known["microphone"]
    own = (rule for rule in known.values() if rule.high_power and rule is not STRONG)
    return next(own, known["high-power"])


def guard_of(rule: Rule) -> Guard:
    """A rule in whole hertz."""
    return Guard(
        rule.id,
        round(rule.spacing_hz),
        {
            Product.TWO_THIRD: round(rule.two_third_hz),
            Product.THREE_THIRD: round(rule.three_third_hz),
            Product.TWO_FIFTH: round(rule.two_fifth_hz),
            Product.THREE_FIFTH: round(rule.three_fifth_hz),
            Product.THREE_FIFTH_MIXED: round(rule.three_fifth_hz),
        },
    )

"""What a transmitter or receiver is like: what the plan writes at it, else what its kind says, else the usual."""

from __future__ import annotations

from dataclasses import dataclass

from rollsound.radio.model import RadioPart, Receiver, Transmitter
from rollsound.radio.wrong import not_there
from rollsound.written import Band

USUAL_STEP_HZ = 25_000.0
USUAL_WIDTH_HZ = 200_000.0


@dataclass(frozen=True)
class TransmitterMade:
    """What a transmitter is like."""

    tuning_hz: Band | None
    step_hz: float
    width_hz: float
    power_mw: float | None


@dataclass(frozen=True)
class ReceiverMade:
    """What a receiver is like, as far as its raster goes."""

    tuning_hz: Band | None
    step_hz: float


def transmitter_made(radio: RadioPart, t: Transmitter) -> TransmitterMade | str:
    """What it is like; a sentence when it names a kind that is not there."""
    kinds = {kind.id: kind for kind in radio.transmitter_kinds}
    kind = kinds.get(t.model)
    if t.model and kind is None:
        return not_there(t.model, "the kind of transmitter", kinds)
    return TransmitterMade(
        tuning_hz=t.tuning_hz or (kind.tuning_hz if kind else None),
        step_hz=_first(t.step_hz, kind.step_hz if kind else None, USUAL_STEP_HZ),
        width_hz=_first(t.width_hz, kind.width_hz if kind else None, USUAL_WIDTH_HZ),
        power_mw=t.power_mw if t.power_mw is not None else max(kind.powers_mw, default=None) if kind else None,
    )


def receiver_made(radio: RadioPart, r: Receiver) -> ReceiverMade | str:
    """What it is like; a sentence when it names a kind that is not there."""
    kinds = {kind.id: kind for kind in radio.receiver_kinds}
    kind = kinds.get(r.model)
    if r.model and kind is None:
        return not_there(r.model, "the kind of receiver", kinds)
    return ReceiverMade(
        tuning_hz=r.tuning_hz or (kind.tuning_hz if kind else None),
        step_hz=_first(r.step_hz, kind.step_hz if kind else None, USUAL_STEP_HZ),
    )


def _first(*values: float | None) -> float:
    return next(value for value in values if value is not None)

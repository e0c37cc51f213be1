"""What transmitters and receivers are like: what the plan writes, else what their kind says, else the usual.

Kinds come from ``facts/radio_kinds.toml`` and places of wearing from ``facts/radio_body.toml``, the show's own first.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TypeVar

from rollsound.facts import table
from rollsound.facts.rows import notes_of, read_rows, row_of, with_own
from rollsound.radio.model import RadioPart, Receiver, ReceiverKind, Status, Transmitter, TransmitterKind, WornPlace
from rollsound.written import Band, Quantity

_USUAL = "usual figures; the plan names no kind"
_WORN_BY_USE = {"body pack": "belt-back", "boom": "hand", "plant": "free", "monitor": "free", "talkback": "free"}
Value = TypeVar("Value")


@dataclass(frozen=True)
class TransmitterResolved:
    """All of a transmitter that a computation asks for. ``power_mw`` is what it is set to, else its kind's highest."""

    id: str
    kind: str
    tuning_hz: Band | None
    step_hz: float
    width_hz: float
    power_mw: float
    powers_mw: tuple[float, ...]
    gain_dbi: float
    source: str
    status: Status
    power_set: bool
    """Whether the plan says what power it sends with."""


@dataclass(frozen=True)
class ReceiverResolved:
    """All of a receiver that a computation asks for."""

    id: str
    kind: str
    tuning_hz: Band | None
    step_hz: float
    width_hz: float
    noise_figure_db: float
    needed_db: float
    intercept_dbm: float
    selectivity_db: float
    branches: int
    source: str
    status: Status


@functools.cache
def _transmitters() -> dict[str, TransmitterKind]:
    return read_rows("radio_kinds", "transmitter", TransmitterKind)


@functools.cache
def _receivers() -> dict[str, ReceiverKind]:
    return read_rows("radio_kinds", "receiver", ReceiverKind)


@functools.cache
def _worn() -> dict[str, WornPlace]:
    return read_rows("radio_body", "worn", WornPlace)


@functools.cache
def usual_powers_mw() -> tuple[float, ...]:
    """Powers that transmitters of this trade commonly have."""
    milliwatts = Quantity("mW", least=0)
    return tuple(float(milliwatts._read(text)) for text in table("radio_kinds")["about"]["usual_powers"])


def transmitter_kinds(radio: RadioPart | None = None) -> dict[str, TransmitterKind]:
    """All kinds of transmitters by id, the show's first."""
    return with_own(_transmitters(), radio.transmitter_kinds if radio else ())


def receiver_kinds(radio: RadioPart | None = None) -> dict[str, ReceiverKind]:
    """All kinds of receivers by id, the show's first."""
    return with_own(_receivers(), radio.receiver_kinds if radio else ())


def worn_places(radio: RadioPart | None = None) -> dict[str, WornPlace]:
    """All places of wearing by id, the show's first."""
    return with_own(_worn(), radio.worn_places if radio else ())


def transmitter(radio: RadioPart | None, t: Transmitter) -> TransmitterResolved:
    """A transmitter with all its figures.

    Raises
    ------
    InputError
        when it names a kind that is not there
    """
    kind = row_of(transmitter_kinds(radio), t.model, "kind of transmitter") if t.model else None
    powers = tuple(sorted(kind.powers_mw if kind and kind.powers_mw else usual_powers_mw()))
    if t.power_mw is not None:
        power = t.power_mw
    else:
        # Without a kind the usual powers reach up to what few transmitters have, and few licences allow.
        power = powers[-1] if kind else 50.0
    return TransmitterResolved(
        id=t.id,
        kind=kind.id if kind else "",
        tuning_hz=t.tuning_hz or (kind.tuning_hz if kind else None),
        step_hz=_first(t.step_hz, kind.step_hz if kind else None, _default(TransmitterKind, "step_hz")),
        width_hz=_first(t.width_hz, kind.width_hz if kind else None, _default(TransmitterKind, "width_hz")),
        power_mw=power,
        powers_mw=powers,
        gain_dbi=kind.gain_dbi if kind else 0.0,
        source=kind.source if kind else _USUAL,
        status=kind.status if kind else "from memory",
        power_set=t.power_mw is not None,
    )


def receiver(radio: RadioPart | None, r: Receiver) -> ReceiverResolved:
    """A receiver with all its figures.

    Raises
    ------
    InputError
        when it names a kind that is not there
    """
    kind = (
        row_of(receiver_kinds(radio), r.model, "kind of receiver")
        if r.model
        else ReceiverKind(id="usual", source=_USUAL, status="from memory")
    )
    return ReceiverResolved(
        id=r.id,
        kind=kind.id if r.model else "",
        tuning_hz=r.tuning_hz or kind.tuning_hz,
        step_hz=_first(r.step_hz, kind.step_hz),
        width_hz=kind.width_hz,
        noise_figure_db=kind.noise_figure_db,
        needed_db=kind.needed_db,
        intercept_dbm=kind.intercept_dbm,
        selectivity_db=kind.selectivity_db,
        branches=kind.branches,
        source=kind.source,
        status=kind.status,
    )


def worn(radio: RadioPart | None, t: Transmitter) -> WornPlace:
    """Where a transmitter is worn: what the plan says, else what is usual for its use.

    Raises
    ------
    InputError
        when it names a place that is not there
    """
    return row_of(worn_places(radio), t.worn or _WORN_BY_USE[t.kind], "place where a transmitter is worn")


def _first(*values: float | None) -> float:
    return next(float(value) for value in values if value is not None)


def _default(form: type[TransmitterKind], name: str) -> float:
    return float(form.model_fields[name].default)


def notes() -> tuple[str, ...]:
    """What nobody has verified, of kinds and of bodies."""
    return notes_of("radio_kinds") + notes_of("radio_body")

"""What leaves a transmitter: its power, its antenna, what the body takes, and how it is turned."""

from __future__ import annotations

from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.radio import kinds
from rollsound.radio.model import Ground, RadioPart, Transmitter
from rollsound.radio.polarisation import Polarisation, between_db
from rollsound.radio.reach.answer import Term
from rollsound.radio.reach.feeder import Feeder
from rollsound.radio.units import dbm_of_mw

NOBODY = "free"
_UPRIGHT: Polarisation = "vertical"
"""How a transmitter's antenna is taken to hang: a whip hangs down from the body."""


@dataclass(frozen=True)
class Sender:
    """A transmitter on a ground. ``terms`` are power, antenna and body, from dBm on."""

    id: str
    name: str
    freq_hz: float
    power_mw: float
    powers_mw: tuple[float, ...]
    worn: bool
    """On the body, so that what a walk test says of bodies holds for it; a pole or a hand is another matter."""
    body_db: float
    """What body or hand takes, 0 dB when nobody wears or holds it."""
    terms: tuple[Term, ...]
    notes: tuple[str, ...]
    draws_w: dict[float, float]
    """Watts at each power in mW, as far as its kind says."""
    battery_wh: float | None

    def towards(self, feeder: Feeder) -> Term:
        """What an antenna that is turned otherwise loses."""
        turned: Polarisation = "circular" if feeder.kind.circular else feeder.placed.polarisation
        note = "fades from many sides make the loss of crossed antennas smaller" if turned == "horizontal" else ""
        name = f"polarisation: sent upright, received {turned}"
        source = "−20 log cos ψ; circular 3 dB; crossed 20 dB at most"
        return Term("polarisation", name, 0.0 - between_db(_UPRIGHT, turned), source, "computed", note)


def sender(radio: RadioPart, ground: Ground, transmitter: Transmitter) -> Sender:
    """A transmitter with all its figures.

    Raises
    ------
    InputError
        when its kind or place of wearing is unknown, or it sends with no power or on no frequency
    """
    made = kinds.transmitter(radio, transmitter)
    freq_hz = float(transmitter.frequency_hz or ground.frequency_hz)
    if not made.power_mw > 0:
        raise InputError(f"{transmitter.name} sends with {made.power_mw:g} mW; give it a power, such as 10 mW")
    if not 1e6 <= freq_hz <= 100e9:
        raise InputError(
            f"{transmitter.name} sends at {freq_hz / 1e6:g} MHz, which is no frequency of a radio microphone; correct "
            "its frequency, or the ground's"
        )
    kind = kinds.transmitter_kinds(radio)[made.kind] if made.kind else None
    place = kinds.worn(radio, transmitter)
    worn = place.id != NOBODY and transmitter.kind == "body pack"
    if worn and ground.body_loss_db is not None:
        body = Term(
            "body", f"body: {place.name}", -ground.body_loss_db, "walk test of this ground, or as written", "own"
        )
    else:
        note = f"give or take {place.spread_db:g} dB: typical, measure yours" if place.spread_db else ""
        body = Term("body", f"body: {place.name}", 0.0 - place.loss_db, place.source, place.status, note)
    power = Term(
        "power",
        f"transmit power, {made.power_mw:g} mW",
        dbm_of_mw(made.power_mw),
        "as set in the plan" if made.power_set else made.source,
        "own" if made.power_set else made.status,
    )
    antenna = Term("sent", "antenna of the transmitter", made.gain_dbi, made.source, made.status)
    notes = (
        [] if transmitter.frequency_hz else [f"{transmitter.name} has no carrier yet: {freq_hz / 1e6:g} MHz is taken."]
    )
    if not made.power_set:
        notes.append(f"{transmitter.name} has no power yet: {made.power_mw:g} mW is taken.")
    return Sender(
        id=transmitter.id,
        name=transmitter.name,
        freq_hz=freq_hz,
        power_mw=float(made.power_mw),
        powers_mw=tuple(float(power) for power in made.powers_mw if power > 0) or (float(made.power_mw),),
        worn=worn,
        body_db=0.0 - float(body.db),
        terms=(power, antenna, body),
        notes=tuple(notes),
        draws_w=dict(zip(kind.powers_mw, kind.draws_w, strict=False)) if kind else {},
        battery_wh=kind.battery_wh if kind else None,
    )

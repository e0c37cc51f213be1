"""From an antenna to the receiver: amplifier, cable, connectors, splitter, and combining with others, in dB."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.radio import antennas, cables, cascade
from rollsound.radio.cascade import Stage, passive
from rollsound.radio.model import AntennaKind, AntennaPlaced, RadioPart
from rollsound.radio.reach.answer import Term

_MOST_DB = 300.0


@dataclass(frozen=True)
class Feeder:
    """All between one antenna and the receiver's input."""

    placed: AntennaPlaced
    kind: AntennaKind
    stages: tuple[Stage, ...]
    """From the antenna to where it is combined with others."""
    terms: tuple[Term, ...]
    combined: int
    """With how many antennas, itself counted, it shares one branch."""

    @property
    def gain_db(self) -> float:
        """Of the stages, without combining."""
        return cascade.gain_db(self.stages)


def feeder(radio: RadioPart, placed: AntennaPlaced, freq_hz: float, combined: int = 1) -> Feeder:
    """What an antenna's signal goes through.

    Raises
    ------
    InputError
        when the antenna or the cable is of a kind that is not known
    """
    about = table("radio_cables")["about"]
    cable = cables.cable(radio, placed.cable)
    pairs: list[tuple[Stage, Term]] = []
    loss = cables.loss_db(cable, placed.cable_length_m, freq_hz)
    if loss > _MOST_DB or abs(placed.amplifier_gain_db) > _MOST_DB:
        raise InputError(
            f"antenna '{placed.id}' has {placed.cable_length_m:g} m of cable, which takes {loss:.0f} dB, and an "
            f"amplifier of {placed.amplifier_gain_db:g} dB; no more than {_MOST_DB:g} dB can be reckoned: correct them"
        )
    if placed.amplifier_gain_db:
        gain, noise = float(placed.amplifier_gain_db), float(placed.amplifier_noise_db)
        stage = Stage("amplifier", gain, noise, float(placed.amplifier_intercept_dbm))
        pairs.append((stage, Term("amplifier", "amplifier at the antenna", gain, "as written at the antenna", "own")))
    name = f"cable, {placed.cable_length_m:g} m of {cable.name or cable.id}"
    pairs.append(_loss("cable", name, loss, cable.source, cable.status))
    if placed.connectors:
        loss = cables.connectors_db(placed.connectors, freq_hz)
        name = f"{placed.connectors} connectors"
        pairs.append(_loss("connectors", name, loss, about["connector_source"], "from memory"))
    if placed.split_ways > 1:
        loss = cables.splitter_db(placed.split_ways)
        name = f"splitter, {placed.split_ways} ways"
        pairs.append(_loss("splitter", name, loss, about["splitter_source"], "from memory"))
    terms = [term for _, term in pairs]
    if combined > 1:
        name = f"combined with {combined - 1} more on one branch"
        terms.append(Term("combiner", name, -10 * math.log10(combined), "10 log N", "computed"))
    kind = antennas.antenna(radio, placed)
    return Feeder(placed, kind, tuple(stage for stage, _ in pairs), tuple(terms), combined)


def _loss(id: str, name: str, loss_db: float, source: str, status: str) -> tuple[Stage, Term]:
    return passive(id, loss_db), Term(id, name, -loss_db, source, status)

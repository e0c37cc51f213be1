"""Proofs of clocks and formats: one master, every digital hop locked or resampled, rates alike, no bits lost unseen."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeAlias

from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.kit.model import NETWORK
from rollsound.rig.built import BuiltPiece, Edge, Rig, Spot, Way
from rollsound.rig.clocks import (
    ClockCones,
    DigitalHop,
    Following,
    chosen,
    clocks,
    digital_hops,
    has_clock,
    network_masters,
)
from rollsound.rig.combining import Combination, combinations, how_many, in_words
from rollsound.rig.links import seconds_per_slip
from rollsound.rig.reaching import Reaching

MOST_COMBINATIONS = 4096
"""Of the changeovers that one clock depends on; beyond, the rest is said not to be covered."""
_Answers: TypeAlias = Iterator[tuple[tuple[str, ...], Finding]]
_Question: TypeAlias = Callable[[Combination, Mapping[str, Following], str], _Answers]
_USUAL_PPM = 10.0
"""Of a professional clock whose error is not written (Digital Interface Handbook, ch. 6)."""
SLIPS = "Digital Interface Handbook, ch. 6: clocks may differ by 10 ppm each; slips click"


def clocking(reaching: Reaching) -> Iterator[Finding]:
    """Everything that is wrong with clocks in some combination, each thing told once with the first.

    Each piece and each hop is asked about over the changeovers that its clocks depend on, and over no other: so many
    booms that are changed over each for itself are no more combinations than one.
    """
    rig = reaching.rig
    told: set[tuple[str, ...]] = set()
    beyond = 0
    for own, questions in _questions(rig).items():
        changeovers = [each for each in rig.part.changeovers if each.id in own]
        for number, combination in enumerate(combinations(rig.part.changeovers, only=own)):
            if number >= MOST_COMBINATIONS:
                beyond = max(beyond, how_many(changeovers))
                break
            following = clocks(rig, combination)
            words = in_words(combination, changeovers)
            for question in questions:
                for key, finding in question(combination, following, words):
                    if key not in told:
                        told.add(key)
                        yield finding
    if beyond:
        yield _not_covered(beyond)


def _questions(rig: Rig) -> Mapping[frozenset[str], list[_Question]]:
    """By the changeovers that matter to them, all that is asked about clocks."""
    cones = ClockCones(rig)
    found: dict[frozenset[str], list[_Question]] = {}
    pieces = {id: cones.of_piece(id) for id, piece in rig.pieces.items() if has_clock(piece)}
    for id, own in pieces.items():
        if not rig.pieces[id].carries_network:
            found.setdefault(cones.of_network(id), []).append(_of_masters(rig, id))
        found.setdefault(own, []).append(_of_piece(rig, id))
    for hop, edge in digital_hops(rig).items():
        own = pieces.get(hop[2], frozenset()) | pieces.get(hop[4], frozenset())
        parts = (edge.condition, rig.pieces[hop[2]].condition, rig.pieces[hop[4]].condition)
        own |= {each for condition in parts for each, _ in condition}
        found.setdefault(own, []).append(_of_hop(rig, hop, edge))
    return found


def _of_masters(rig: Rig, id: str) -> _Question:
    return lambda combination, _following, words: _masters(rig, id, combination, words)


def _of_piece(rig: Rig, id: str) -> _Question:
    def ask(combination: Combination, following: Mapping[str, Following], words: str) -> _Answers:
        if id in following:
            yield from _follows(rig, following[id], combination, words)

    return ask


def _of_hop(rig: Rig, hop: DigitalHop, edge: Edge) -> _Question:
    way, link, sender, out_port, receiver, in_port = hop

    def ask(combination: Combination, following: Mapping[str, Following], words: str) -> _Answers:
        if rig.edge_holds(edge, combination):
            yield from _hop(rig, following, (way, link), (sender, out_port), (receiver, in_port), words)

    return ask


def _not_covered(there_are: int) -> Finding:
    return about_plan(
        Area.SYNC,
        Weight.WATCH,
        "the rig",
        "clock",
        f"Clocks were looked at in {MOST_COMBINATIONS:,} of the {there_are:,} combinations that they depend on.",
        why="What was not looked at is not proven.",
        remedy="Take positions that change no clock out of its changeovers, and prove again.",
        at=("rig", "changeovers"),
        numbers={"looked_at": float(MOST_COMBINATIONS), "combinations": float(there_are)},
    )


def rates_able(reaching: Reaching) -> Iterator[Finding]:
    """Pieces, and ports in use, that are to run at a sample rate that they cannot."""
    rig = reaching.rig
    used = {(spot.piece, spot.port) for spot in rig.spots}
    for piece in rig.pieces.values():
        named = [("", piece.kind.rates_hz)]
        named += [(port.id, port.rates_hz) for port in piece.ports.values() if (piece.id, port.id) in used]
        for port_id, able in named:
            if able and not any(math.isclose(piece.rate_hz, each) for each in able):
                where = f", {port_id}," if port_id else ""
                told = ", ".join(f"{each / 1e3:g}" for each in able)
                yield about_plan(
                    Area.SYNC,
                    Weight.STOP,
                    piece.name,
                    "sample rate",
                    f"{piece.name}{where} is to run at {piece.rate_hz / 1e3:g} kHz, and can run at {told} kHz.",
                    why="Set to another rate it is silent, or plays at a wrong speed.",
                    remedy="Write a rate that it has, or take another item for it.",
                    at=("rig", "pieces", piece.id, "rate"),
                )


def _with(words: str) -> str:
    return f" with {words}" if words else ""


def _masters(rig: Rig, id: str, combination: Combination, words: str) -> _Answers:
    if not rig.in_use(id, combination):
        return
    streaming = {spot.piece for hop in _streams(rig) for spot in hop}
    used = [each for each in network_masters(rig, id, combination) if each in streaming]
    used.sort(key=lambda each: not rig.pieces[each].kind.tracks)  # a recorder is asked last to follow
    if len(used) > 1:
        names = " and ".join(rig.name_of(each) for each in used)
        yield (
            ("masters", *used),
            about_plan(
                Area.SYNC,
                Weight.STOP,
                names,
                "two masters",
                f"{names} each run on their own clock on one network{_with(words)}.",
                why="Two masters drift apart: every stream between them clicks.",
                remedy=f"Let {rig.name_of(used[0])} be the master, and write {_by_network(rig, used[1:])}.",
                at=("rig", "pieces", used[-1], "clock"),
                source="IEEE 1588-2008: one grandmaster in a domain",
            ),
        )


def _streams(rig: Rig) -> Iterator[tuple[Spot, Spot]]:
    return ((rig.spots[edge.start], rig.spots[edge.end]) for edge in rig.edges if edge.way is Way.STREAM)


def _by_network(rig: Rig, pieces: Sequence[str]) -> str:
    """What to write so that pieces follow the network: ``'clock: net' at Receiver``."""
    ports = {id: next(p.id for p in rig.pieces[id].ports.values() if p.medium in NETWORK) for id in pieces}
    return " and ".join(f"'clock: {port}' at {rig.name_of(id)}" for id, port in ports.items())


def _follows(rig: Rig, each: Following, combination: Combination, words: str) -> _Answers:
    if each.master or not each.port:
        return
    piece = rig.pieces[each.piece]
    circle = len(set(each.chain)) < len(each.chain)
    if not circle and not chosen(rig, piece, combination):
        return  # it would follow if something were there: nothing is joined to it, so nothing is to be locked
    what = (
        f"{piece.name} follows a clock that comes back to itself by way of "
        f"{', '.join(rig.name_of(one) for one in each.chain[1:-1]) or 'nothing else'}{_with(words)}."
        if circle
        else f"{piece.name} is to follow the clock at {each.port}, where none arrives{_with(words)}."
    )
    yield (
        ("follows", each.piece),
        about_plan(
            Area.SYNC,
            Weight.STOP,
            piece.name,
            "clock",
            what,
            why="Without a master it runs free, and what it sends or takes clicks.",
            remedy="Join that port to the master's clock, or choose another clock for it.",
            at=("rig", "pieces", each.piece, "clock"),
        ),
    )


def _ppm(piece: BuiltPiece) -> float:
    return float(piece.kind.clock_ppm if piece.kind.clock_ppm is not None else _USUAL_PPM)


def _hop(
    rig: Rig,
    following: Mapping[str, Following],
    link: tuple[Way, str],
    sending: tuple[str, str],
    receiving: tuple[str, str],
    words: str,
) -> _Answers:
    way, id = link
    sender, receiver = rig.pieces[sending[0]], rig.pieces[receiving[0]]
    out_port, in_port = sender.ports[sending[1]], receiver.ports[receiving[1]]
    if sender.kind.core == "none" or receiver.kind.core == "none":
        return
    at = ("rig", "streams" if way is Way.STREAM else "links", id)
    rates = (sender.rate_hz, receiver.rate_hz)
    if rates[0] != rates[1] and not in_port.resamples:
        yield (
            ("rate", id),
            about_plan(
                Area.SYNC,
                Weight.STOP,
                sender.name,
                "sample rate",
                f"{sender.name} sends {rates[0] / 1e3:g} kHz to {receiver.name}, which runs at {rates[1] / 1e3:g} kHz.",
                why="The input does not convert rates: it stays silent or plays at a wrong speed.",
                remedy="Set both to one rate, or put a converter between them.",
                at=at,
            ),
        )
    one, other = following.get(sender.id), following.get(receiver.id)
    masters = (one.master if one else "", other.master if other else "")
    if masters[0] != masters[1] and all(masters) and not in_port.resamples:
        apart = _ppm(rig.pieces[masters[0]]) + _ppm(rig.pieces[masters[1]])
        every_s = seconds_per_slip(apart, rates[1])
        steered = out_port.microphone_mode == "mode 1" and in_port.microphone_mode == "mode 2"
        remedy = (
            f"Use mode 2 at both, or an input of {receiver.name} that resamples."
            if steered
            else f"Let both follow one clock, or use an input of {receiver.name} that resamples."
        )
        yield (
            ("slip", id),
            about_plan(
                Area.SYNC,
                Weight.STOP,
                f"{sender.name} to {receiver.name}",
                "not locked",
                f"{sender.name} and {receiver.name} run on two clocks over {id}: one sample slips every "
                f"{every_s:.1f} s{_with(words)}.",
                why="A slipped sample is a click in the recording.",
                remedy=remedy,
                at=at,
                source=SLIPS,
                numbers={"apart_ppm": apart, "seconds_per_slip": every_s},
            ),
        )
    if out_port.bits and in_port.bits and out_port.bits > in_port.bits:
        yield (
            ("bits", id),
            about_plan(
                Area.SYNC,
                Weight.WATCH,
                sender.name,
                "word length",
                f"{sender.name} sends {out_port.bits} bits, {receiver.name} takes {in_port.bits}.",
                remedy="Set the sender to dither to the shorter word, or use another input.",
                at=at,
            ),
        )

"""Whose clock every piece runs on, in one combination."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rollsound.kit.model import DIGITAL, NETWORK, Port
from rollsound.rig.built import BuiltPiece, Rig, Way
from rollsound.rig.combining import Combination, holds

INTERNAL = "internal"
CLOCKED = (
    "word clock",
    "network",
    "network fibre",
    "aes10 coax",
    "aes10 fibre",
    "aes3",
    "aes3 coax",
    "optical",
    "digital mic",
    "usb",
)
"""Media that carry a clock, in the order in which one is taken where nothing is said."""


@dataclass(frozen=True)
class Following:
    """Where a piece takes its clock from."""

    piece: str
    port: str
    """Of itself; empty when it runs on its own."""
    from_piece: str
    """Empty when it runs on its own, or when nothing is there to follow."""
    master: str
    """The piece at the end of the chain, whose clock it is; empty when there is none, or when it goes in a circle."""
    chain: tuple[str, ...] = ()
    """All pieces from this one to the master."""


def has_clock(piece: BuiltPiece) -> bool:
    """Whether a piece has samples at all, and so a clock."""
    return piece.kind.clock not in (None, "none") or piece.digital


def clocks(rig: Rig, combination: Combination) -> Mapping[str, Following]:
    """By piece, whose clock it runs on. Pieces without samples are left out."""
    direct = {
        id: _direct(rig, piece, combination)
        for id, piece in rig.pieces.items()
        if has_clock(piece) and rig.in_use(id, combination)
    }
    return {id: _traced(id, direct) for id in direct}


def _traced(id: str, direct: Mapping[str, tuple[str, str]]) -> Following:
    port, first = direct[id]
    chain, here = [id], id
    while True:
        taken_from, there = direct.get(here, ("", ""))
        if not there:  # its own clock, or nothing at its port
            own = taken_from == ""
            return Following(id, port, first, here if own else "", tuple(chain))
        if there in chain:
            return Following(id, port, first, "", (*chain, there))
        chain.append(there)
        here = there


def _chosen(rig: Rig, piece: BuiltPiece, combination: Combination) -> str:
    """The port, ``internal``, or nothing where neither the plan nor a position says."""
    for changeover in rig.part.changeovers:
        for position in changeover.positions:
            if combination.get(changeover.id) == position.id and piece.id in position.clocks:
                return position.clocks[piece.id]
    return piece.piece.clock


def _direct(rig: Rig, piece: BuiltPiece, combination: Combination) -> tuple[str, str]:
    """Port and the piece at its other end; ("", "") for its own clock; (port, "") where nothing is there."""
    role = piece.piece.clock_role or piece.kind.clock or ("either" if piece.digital else "none")
    chosen = _chosen(rig, piece, combination)
    if chosen == INTERNAL or (not chosen and role in ("own", "none")):
        return "", ""
    if chosen and chosen in piece.ports:
        return chosen, _peer(rig, piece, piece.ports[chosen], combination)
    if role == "either":
        return "", ""
    found = [
        (port.id, _peer(rig, piece, port, combination))
        for port in sorted(piece.ports.values(), key=_rank)
        if port.medium in CLOCKED and (port.direction != "out" or port.microphone_mode in ("mode 2", "both"))
    ]
    return next(((port, peer) for port, peer in found if peer), found[0] if found else ("", ""))


def _rank(port: Port) -> int:
    return CLOCKED.index(port.medium) if port.medium in CLOCKED else len(CLOCKED)


def _peer(rig: Rig, piece: BuiltPiece, port: Port, combination: Combination) -> str:
    """The piece whose clock arrives at a port."""
    if port.medium in NETWORK:
        masters = network_masters(rig, piece.id, combination)
        return next((each for each in masters if each != piece.id), "")
    return next(
        (
            other
            for other, _, condition in rig.joined.get((piece.id, port.id), ())
            if holds(condition, combination) and rig.in_use(other, combination)
        ),
        "",
    )


def network_of(rig: Rig, piece: str, combination: Combination) -> frozenset[str]:
    """All pieces on one network with a piece, itself among them."""
    seen, waiting = {piece}, [piece]
    links = [
        link
        for link in rig.net_links
        if holds(link.condition, combination)
        and rig.in_use(link.first, combination)
        and rig.in_use(link.second, combination)
    ]
    while waiting:
        here = waiting.pop()
        if here != piece and not rig.pieces[here].carries_network:
            continue
        for link in links:
            if here in (link.first, link.second):
                there = link.second if link.first == here else link.first
                if there not in seen:
                    seen.add(there)
                    waiting.append(there)
    return frozenset(seen)


def network_masters(rig: Rig, piece: str, combination: Combination) -> tuple[str, ...]:
    """Pieces on a piece's network whose clock is not taken from the network: in good order exactly one."""
    found = []
    for each in sorted(network_of(rig, piece, combination)):
        other = rig.pieces[each]
        if not has_clock(other) or other.carries_network:
            continue
        chosen = _chosen(rig, other, combination)
        role = other.piece.clock_role or other.kind.clock or "either"
        takes_network = chosen in other.ports and other.ports[chosen].medium in NETWORK
        follows = takes_network or (not chosen and role == "follows")
        if not follows and any(port.medium in NETWORK for port in other.ports.values()):
            found.append(each)
    return tuple(found)


def digital_links(rig: Rig, combination: Combination) -> list[tuple[Way, str, str, str, str, str]]:
    """Every digital link and stream in use: way, id, sender, its port, receiver, its port."""
    found: dict[tuple[Way, str, str, str, str, str], None] = {}
    for edge in rig.edges:
        if edge.way not in (Way.LINK, Way.STREAM) or not rig.edge_holds(edge, combination):
            continue
        start, end = rig.spots[edge.start], rig.spots[edge.end]
        port = rig.pieces[start.piece].ports[start.port]
        if port.medium in DIGITAL:
            found[(edge.way, edge.id, start.piece, start.port, end.piece, end.port)] = None
    return list(found)

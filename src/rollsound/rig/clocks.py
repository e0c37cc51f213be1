"""Whose clock every piece runs on, in one combination."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from rollsound.kit.model import DIGITAL, NETWORK, Port
from rollsound.rig.built import BuiltPiece, Edge, Rig, Way
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


def chosen(rig: Rig, piece: BuiltPiece, combination: Combination) -> str:
    """The port, ``internal``, or nothing where neither the plan nor a position says."""
    for changeover in rig.part.changeovers:
        for position in changeover.positions:
            if combination.get(changeover.id) == position.id and piece.id in position.clocks:
                return position.clocks[piece.id]
    return piece.piece.clock


def _direct(rig: Rig, piece: BuiltPiece, combination: Combination) -> tuple[str, str]:
    """Port and the piece at its other end; ("", "") for its own clock; (port, "") where nothing is there."""
    ports = _ports_for(piece, chosen(rig, piece, combination))
    if not ports:
        return "", ""
    found = [(port.id, _peer(rig, piece, port, combination)) for port in ports]
    return next(((port, peer) for port, peer in found if peer), found[0] if found else ("", ""))


def _ports_for(piece: BuiltPiece, named: str) -> list[Port]:
    """The ports that a piece looks for a clock at, with this choice; none when it runs on its own."""
    role = piece.piece.clock_role or piece.kind.clock or ("either" if piece.digital else "none")
    if named == INTERNAL or (not named and role in ("own", "none")):
        return []
    if named in piece.ports:
        return [piece.ports[named]]
    if role == "either":
        return []
    return [
        port
        for port in sorted(piece.ports.values(), key=_rank)
        if port.medium in CLOCKED and (port.direction != "out" or port.microphone_mode in ("mode 2", "both"))
    ]


def _choices(rig: Rig, piece: str) -> tuple[set[str], set[str]]:
    """All that a piece's clock may be set to, and the changeovers that set it."""
    names, turning = {rig.pieces[piece].piece.clock}, set()
    for changeover in rig.part.changeovers:
        for position in changeover.positions:
            if piece in position.clocks:
                names.add(position.clocks[piece])
                turning.add(changeover.id)
    return names, turning


class ClockCones:
    """Which changeovers can change whose clock each piece runs on; no other changeover can."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self._networks: dict[str, frozenset[str]] = {}

    def of_piece(self, id: str) -> frozenset[str]:
        """Changeovers that the clock of a piece depends on, by way of all that it may follow."""
        found: set[str] = set()
        seen, waiting = {id}, [id]
        while waiting:
            turning, peers = self._step(waiting.pop())
            found |= turning
            waiting += peers - seen
            seen |= peers
        return frozenset(found)

    def of_network(self, id: str) -> frozenset[str]:
        """Changeovers that turn the masters of a piece's network."""
        rig = self.rig
        members = self._network(id)
        found = set(_named(rig, id))
        for link in rig.net_links:
            if link.first in members and link.second in members:
                found |= {each for each, _ in link.condition} | _named(rig, link.first) | _named(rig, link.second)
        for member in members:
            found |= _choices(rig, member)[1]
        return frozenset(found)

    def _network(self, id: str) -> frozenset[str]:
        if id not in self._networks:
            self._networks[id] = network_of(self.rig, id, None)
        return self._networks[id]

    def _step(self, id: str) -> tuple[set[str], set[str]]:
        """What a piece's own choice depends on, and the pieces that it may follow."""
        rig, piece = self.rig, self.rig.pieces[id]
        names, found = _choices(rig, id)
        found |= _named(rig, id)
        peers: set[str] = set()
        for port in {port.id: port for named in names for port in _ports_for(piece, named)}.values():
            if port.medium in NETWORK:
                found |= self.of_network(id)
                peers |= {each for each in self._network(id) if has_clock(rig.pieces[each])}
            for other, _, condition in rig.joined.get((id, port.id), ()):
                found |= {each for each, _ in condition} | _named(rig, other)
                peers |= {other} if port.medium not in NETWORK else set()
        return found, peers


def _named(rig: Rig, piece: str) -> set[str]:
    return {each for each, _ in rig.pieces[piece].condition}


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


def network_of(rig: Rig, piece: str, combination: Combination | None) -> frozenset[str]:
    """All pieces on one network with a piece, itself among them; in any position when no combination is given."""
    seen, waiting = {piece}, [piece]
    links = [
        link
        for link in rig.net_links
        if combination is None
        or (
            holds(link.condition, combination)
            and rig.in_use(link.first, combination)
            and rig.in_use(link.second, combination)
        )
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
        named = chosen(rig, other, combination)
        role = other.piece.clock_role or other.kind.clock or "either"
        takes_network = named in other.ports and other.ports[named].medium in NETWORK
        follows = takes_network or (not named and role == "follows")
        if not follows and any(port.medium in NETWORK for port in other.ports.values()):
            found.append(each)
    return tuple(found)


DigitalHop: TypeAlias = tuple[Way, str, str, str, str, str]
"""Way, id, sender, its port, receiver, its port."""


def digital_hops(rig: Rig) -> dict[DigitalHop, Edge]:
    """Every digital link and stream, in use or not, each with one of its edges."""
    found: dict[DigitalHop, Edge] = {}
    for edge in rig.edges:
        if edge.way not in (Way.LINK, Way.STREAM):
            continue
        start, end = rig.spots[edge.start], rig.spots[edge.end]
        if rig.pieces[start.piece].ports[start.port].medium in DIGITAL:
            found.setdefault((edge.way, edge.id, start.piece, start.port, end.piece, end.port), edge)
    return found


def digital_links(rig: Rig, combination: Combination) -> list[DigitalHop]:
    """Every digital link and stream in use."""
    return [hop for hop, edge in digital_hops(rig).items() if rig.edge_holds(edge, combination)]

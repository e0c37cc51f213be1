"""Every way of a source to a track or a listener, hop by hop: conversions, delay, gain, and what it depends on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from rollsound.kit.model import DIGITAL, NETWORK, Port
from rollsound.rig.built import BuiltPiece, Edge, Rig, Spot, Way
from rollsound.rig.links import frame_bytes, frame_s
from rollsound.rig.state import NetWay, State

SOUND_M_S = 343.4
"""Speed of sound in air at 20 °C, 331.3 + 0.606·20 (standard acoustics text, from memory)."""
CABLE_S_M = 5.38e-9
"""Delay of cable, s/m: of category cable at 100 MHz (power and links note, 3.5)."""
MOST_PATHS = 256


class Conversion(StrEnum):
    """What happens to the samples on the way."""

    A_D = "A/D"
    D_A = "D/A"
    RATE = "sample-rate conversion"
    LOSSY = "lossy radio"


@dataclass(frozen=True, slots=True)
class Hop:
    """One step: through a cable, the air, the network, or a piece."""

    way: Way
    id: str
    start: Spot
    end: Spot
    gain_db: float
    latency_s: float
    total_s: float
    """From the source to the end of this hop."""
    conversions: tuple[Conversion, ...] = ()
    network: NetWay | None = None


@dataclass(frozen=True, slots=True)
class Path:
    """One way from where a source enters to a track or a listener."""

    source: str
    target: str
    """``track:`` or ``feed:`` and an id."""
    start: Spot
    end: Spot
    hops: tuple[Hop, ...]
    elements: frozenset[str]
    """Everything without which it does not work: ``piece:``, ``link:`` or ``stream:`` and an id."""
    choices: tuple[tuple[frozenset[str], ...], ...] = ()
    """For each stream with several ways through the network, what each of them needs besides."""
    entry_gain_db: float = 0.0
    """What is set where the source enters, before its first hop."""

    @property
    def latency_s(self) -> float:
        """From sound at the source to its arrival."""
        return self.hops[-1].total_s if self.hops else 0.0

    @property
    def gain_db(self) -> float:
        """Sum of all gains that are set or written on the way."""
        return self.entry_gain_db + sum(hop.gain_db for hop in self.hops)

    @property
    def conversions(self) -> tuple[Conversion, ...]:
        """All conversions in order."""
        return tuple(each for hop in self.hops for each in hop.conversions)

    @property
    def pieces(self) -> tuple[str, ...]:
        """The pieces that it goes through, in order."""
        spots = [self.start, *(spot for hop in self.hops for spot in (hop.start, hop.end))]
        return tuple(dict.fromkeys(spot.piece for spot in spots))

    def survives(self, failed: frozenset[str]) -> bool:
        """Whether it still works when all of these have failed."""
        if self.elements & failed:
            return False
        return all(any(not way & failed for way in ways) for ways in self.choices)


@dataclass(frozen=True, slots=True)
class Paths:
    """All paths of one source to one target. ``complete`` is false where there were more than are told apart."""

    paths: tuple[Path, ...]
    complete: bool = True


def track(id: str) -> str:
    """A track as a target."""
    return f"track:{id}"


def feed(id: str) -> str:
    """A feed as a target."""
    return f"feed:{id}"


def target_spots(rig: Rig, target: str) -> tuple[int, ...]:
    """The spots of a target; none where it has no place in the rig."""
    what, _, id = target.partition(":")
    if what == "track":
        return (rig.tracks[id],) if id in rig.tracks else ()
    return rig.feeds.get(id, ())


def targets(rig: Rig) -> tuple[str, ...]:
    """Every track, then every listener, that has a place in the rig."""
    return (*(track(id) for id in rig.tracks), *(feed(id) for id in rig.feeds))


def paths(state: State, source: str, target: str) -> Paths:
    """All paths of a source to a target in a state of the rig, shortest delay first."""
    rig = state.rig
    starts = [spot for spot in rig.sources.get(source, ()) if state.alive(spot)]
    ends = {spot for spot in target_spots(rig, target) if state.alive(spot)}
    if not starts or not ends:
        return Paths(())
    cone = state.reached_from(starts) & state.reaching(ends)
    found: list[Path] = []
    for edges in _walks(state, starts, ends, cone):
        if len(found) >= MOST_PATHS:
            return Paths(tuple(sorted(found, key=_by_delay)), complete=False)
        found.append(_path(state, source, target, edges))
    found += [
        _direct(state, source, target, rig.spots[spot]) for spot in starts if spot in ends
    ]  # a source that enters where it is heard
    return Paths(tuple(sorted(found, key=_by_delay)))


def sources_at(state: State, target: str) -> dict[str, Paths]:
    """Everything that arrives at a target, each source with its paths."""
    rig = state.rig
    ends = [spot for spot in target_spots(rig, target) if state.alive(spot)]
    heard = state.reaching(ends)
    return {
        source: paths(state, source, target) for source, spots in rig.sources.items() if any(s in heard for s in spots)
    }


def all_paths(state: State) -> dict[tuple[str, str], Paths]:
    """Of every source to every track and listener that it reaches."""
    rig = state.rig
    by_spot: dict[int, list[str]] = {}
    for target in targets(rig):
        for spot in target_spots(rig, target):
            by_spot.setdefault(spot, []).append(target)
    found: dict[tuple[str, str], Paths] = {}
    for source, spots in rig.sources.items():
        reached = state.reached_from([spot for spot in spots if state.alive(spot)])
        for target in dict.fromkeys(target for spot in reached & by_spot.keys() for target in by_spot[spot]):
            found[(source, target)] = paths(state, source, target)
    return found


def _by_delay(path: Path) -> tuple[float, int]:
    return path.latency_s, len(path.hops)


def _walks(state: State, starts: Sequence[int], ends: set[int], cone: set[int]) -> Iterator[list[int]]:
    """Every walk without a repeated spot from a start to an end, inside the cone, as places of edges."""
    edges, leaving = state.rig.edges, state.rig.leaving
    for start in starts:
        if start not in cone:
            continue
        walk: list[int] = []
        on_walk = {start}
        stack = [iter(leaving[start])]
        while stack:
            place = next(stack[-1], None)
            if place is None:
                stack.pop()
                if walk:
                    on_walk.discard(edges[walk.pop()].end)
                continue
            there = edges[place].end
            if there not in cone or there in on_walk or not state.holds(place):
                continue
            walk.append(place)
            if there in ends:
                yield list(walk)
            on_walk.add(there)
            stack.append(iter(leaving[there]))


def _direct(state: State, source: str, target: str, spot: Spot) -> Path:
    gain_db = state.rig.gain_at(spot, state.combination)
    return Path(source, target, spot, spot, (), frozenset({f"piece:{spot.piece}"}), entry_gain_db=gain_db)


def _path(state: State, source: str, target: str, places: Sequence[int]) -> Path:
    rig = state.rig
    start = rig.spots[rig.edges[places[0]].start]
    total_s, conversions = entered(rig, start)
    hops: list[Hop] = []
    elements = {f"piece:{start.piece}"}
    choices: list[tuple[frozenset[str], ...]] = []
    for at, place in enumerate(places):
        edge = rig.edges[place]
        hop = _hop(state, edge, total_s, () if at else conversions)
        total_s = hop.total_s
        hops.append(hop)
        elements.add(f"piece:{hop.end.piece}")
        if edge.way is Way.LINK:
            elements.add(f"link:{edge.id}")
        elif edge.way is Way.STREAM:
            elements.add(f"stream:{edge.id}")
            ways = [
                frozenset((*(f"link:{each}" for each in way.links), *(f"piece:{each}" for each in way.through)))
                for way in state.network_ways(edge)
            ]
            shared = frozenset.intersection(*ways)
            elements |= shared
            if len(ways) > 1:
                choices.append(tuple(way - shared for way in ways))
    return Path(
        source,
        target,
        start,
        hops[-1].end,
        tuple(hops),
        frozenset(elements),
        tuple(dict.fromkeys(choices)),
        rig.gain_at(start, state.combination),
    )


def _hop(state: State, edge: Edge, before_s: float, conversions: tuple[Conversion, ...]) -> Hop:
    rig = state.rig
    start, end = rig.spots[edge.start], rig.spots[edge.end]
    piece = rig.pieces[end.piece]
    port = rig.port_at(end)
    network: NetWay | None = None
    gain_db = edge.gain_db + rig.gain_at(end, state.combination)
    if edge.way in (Way.ROUTE, Way.PASS):
        latency_s = float(piece.kind.latency_s or 0.0)
        if port is not None and end.side == "out":
            latency_s += port.latency_s
            conversions = (*conversions, *leaving_conversions(piece, port))
    else:
        latency_s = float(port.latency_s) if port is not None else 0.0
        if port is not None:
            conversions = (*conversions, *arriving_conversions(piece, port))
        if edge.way is Way.LINK:
            latency_s += _cable_s(rig, edge, start)
        else:
            network = state.network_ways(edge)[0]
            latency_s += _network_s(rig, edge, network)
    return Hop(edge.way, edge.id, start, end, gain_db, latency_s, before_s + latency_s, conversions, network)


def entered(rig: Rig, spot: Spot) -> tuple[float, tuple[Conversion, ...]]:
    """Delay and conversions where a source enters, before its first hop."""
    piece, port = rig.pieces[spot.piece], rig.port_at(spot)
    if port is None:
        return 0.0, ()
    made = arriving_conversions(piece, port) if spot.side == "in" else ()
    return float(port.latency_s), made


def arriving_conversions(piece: BuiltPiece, port: Port) -> tuple[Conversion, ...]:
    """What is converted where sound comes in at a port."""
    found: list[Conversion] = []
    if port.lossy and port.medium == "radio":
        found.append(Conversion.LOSSY)
    if piece.digital and port.medium in ("analogue", "air"):
        found.append(Conversion.A_D)
    if not piece.digital and port.medium in DIGITAL:
        found.append(Conversion.D_A)
    if port.resamples:
        found.append(Conversion.RATE)
    return tuple(found)


def leaving_conversions(piece: BuiltPiece, port: Port) -> tuple[Conversion, ...]:
    """What is converted where sound goes out at a port."""
    if piece.digital and port.medium in ("analogue", "air"):
        return (Conversion.D_A,)
    if not piece.digital and port.medium in DIGITAL:
        return (Conversion.A_D,)
    return ()


def _cable_s(rig: Rig, edge: Edge, start: Spot) -> float:
    link = rig.link_rows.get(edge.id)
    port = rig.port_at(start)
    if link is None or link.length_m is None or port is None:
        return 0.0
    return link.length_m / SOUND_M_S if port.medium == "air" else link.length_m * CABLE_S_M


def _network_s(rig: Rig, edge: Edge, way: NetWay) -> float:
    """Packet, what the receiver keeps, and store-and-forward at every switch."""
    start, end = rig.spots[edge.start], rig.spots[edge.end]
    sender, receiver = rig.pieces[start.piece].ports[start.port], rig.pieces[end.piece].ports[end.port]
    stream = rig.stream_rows[edge.id]
    packet_s = float(stream.packet_s if stream.packet_s is not None else sender.packet_s)
    channels = min(sender.stream_channels, rig.stream_channels[edge.id])
    frame = frame_bytes(channels, rig.pieces[start.piece].rate_hz, packet_s)
    rates = (
        min(port.rate_mbit_s for port in rig.pieces[each].ports.values() if port.medium in NETWORK)
        for each in way.through
    )
    forward_s = sum(frame_s(frame, rate * 1e6) for rate in rates)
    return packet_s + float(receiver.buffer_s) + forward_s

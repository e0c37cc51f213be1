"""A rig put together: every channel of every port a spot, every way from spot to spot an edge with its condition."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Literal, NamedTuple, TypeAlias

from rollsound.kit.model import DIGITAL, Kind, KitItem, Port
from rollsound.rig.combining import Combination, Condition, holds
from rollsound.rig.ends import TRACK, End, read_end
from rollsound.rig.model import Feed, Link, Piece, RigPart, Route, Source, Stream, Track
from rollsound.wrong import Wrong

Side: TypeAlias = Literal["in", "out"]


class Spot(NamedTuple):
    """One channel of one side of one port. A recorder's tracks are the channels of the in-side of ``track``."""

    piece: str
    port: str
    channel: int
    side: Side

    def __str__(self) -> str:
        return f"{self.piece}:{self.port} {self.channel}"


class Way(StrEnum):
    """What joins two spots."""

    LINK = "link"
    STREAM = "stream"
    ROUTE = "route"
    PASS = "pass"


@dataclass(frozen=True, slots=True)
class Edge:
    """A way from one spot to another. ``start`` and ``end`` are places in ``Rig.spots``."""

    start: int
    end: int
    way: Way
    id: str
    """Of the link, stream or route; of the piece, for a pass."""
    condition: Condition
    gain_db: float = 0.0


@dataclass(frozen=True, slots=True)
class NetLink:
    """A network cable between two pieces."""

    id: str
    first: str
    second: str
    first_port: str
    second_port: str
    condition: Condition
    rate_mbit_s: float


@dataclass(frozen=True)
class BuiltPiece:
    """A piece with all that is known of its item and kind."""

    piece: Piece
    item: KitItem
    kind: Kind
    """Resolved: what is written at the item goes before what its kind has."""
    ports: Mapping[str, Port]
    condition: Condition
    rate_hz: float

    @property
    def id(self) -> str:
        """Its id."""
        return self.piece.id

    @property
    def name(self) -> str:
        """What people call it."""
        return self.piece.name or (self.item.name if self.item.id == self.piece.id else self.piece.id)

    @property
    def digital(self) -> bool:
        """Whether it works in samples."""
        if self.kind.core is not None:
            return self.kind.core == "digital"
        return any(port.medium in DIGITAL for port in self.ports.values())

    @property
    def carries_network(self) -> bool:
        """Whether it passes on what comes in at one network port by the others, as a switch does."""
        return "network" in self.kind.category


@dataclass(frozen=True)
class Rig:
    """A rig put together. ``wrong`` holds every mistake; what is wrong is left out of the rest."""

    part: RigPart
    pieces: Mapping[str, BuiltPiece]
    spots: tuple[Spot, ...]
    place_of: Mapping[Spot, int]
    edges: tuple[Edge, ...]
    leaving: tuple[tuple[int, ...], ...]
    """By spot, the places in ``edges`` of those that begin there."""
    entering: tuple[tuple[int, ...], ...]
    net_links: tuple[NetLink, ...]
    joined: Mapping[tuple[str, str], tuple[tuple[str, str, Condition], ...]]
    """By piece and port, the pieces and ports that links join it to, and when."""
    conditions: Mapping[str, Condition]
    """By id of a link, stream or route, when it holds; those that always hold are left out."""
    tracks: Mapping[str, int]
    """By a track's id, its spot."""
    sources: Mapping[str, tuple[int, ...]]
    """By a source's id, the spots where it enters."""
    feeds: Mapping[str, tuple[int, ...]]
    """By a feed's id, the spots where its listener hears."""
    gains_db: Mapping[Spot, float]
    """What is set at ports in every position that does not say otherwise."""
    position_gains_db: Mapping[tuple[str, str], Mapping[Spot, float]]
    wrong: tuple[Wrong, ...] = ()
    track_of_spot: Mapping[int, str] = field(default_factory=dict)

    @cached_property
    def track_rows(self) -> Mapping[str, Track]:
        """Tracks by id."""
        return {track.id: track for track in self.part.tracks}

    @cached_property
    def source_rows(self) -> Mapping[str, Source]:
        """Sources by id."""
        return {source.id: source for source in self.part.sources}

    def wanted(self, track: str) -> tuple[str, ...]:
        """The sources that a track is to have: its own, those of its sum, or those that enter at the piece it names."""
        row = self.track_rows[track]
        if row.sources:
            return row.sources
        if row.source in self.source_rows:
            return (row.source,)
        return tuple(id for id, spots in self.sources.items() if any(self.spots[s].piece == row.source for s in spots))

    @cached_property
    def feed_rows(self) -> Mapping[str, Feed]:
        """Feeds by id."""
        return {feed.id: feed for feed in self.part.feeds}

    @cached_property
    def link_rows(self) -> Mapping[str, Link]:
        """Links by id."""
        return {link.id: link for link in self.part.links}

    @cached_property
    def link_ends(self) -> Mapping[str, tuple[End, End]]:
        """By a link's id, its two ends; of links both of whose ends are at ports that are there."""
        found = {}
        for link in self.part.links:
            try:
                ends = read_end(link.from_), read_end(link.to)
            except ValueError:  # told of as wrong when the rig was put together
                continue
            if all(end.piece in self.pieces and end.port in self.pieces[end.piece].ports for end in ends):
                found[link.id] = ends
        return found

    @cached_property
    def stream_rows(self) -> Mapping[str, Stream]:
        """Streams by id."""
        return {stream.id: stream for stream in self.part.streams}

    @cached_property
    def route_rows(self) -> Mapping[str, Route]:
        """Routes by id."""
        return {route.id: route for route in self.part.routes}

    @cached_property
    def stream_channels(self) -> Mapping[str, int]:
        """By a stream's id, how many channels it carries."""
        return Counter(edge.id for edge in self.edges if edge.way is Way.STREAM)

    def port_at(self, spot: Spot) -> Port | None:
        """The port of a spot; none for a track."""
        return None if spot.port == TRACK else self.pieces[spot.piece].ports.get(spot.port)

    def in_use(self, piece: str, combination: Combination) -> bool:
        """Whether a piece is in use in a combination."""
        return holds(self.pieces[piece].condition, combination)

    def edge_holds(self, edge: Edge, combination: Combination) -> bool:
        """Whether an edge and the pieces at its ends hold in a combination."""
        return (
            holds(edge.condition, combination)
            and self.in_use(self.spots[edge.start].piece, combination)
            and self.in_use(self.spots[edge.end].piece, combination)
        )

    def gain_at(self, spot: Spot, combination: Combination) -> float:
        """The gain that is set at a spot in a combination, in dB."""
        for changeover, position in combination.items():
            found = self.position_gains_db.get((changeover, position), {}).get(spot)
            if found is not None:
                return found
        return self.gains_db.get(spot, 0.0)

    def name_of(self, piece: str) -> str:
        """What people call a piece."""
        return self.pieces[piece].name if piece in self.pieces else piece

    def spot_in_words(self, spot: Spot) -> str:
        """A spot for people: ``Main recorder, track 6`` or ``Receiver 1, out 2``."""
        if spot.port == TRACK:
            return f"{self.name_of(spot.piece)}, track {spot.channel}"
        port = self.pieces[spot.piece].ports[spot.port]
        number = f" {spot.channel}" if port.channels > 1 else ""
        return f"{self.name_of(spot.piece)}, {port.name or port.id}{number}"

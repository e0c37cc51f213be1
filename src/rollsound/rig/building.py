"""From what people write to a rig put together, with every mistake and its place.

Longer than most files: it is the one place where all that can be written wrongly in a rig is met.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Literal, Protocol, TypeVar

from rollsound.kit.kinds import kinds_of, resolved
from rollsound.kit.model import NETWORK, Kind, KitItem, KitPart, Port
from rollsound.rig.built import BuiltPiece, Edge, NetLink, Rig, Side, Spot, Way
from rollsound.rig.clocks import CLOCKED, INTERNAL
from rollsound.rig.combining import ALWAYS, Condition, conditions
from rollsound.rig.ends import TRACK, End, read_end
from rollsound.rig.impossible import loops, socket_taken, used_twice
from rollsound.rig.model import Feed, Link, Piece, RigPart, Route, Source, Stream
from rollsound.wrong import Wrong, not_there

if TYPE_CHECKING:
    pass

MIX = "mix"
"""What a track names as its source that is a sum of several."""
_At = tuple[str, ...]
_LISTS = ("pieces", "links", "streams", "routes", "sources", "tracks", "feeds")


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


_Row = TypeVar("_Row", bound=_HasId)


def build(rig: RigPart, kit: KitPart, *, rate_hz: float = 48_000.0) -> Rig:
    """Put a rig together.

    Parameters
    ----------
    kit
        the equipment list with the show's own kinds
    rate_hz
        the show's sample rate, for pieces that name none

    Returns
    -------
    Rig
        ``wrong`` names every mistake with its place; the rest is built without what is wrong
    """
    return _Builder(rig, kit, rate_hz).built()


class _Builder:
    def __init__(self, rig: RigPart, kit: KitPart, rate_hz: float) -> None:
        self.kit, self.rate_hz = kit, rate_hz
        self.wrong: list[Wrong] = []
        self.part = self._once(rig)
        self.spots: list[Spot] = []
        self.place_of: dict[Spot, int] = {}
        self.edges: list[Edge] = []
        self.net_links: list[NetLink] = []
        self.joined: dict[tuple[str, str], list[tuple[str, str, Condition]]] = {}
        self.conditions: dict[str, Condition] = {}
        self.pieces: dict[str, BuiltPiece] = {}

    def built(self) -> Rig:
        self.named = {piece.id for piece in self.part.pieces}
        self._changeovers()
        self._pieces()
        for piece in self.pieces.values():
            self._passes(piece)
        for link in self.part.links:
            self._link(link)
        for stream in self.part.streams:
            self._stream(stream)
        for route in self.part.routes:
            self._route(route)
        tracks = self._tracks()
        sources, feeds = self._sources(), self._places("feeds", self.part.feeds)
        gains, position_gains = self._gains()
        leaving: list[list[int]] = [[] for _ in self.spots]
        entering: list[list[int]] = [[] for _ in self.spots]
        for at, edge in enumerate(self.edges):
            leaving[edge.start].append(at)
            entering[edge.end].append(at)
        self.wrong += used_twice(self.pieces, self.spots, self.edges, entering)
        self.wrong += loops(self.pieces, self.spots, self.edges, self.part.changeovers)
        return Rig(
            part=self.part,
            pieces=self.pieces,
            spots=tuple(self.spots),
            place_of=self.place_of,
            edges=tuple(self.edges),
            leaving=tuple(map(tuple, leaving)),
            entering=tuple(map(tuple, entering)),
            net_links=tuple(self.net_links),
            joined={each: tuple(found) for each, found in self.joined.items()},
            conditions=self.conditions,
            tracks=tracks,
            sources=sources,
            feeds=feeds,
            gains_db=gains,
            position_gains_db=position_gains,
            wrong=tuple(dict.fromkeys(self.wrong)),
            track_of_spot={spot: track for track, spot in tracks.items()},
        )

    def _say(self, at: _At, sentence: str) -> None:
        self.wrong.append(Wrong(("rig", *at), sentence))

    # Pieces

    def _changeovers(self) -> None:
        part = self.part
        parts: tuple[tuple[Literal["links", "streams", "routes", "pieces"], Sequence[object]], ...] = (
            ("links", part.links),
            ("streams", part.streams),
            ("routes", part.routes),
            ("pieces", part.pieces),
        )
        for name, rows in parts:
            known = {row.id for row in rows}  # type: ignore[attr-defined]
            found = conditions(part.changeovers, name)
            if name != "pieces":
                self.conditions.update(found)
            for changeover in part.changeovers:
                for position in changeover.positions:
                    for wanted in getattr(position, name):
                        if wanted not in known:
                            at = ("changeovers", changeover.id, "positions", position.id, name)
                            self._say(at, not_there(wanted, f"the {name[:-1]}", known))
        self.piece_conditions = conditions(part.changeovers, "pieces")

    def _once(self, rig: RigPart) -> RigPart:
        """The part with the first of every id; the others are said."""
        update: dict[str, tuple[object, ...]] = {name: self._first((name,), getattr(rig, name)) for name in _LISTS}
        update["changeovers"] = tuple(
            each.model_copy(update={"positions": self._first(("changeovers", each.id, "positions"), each.positions)})
            for each in self._first(("changeovers",), rig.changeovers)
        )
        return rig.model_copy(update=update)

    def _first(self, at: _At, rows: Sequence[_Row]) -> tuple[_Row, ...]:
        found: dict[str, _Row] = {}
        for row in rows:
            if row.id in found:
                self._say((*at, row.id), "stands here twice; give one of them another id")
            found.setdefault(row.id, row)
        return tuple(found.values())

    def _pieces(self) -> None:
        kinds = kinds_of(self.kit)
        items = {item.id: item for item in self.kit.items}
        used: dict[str, int] = {}
        kinds_resolved: dict[str, Kind] = {}
        for piece in self.part.pieces:
            item = items.get(piece.item or piece.id)
            if item is None:
                self._say(("pieces", piece.id, "item"), not_there(piece.item or piece.id, "the item", items))
                continue
            if item.model and item.model not in kinds:
                self.wrong.append(Wrong(("kit", "items", item.id, "model"), not_there(item.model, "the kind", kinds)))
            used[item.id] = used.get(item.id, 0) + 1
            if used[item.id] == item.count + 1:
                have = f"the kit has {item.count}" if item.count else "the kit has none"
                self._say(("pieces", piece.id, "item"), f"is one more '{item.id}' than there is; {have}")
            if item.id not in kinds_resolved:
                kinds_resolved[item.id] = resolved(item, kinds)
            self._piece(piece, item, kinds_resolved[item.id])

    def _piece(self, piece: Piece, item: KitItem, kind: Kind) -> None:
        id = piece.id
        self.pieces[id] = BuiltPiece(
            piece=piece,
            item=item,
            kind=kind,
            ports={port.id: port for port in kind.ports},
            condition=self.piece_conditions.get(id, ALWAYS),
            rate_hz=float(piece.rate_hz or self.rate_hz),
        )
        self._clock(piece.clock, self.pieces[id], ("pieces", id, "clock"))

    def _clock(self, named: str, piece: BuiltPiece, at: _At) -> None:
        """What a clock is to follow: 'internal', or a port that carries one."""
        if not named or named == INTERNAL:
            return
        port = piece.ports.get(named)
        if port is None:
            self._say(at, not_there(named, f"the port of {piece.name}", piece.ports))
        elif port.medium not in CLOCKED:
            able = [each.id for each in piece.ports.values() if each.medium in CLOCKED]
            self._say(
                at,
                f"names the port '{named}' of {piece.name}, which is {port.medium} and carries no clock; "
                f"write 'internal'{''.join(f' or {each!r}' for each in able[:6])}",
            )

    # Spots and edges

    def _spot(self, piece: str, port: str, channel: int, side: Side) -> int:
        spot = Spot(piece, port, channel, side)
        place = self.place_of.get(spot)
        if place is None:
            place = self.place_of[spot] = len(self.spots)
            self.spots.append(spot)
        return place

    def _end(self, text: str, at: _At, inside: str = "") -> tuple[End, Port | None] | None:
        """An end and its port, none for tracks; nothing where it is wrong, which is said."""
        try:
            end = read_end(text, inside)
        except ValueError as error:
            self._say(at, str(error))
            return None
        piece = self.pieces.get(end.piece)
        if piece is None:
            if end.piece not in self.named:  # one that is there and wrong was told of already
                self._say(at, not_there(end.piece, "the piece", self.named))
            return None
        if inside and end.port == TRACK and TRACK not in piece.ports:
            return self._track_end(end, piece, at)
        port = piece.ports.get(end.port)
        if port is None:
            self._say(at, not_there(end.port, f"the port of {piece.name}", piece.ports))
            return None
        if end.last > port.channels:
            has = f"has {port.channels} channels" if port.channels > 1 else "has one channel"
            self._say(at, f"names channel {end.last}, but {port.id} of {piece.name} {has}")
            return None
        return end, port

    def _track_end(self, end: End, piece: BuiltPiece, at: _At) -> tuple[End, None] | None:
        numbers = {track.number for track in self.part.tracks if self._recorder(track.recorder) == piece.id}
        if not piece.kind.tracks:
            self._say(at, f"names tracks, but {piece.name} has none")
            return None
        for number in end.channels(piece.kind.tracks):
            if number > piece.kind.tracks:
                self._say(at, f"names track {number}, but {piece.name} has {piece.kind.tracks}")
                return None
            if number not in numbers:
                self._say(at, f"names track {number} of {piece.name}, which does not exist; write it under tracks")
                return None
        return end, None

    def _recorder(self, named: str) -> str:
        if named:
            return named
        return next((piece.id for piece in self.pieces.values() if piece.kind.tracks), "")

    def _pair(
        self, first: tuple[End, Port | None], second: tuple[End, Port | None], at: _At, *, route: bool
    ) -> list[tuple[int, int]]:
        """Channels that are joined, pairwise. An end without channels takes as many as the other names."""
        counts = [self._most(each) for each in (first, second)]
        ends = [first[0], second[0]]
        spans = [end.channels(most) for end, most in zip(ends, counts, strict=True)]
        if not ends[0].first:
            spans[0] = range(1, min(counts[0], len(spans[1])) + 1)
        if not ends[1].first:
            spans[1] = range(1, min(counts[1], len(spans[0])) + 1)
        sizes = [len(span) for span in spans]
        if sizes[0] == sizes[1]:
            return list(zip(spans[0], spans[1], strict=True))
        if route and 1 in sizes:
            return [(one, other) for one in spans[0] for other in spans[1]]
        self._say(at, f"joins {sizes[0]} channels to {sizes[1]}; name as many on both sides")
        return []

    def _most(self, end: tuple[End, Port | None]) -> int:
        if end[1] is not None:
            return end[1].channels
        return self.pieces[end[0].piece].kind.tracks or 0

    def _passes(self, piece: BuiltPiece) -> None:
        for each in piece.kind.passes:
            at = ("pieces", piece.id, "item")
            if each.source_of:
                continue
            first, second = self._end(each.from_, at, piece.id), self._end(each.to, at, piece.id)
            if first is None or second is None:
                continue
            for one, other in self._pair(first, second, at, route=True):
                start = self._spot(piece.id, first[0].port, one, "in")
                end = self._spot(piece.id, second[0].port, other, "out")
                self.edges.append(Edge(start, end, Way.PASS, piece.id, ALWAYS, float(each.gain_db)))

    def _link(self, link: Link) -> None:
        first = self._end(link.from_, ("links", link.id, "from"))
        second = self._end(link.to, ("links", link.id, "to"))
        if first is None or second is None or first[1] is None or second[1] is None:
            return
        (one, from_port), (other, to_port) = (first[0], first[1]), (second[0], second[1])
        at = ("links", link.id)
        if from_port.medium != to_port.medium:
            self._say(
                at,
                f"joins {one.piece}:{one.port}, which is {from_port.medium}, to {other.piece}:{other.port}, which is "
                f"{to_port.medium}; put a converter between them",
            )
            return
        if one.piece == other.piece and from_port.medium != "air":
            self._say(at, f"joins {one.piece} to itself; a way inside a piece is a route")
            return
        condition = self.conditions.get(link.id, ALWAYS)
        if from_port.medium in NETWORK:
            self.wrong += socket_taken(link.id, (("from", one), ("to", other)), condition, self.net_links)
        self.joined.setdefault((one.piece, one.port), []).append((other.piece, other.port, condition))
        self.joined.setdefault((other.piece, other.port), []).append((one.piece, one.port, condition))
        if from_port.medium in NETWORK:
            rate = min(from_port.rate_mbit_s, to_port.rate_mbit_s)
            self.net_links.append(NetLink(link.id, one.piece, other.piece, one.port, other.port, condition, rate))
            return
        if from_port.direction == "in" or to_port.direction == "out":
            wrong_end = ("from", one, "in") if from_port.direction == "in" else ("to", other, "out")
            self._say(
                (*at, wrong_end[0]), f"is {wrong_end[1].piece}:{wrong_end[1].port}, which goes {wrong_end[2]} only"
            )
            return
        for a, b in self._pair(first, second, at, route=False):
            self._join(link.id, one, a, other, b, condition, -float(link.loss_db))
            if from_port.direction == to_port.direction == "both":
                self._join(link.id, other, b, one, a, condition, -float(link.loss_db))

    def _join(self, id: str, one: End, a: int, other: End, b: int, condition: Condition, gain_db: float) -> None:
        start = self._spot(one.piece, one.port, a, "out")
        end = self._spot(other.piece, other.port, b, "in")
        self.edges.append(Edge(start, end, Way.LINK, id, condition, gain_db))

    def _stream(self, stream: Stream) -> None:
        first = self._end(stream.from_, ("streams", stream.id, "from"))
        second = self._end(stream.to, ("streams", stream.id, "to"))
        if first is None or second is None:
            return
        for name, end in (("from", first), ("to", second)):
            if end[1] is None or end[1].medium not in NETWORK:
                self._say(("streams", stream.id, name), f"is {end[0]}, which is no network port")
                return
        sender = first[1]
        if not (stream.packet_s if stream.packet_s is not None else sender and sender.packet_s):
            self._say(("streams", stream.id, "packet_time"), "is 0; write the length of a packet, for example 1 ms")
            return
        condition = self.conditions.get(stream.id, ALWAYS)
        for a, b in self._pair(first, second, ("streams", stream.id), route=False):
            start = self._spot(first[0].piece, first[0].port, a, "out")
            end_spot = self._spot(second[0].piece, second[0].port, b, "in")
            self.edges.append(Edge(start, end_spot, Way.STREAM, stream.id, condition))

    def _route(self, route: Route) -> None:
        if route.piece not in self.pieces:
            if route.piece not in self.named:
                self._say(("routes", route.id, "piece"), not_there(route.piece, "the piece", self.named))
            return
        first = self._end(route.from_, ("routes", route.id, "from"), route.piece)
        second = self._end(route.to, ("routes", route.id, "to"), route.piece)
        if first is None or second is None:
            return
        for name, end, wrong in (("from", first, "out"), ("to", second, "in")):
            if end[1] is not None and end[1].direction == wrong:
                self._say(("routes", route.id, name), f"is {end[0]}, which goes {wrong} only")
                return
        condition = self.conditions.get(route.id, ALWAYS)
        for a, b in self._pair(first, second, ("routes", route.id), route=True):
            start = self._spot(route.piece, first[0].port, a, "in")
            to_side: Side = "in" if second[1] is None else "out"
            end_spot = self._spot(route.piece, second[0].port, b, to_side)
            self.edges.append(Edge(start, end_spot, Way.ROUTE, route.id, condition, float(route.gain_db)))

    # What is recorded, heard and entered

    def _tracks(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for track in self.part.tracks:
            recorder = self._recorder(track.recorder)
            piece = self.pieces.get(recorder)
            if piece is None:
                if track.recorder and track.recorder not in self.named:
                    known = {each.id for each in self.pieces.values() if each.kind.tracks}
                    self._say(("tracks", track.id, "recorder"), not_there(track.recorder, "the recorder", known))
                continue
            if track.number > (piece.kind.tracks or 0):
                self._say(
                    ("tracks", track.id, "number"),
                    f"is {track.number}, but {piece.name} has {piece.kind.tracks or 'no'} tracks",
                )
                continue
            spot = self._spot(recorder, TRACK, track.number, "in")
            first = next((id for id, each in found.items() if each == spot), None)
            if first is not None:
                self._say(
                    ("tracks", track.id, "number"),
                    f"is {track.number} of {piece.name}, which '{first}' has; give one of them a free track",
                )
                continue
            found[track.id] = spot
        return found

    def _sources(self) -> dict[str, tuple[int, ...]]:
        found = self._places("sources", self.part.sources)
        known = {source.id for source in self.part.sources}
        for track in self.part.tracks if known else ():
            if track.source and track.source not in known | self.named | {MIX}:
                self._say(("tracks", track.id, "source"), not_there(track.source, "the source", known))
        for name, rows, fields in (
            ("sources", self.part.sources, ("near",)),
            ("feeds", self.part.feeds, ("sources", "without", "own")),
            ("tracks", self.part.tracks, ("sources",)),
        ):
            for row in rows:
                for each in fields:
                    for wanted in getattr(row, each):
                        if wanted not in known:
                            self._say((name, row.id, each), not_there(wanted, "the source", known))
        return found

    def _places(self, name: str, rows: Iterable[Source | Feed]) -> dict[str, tuple[int, ...]]:
        """By id, where a source enters or a listener hears: as many spots as channels."""
        found: dict[str, tuple[int, ...]] = {}
        for row in rows:
            end = self._end(row.at, (name, row.id, "at")) if row.at else None
            if end is None or end[1] is None:
                continue
            side: Side = "in" if end[1].direction == "in" else "out"
            channels = end[0].channels(end[1].channels)
            found[row.id] = tuple(self._spot(end[0].piece, end[0].port, each, side) for each in channels)
        return found

    def _gains(self) -> tuple[dict[Spot, float], dict[tuple[str, str], dict[Spot, float]]]:
        gains: dict[Spot, float] = {}
        for piece in self.pieces.values():
            for text, gain in piece.piece.gains.items():
                gains.update(self._gain(text, float(gain), ("pieces", piece.id, "gains", text), piece.id))
        by_position: dict[tuple[str, str], dict[Spot, float]] = {}
        for changeover in self.part.changeovers:
            for position in changeover.positions:
                here: dict[Spot, float] = {}
                at = ("changeovers", changeover.id, "positions", position.id)
                for text, gain in position.gains.items():
                    here.update(self._gain(text, float(gain), (*at, "gains", text)))
                for name, known_pieces in (("places", position.places), ("clocks", position.clocks)):
                    for wanted in known_pieces:
                        if wanted not in self.named:
                            self._say((*at, name), not_there(wanted, "the piece", self.named))
                for id, named in position.clocks.items():
                    if id in self.pieces:
                        self._clock(named, self.pieces[id], (*at, "clocks", id))
                if here:
                    by_position[(changeover.id, position.id)] = here
        return gains, by_position

    def _gain(self, text: str, gain_db: float, at: _At, inside: str = "") -> dict[Spot, float]:
        end = self._end(text, at, inside)
        if end is None:
            return {}
        if end[1] is None:
            self._say(at, "is set at a track, which has no gain; write it at the port or the route that feeds it")
            return {}
        side: Side = "out" if end[1].direction == "out" else "in"
        return {Spot(end[0].piece, end[0].port, channel, side): gain_db for channel in end[0].channels(end[1].channels)}

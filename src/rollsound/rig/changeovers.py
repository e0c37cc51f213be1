"""What a changeover does: what is kept, what is lost, and what hands must do, in every combination of the rest.

Hands unplug and plug cables; radio and the air need none. A re-patch is a route or a subscription that must be changed
inside a piece because it holds on one side only. A fader moves when other sources hang on it than before.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rollsound.quantities import count, signed
from rollsound.rig.built import Rig, Spot, Way
from rollsound.rig.combining import Combination, holds
from rollsound.rig.model import Changeover, Position
from rollsound.rig.reaching import Reach, Reaching, wanted_pairs

_HANDLESS = ("air", "radio")
_SAME_DB = 0.05
MOST_COMPARED = 512
"""Combinations of the rest in which gain and delay of one source are compared."""


@dataclass(frozen=True)
class GainMove:
    """Gain that is set on one side and not on the other."""

    gain_db: float
    from_: Spot | None
    """Where it is taken off; none when it only comes on."""
    to: Spot | None


@dataclass(frozen=True)
class Lost:
    """A source that arrives on one side of a changeover only."""

    source: str
    target: str
    fails_in: str
    """The position in which it does not arrive."""
    combination: Mapping[str, str]
    """The first combination in which it fails."""
    of: int
    """In how many of the combinations of what matters to it."""
    moved_to: str = ""
    """The track on which it arrives instead, when it does."""


@dataclass(frozen=True)
class Difference:
    """A path that is longer or louder on the other side."""

    source: str
    target: str
    gain_db: float
    delay_s: float


@dataclass(frozen=True)
class Change:
    """One changeover, from one position to another, in every combination of the rest."""

    changeover: str
    before: str
    after: str
    kept: tuple[str, ...]
    """Tracks that have all that they are to have, on both sides, in every combination."""
    lost: tuple[Lost, ...]
    unplug: tuple[str, ...]
    plug: tuple[str, ...]
    routes: tuple[str, ...]
    streams: tuple[str, ...]
    faders: tuple[str, ...]
    pieces_on: tuple[str, ...]
    pieces_off: tuple[str, ...]
    moved_pieces: Mapping[str, tuple[str, str]]
    clocks: tuple[str, ...]
    gains: tuple[GainMove, ...]
    differences: tuple[Difference, ...]
    """Of wanted paths that arrive on both sides, each where the rest makes it most; of ``MOST_COMPARED`` looked at."""
    combinations: int
    """Of the rest, in which it was proven."""
    covered: bool

    @property
    def repatches(self) -> int:
        """Routes and subscriptions to be changed by hand."""
        return len(self.routes) + len(self.streams)

    @property
    def holds(self) -> bool:
        """Whether nothing is lost or moved."""
        return not self.lost


def changes(reaching: Reaching, changeover: Changeover | None = None) -> tuple[Change, ...]:
    """Every pair of positions of a changeover, or of all, in the order they are written."""
    chosen = [changeover] if changeover is not None else list(reaching.rig.part.changeovers)
    return tuple(
        _change(reaching, each, one, other)
        for each in chosen
        for one, other in itertools.combinations(each.positions, 2)
    )


def _change(reaching: Reaching, changeover: Changeover, one: Position, other: Position) -> Change:
    rig = reaching.rig
    cables = {link.id for link in rig.part.links if _is_cable(rig, link.id)}
    before, after = ({**reaching.first, changeover.id: each.id} for each in (one, other))
    matters = [
        (source, target)
        for source, target in wanted_pairs(rig)
        if reaching.connected(source, target) and changeover.id in reaching.reach(source, target).changeovers
    ]
    lost = tuple(
        each for source, target in matters for each in _lost(reaching, changeover.id, one.id, other.id, source, target)
    )
    off = {each.target for each in lost}
    never = {t for s, t in wanted_pairs(rig) if not reaching.connected(s, t) or not reaching.reach(s, t).in_all}
    kept = tuple(id for id in rig.tracks if f"track:{id}" not in off | never)
    differences = tuple(
        each for pair in matters if (each := _difference(reaching, changeover.id, one.id, other.id, pair)) is not None
    )
    covered = all(reaching.reach(*pair).covered for pair in matters)
    return Change(
        changeover=changeover.id,
        before=one.id,
        after=other.id,
        kept=kept,
        lost=lost,
        unplug=_only(rig, one.links, before, after, cables),
        plug=_only(rig, other.links, after, before, cables),
        routes=_either(rig, (*one.routes, *other.routes), before, after),
        streams=_either(rig, (*one.streams, *other.streams), before, after),
        faders=_faders(reaching, before, after),
        pieces_on=tuple(each for each in other.pieces if each in rig.pieces and not rig.in_use(each, before)),
        pieces_off=tuple(each for each in one.pieces if each in rig.pieces and not rig.in_use(each, after)),
        moved_pieces=_places(rig, one, other),
        clocks=_clocks(rig, one, other),
        gains=_gains(rig, before, after),
        differences=differences,
        combinations=reaching.combinations // len(changeover.positions),
        covered=covered,
    )


def _is_cable(rig: Rig, link: str) -> bool:
    if link not in rig.link_ends:
        return False
    end, _ = rig.link_ends[link]
    return rig.pieces[end.piece].ports[end.port].medium not in _HANDLESS


def _only(
    rig: Rig, links: Sequence[str], here: Combination, there: Combination, cables: Iterable[str]
) -> tuple[str, ...]:
    """Cables that are in on this side and not on the other."""
    wanted = set(cables)
    return tuple(
        each
        for each in dict.fromkeys(links)
        if each in wanted and holds(rig.conditions[each], here) and not holds(rig.conditions[each], there)
    )


def _either(rig: Rig, ids: Sequence[str], one: Combination, other: Combination) -> tuple[str, ...]:
    found = dict.fromkeys(each for each in ids if each in rig.conditions)
    return tuple(each for each in found if holds(rig.conditions[each], one) != holds(rig.conditions[each], other))


def _lost(reaching: Reaching, changeover: str, one: str, other: str, source: str, target: str) -> list[Lost]:
    reach = reaching.reach(source, target)
    at = reach.changeovers.index(changeover)
    found: dict[str, list[tuple[str, ...]]] = {}
    looked_at = None if reach.covered else set(reaching.parts(reach.changeovers))
    for chosen in reaching.parts(reach.changeovers):
        if chosen[at] != one:
            continue
        turned = (*chosen[:at], other, *chosen[at + 1 :])
        if looked_at is not None and turned not in looked_at:
            continue
        for fails, arrives in ((turned, chosen), (chosen, turned)):
            if fails not in reach.arrives and arrives in reach.arrives:
                found.setdefault(fails[at], []).append(fails)
    return [
        Lost(
            source,
            target,
            position,
            reaching.whole(reach.changeovers, combinations[0]),
            len(combinations),
            _elsewhere(reaching, reach, combinations[0]),
        )
        for position, combinations in found.items()
    ]


def _elsewhere(reaching: Reaching, reach: Reach, chosen: tuple[str, ...]) -> str:
    """Another track on which the source arrives in this combination, and not in those where all is well."""
    combination = reaching.whole(reach.changeovers, chosen)
    rig = reaching.rig
    for track in rig.tracks:
        target = f"track:{track}"
        if target == reach.target or reach.source in rig.wanted(track) or not reaching.connected(reach.source, target):
            continue
        if reaching.reach(reach.source, target).at(combination):
            return target
    return ""


def _difference(reaching: Reaching, changeover: str, one: str, other: str, pair: tuple[str, str]) -> Difference | None:
    """How much a source that arrives on both sides changes, in the combination of the rest where that is most."""
    reach = reaching.reach(*pair)
    at = reach.changeovers.index(changeover)
    found: list[Difference] = []
    for chosen in itertools.islice(
        (each for each in reaching.parts(reach.changeovers) if each[at] == one), MOST_COMPARED
    ):
        turned = (*chosen[:at], other, *chosen[at + 1 :])
        if chosen in reach.arrives and turned in reach.arrives:
            first, second = (reaching.paths_in(reach, each).paths[0] for each in (chosen, turned))
            found.append(Difference(*pair, second.gain_db - first.gain_db, second.latency_s - first.latency_s))
    return max(found, key=lambda each: (abs(each.gain_db), abs(each.delay_s)), default=None)


def _faders(reaching: Reaching, before: Combination, after: Combination) -> tuple[str, ...]:
    """Faders that other sources hang on than before."""
    rig = reaching.rig
    by_fader: dict[str, list[int]] = {}
    for place, edge in enumerate(rig.edges):
        if edge.way is Way.ROUTE and rig.route_rows[edge.id].fader:
            by_fader.setdefault(rig.route_rows[edge.id].fader, []).append(place)
    states = [
        reaching.state(tuple(reaching.positions), tuple(each[name] for name in reaching.positions))
        for each in (before, after)
    ]
    reached = [{source: reaching.reached_in(state, source) for source in rig.sources} for state in states]
    moved = []
    for fader, places in by_fader.items():
        carried = [
            {
                source
                for source, spots in found.items()
                if any(state.holds(place) and rig.edges[place].start in spots for place in places)
            }
            for state, found in zip(states, reached, strict=True)
        ]
        if carried[0] != carried[1]:
            moved.append(fader)
    return tuple(moved)


def _places(rig: Rig, one: Position, other: Position) -> dict[str, tuple[str, str]]:
    found: dict[str, tuple[str, str]] = {}
    for piece in dict.fromkeys((*one.places, *other.places)):
        if piece in rig.pieces:
            usual = rig.pieces[piece].piece.place
            where = one.places.get(piece, usual), other.places.get(piece, usual)
            if where[0] != where[1]:
                found[piece] = where
    return found


def _clocks(rig: Rig, one: Position, other: Position) -> tuple[str, ...]:
    pieces = dict.fromkeys((*one.clocks, *other.clocks))
    return tuple(
        each
        for each in pieces
        if each in rig.pieces
        and one.clocks.get(each, rig.pieces[each].piece.clock) != other.clocks.get(each, rig.pieces[each].piece.clock)
    )


def _gains(rig: Rig, before: Combination, after: Combination) -> tuple[GainMove, ...]:
    """Gain that differs, what is taken off in one place and put on in another told as a move."""
    spots = dict.fromkeys(spot for gains in rig.position_gains_db.values() for spot in gains)
    differing = {
        spot: delta for spot in spots if abs(delta := rig.gain_at(spot, after) - rig.gain_at(spot, before)) > _SAME_DB
    }
    off = [spot for spot, delta in differing.items() if delta < 0]
    on = [spot for spot, delta in differing.items() if delta > 0]
    moves: list[GainMove] = []
    for spot in off:
        match = next((each for each in on if abs(differing[each] + differing[spot]) < _SAME_DB), None)
        if match is not None:
            on.remove(match)
            moves.append(GainMove(differing[match], spot, match))
        else:
            moves.append(GainMove(differing[spot], spot, None))
    return (*moves, *(GainMove(differing[spot], None, spot) for spot in on))


def sentence(rig: Rig, change: Change) -> str:
    """A change in one sentence: ``Boom 1, cable to radio: 0 re-patches, 1 unplug, 1 plug; +20 dB moves …``."""
    changeover = next(each for each in rig.part.changeovers if each.id == change.changeover)
    names = {position.id: position.name or position.id for position in changeover.positions}
    hands = [count_of(change.repatches, "re-patch", "re-patches"), count(len(change.unplug), "unplug")]
    hands.append(count(len(change.plug), "plug"))
    if change.faders:
        hands.append(f"{count(len(change.faders), 'fader')} moved")
    gains = "".join(f"; {gain_in_words(rig, each)}" for each in change.gains)
    title = f"{changeover.name or changeover.id}, {names[change.before]} to {names[change.after]}"
    return f"{title}: {', '.join(hands)}{gains}"


def gain_in_words(rig: Rig, move: GainMove) -> str:
    """``+20 dB moves from Main recorder, digital-mic 1 to Boom 1 transmitter, digital-mic``."""
    if move.from_ is not None and move.to is not None:
        where = f"from {rig.spot_in_words(move.from_)} to {rig.spot_in_words(move.to)}"
        return f"{signed(abs(move.gain_db))} dB moves {where}"
    where = " and ".join(rig.spot_in_words(spot) for spot in (move.from_, move.to) if spot is not None)
    return f"{signed(move.gain_db)} dB at {where}"


def count_of(number: int, one: str, many: str) -> str:
    """A number of things whose plural is irregular."""
    return f"{number} {one if number == 1 else many}"

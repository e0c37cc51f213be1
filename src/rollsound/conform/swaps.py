"""Tracks that change places: in one take a track carries the card that is another track's all day, and the other way.

The card is the witness: it names its pack by content, whatever the recorder's track is called. A card that changes its
track once and for good is told as packs that changed hands; a card that comes back is told as crossed tracks.

Only tracks placed by sound speak (a place by clock, name or sheet would say what was assumed), and only closed rounds
are told: when Bram's card lies on Runa's track but nothing says what lies on Bram's, that may be a pack handed on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np
from scipy.optimize import linear_sum_assignment

from rollsound.conform.model import Outcome
from rollsound.conform.plan import ConformPlan, TakePlan, TrackPlan
from rollsound.conform.telling import member_of
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.measure.swaps import day_order

SOURCE = "measured on these files"
_BY_SHEET = 1e-3  # what the wearers sheet weighs where the takes are evenly split: less than one take
_BY_FIRST = 1e-6  # and what comes first, where nothing else decides

Name = tuple[str, int]
"""A track's name without case, and which of several of that name in the take."""


@dataclass(frozen=True)
class Crossing:
    """One closed round of tracks, and the takes in which each carries the next one's card.

    ``home`` is the card that stands for each track otherwise, ``heard`` the one it carries in ``takes``. ``since`` is
    set for one lasting change: the take from which it holds; ``before`` and ``after`` are then the cards of each track
    until it and from it on. ``at_edge`` marks a single take at the day's beginning or end, which both readings fit.
    """

    tracks: tuple[str, ...]
    home: tuple[str, ...]
    heard: tuple[str, ...]
    takes: tuple[str, ...]
    otherwise: int
    since: str = ""
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    at_edge: bool = False
    confidence: float = 0.0


@dataclass(frozen=True)
class CrossedTracks:
    """What was found, and the (take, track index) pairs in which it explains why sheet and sound disagree.

    A lasting change explains both sides of itself, as the sheet can be right for one of them only; a sheet that fits
    neither is not explained.
    """

    crossings: tuple[Crossing, ...]
    findings: tuple[Finding, ...]
    explained: frozenset[tuple[str, int]]


class _State(Enum):
    """How a take stands to a crossing."""

    CROSSED = auto()
    PARTLY = auto()  # what is known of it is crossed
    HOME = auto()
    OTHER = auto()


@dataclass(frozen=True)
class _Take:
    plan: TakePlan
    tracks: Mapping[Name, TrackPlan]

    def card(self, name: Name) -> str:
        """The card a track carries by its sound; empty when sound did not tell."""
        track = self.tracks.get(name)
        return track.card_name if track is not None and track.outcome is Outcome.PLACED else ""


def crossed_tracks(plan: ConformPlan, wearers: Mapping[str, str] | None = None) -> CrossedTracks:
    """Look for tracks that carry each other's cards in some takes and their own in others.

    Parameters
    ----------
    wearers
        track name to card name, as the sheet has it; decides only where as many takes speak for one as for the other
    """
    takes = [_Take(take, _named(take)) for take in _in_time(plan.takes)]
    sheet = {name.strip().casefold(): card.casefold() for name, card in (wearers or {}).items()}
    home = _home_cards(takes, sheet)
    rounds: dict[frozenset[tuple[Name, str]], tuple[tuple[Name, str], ...]] = {}
    for take in takes:
        for each in _rounds(take, home):
            rounds.setdefault(frozenset(each), each)
    crossings: list[Crossing] = []
    findings: list[Finding] = []
    explained: set[tuple[str, int]] = set()
    for each in rounds.values():
        for crossing, involved in _judge(takes, dict(each), home, sheet):
            crossings.append(crossing)
            findings.append(_finding(crossing, involved, [name for name, _ in each]))
            told = takes if crossing.since else involved
            explained |= {
                (take.plan.take, take.tracks[name].index)
                for take in told
                for name, card in each
                if take.card(name)
                and (not crossing.since or sheet.get(name[0]) in (card.casefold(), home[name].casefold()))
            }
    return CrossedTracks(tuple(crossings), tuple(findings), frozenset(explained))


def _named(take: TakePlan) -> dict[Name, TrackPlan]:
    out: dict[Name, TrackPlan] = {}
    count: dict[str, int] = {}
    for track in take.tracks:
        name = track.name.strip().casefold()
        count[name] = count.get(name, -1) + 1
        out[(name, count[name])] = track
    return out


def _in_time(takes: Sequence[TakePlan]) -> list[TakePlan]:
    """By their time code; without any, as the plan has them."""
    return [takes[n] for n in day_order([take.start_samples / take.sample_rate_hz for take in takes])]


def _home_cards(takes: Sequence[_Take], sheet: Mapping[str, str]) -> dict[Name, str]:
    """The card that stands for each track, no card for two: the choice that most takes agree with."""
    count: dict[tuple[Name, str], int] = {}
    first: dict[tuple[Name, str], int] = {}
    for n, take in enumerate(takes):
        for name in take.tracks:
            card = take.card(name)
            if card:
                count[name, card] = count.get((name, card), 0) + 1
                first.setdefault((name, card), n)
    names = sorted({name for name, _ in count})
    cards = sorted({card for _, card in count})
    worth = np.zeros((len(names), len(cards)))
    for (name, card), number in count.items():
        by_sheet = _BY_SHEET if sheet.get(name[0]) == card.casefold() else 0.0
        by_first = _BY_FIRST * (1.0 - first[name, card] / len(takes))
        worth[names.index(name), cards.index(card)] = number + by_sheet + by_first
    rows, columns = linear_sum_assignment(worth, maximize=True)
    return {names[r]: cards[c] for r, c in zip(rows, columns, strict=True) if worth[r, c] > 0.0}


def _rounds(take: _Take, home: Mapping[Name, str]) -> list[tuple[tuple[Name, str], ...]]:
    """Closed rounds in one take: each track with the card it carries, which is the next one's."""
    owner = {card: name for name, card in home.items()}
    goes_to = {
        name: owner[card]
        for name in take.tracks
        if name in home and (card := take.card(name)) in owner and owner[card] != name and owner[card] in take.tracks
    }
    out, seen = [], set[Name]()
    for begin in goes_to:
        walk, at = [], begin
        while at in goes_to and at not in seen:
            seen.add(at)
            walk.append(at)
            at = goes_to[at]
        if at in walk:
            own = set(walk[walk.index(at) :])
            out.append(tuple((name, take.card(name)) for name in take.tracks if name in own))
    return out


def _state(take: _Take, heard: Mapping[Name, str], home: Mapping[Name, str]) -> _State:
    cards = {name: card for name in heard if (card := take.card(name))}
    if not cards:
        return _State.OTHER
    if all(card == heard[name] for name, card in cards.items()):
        return _State.CROSSED if len(cards) == len(heard) else _State.PARTLY
    return _State.HOME if all(card == home[name] for name, card in cards.items()) else _State.OTHER


def _judge(
    takes: Sequence[_Take], heard: Mapping[Name, str], home: Mapping[Name, str], sheet: Mapping[str, str]
) -> list[tuple[Crossing, list[_Take]]]:
    """Lasting changes at either end of the day, and what lies between them."""
    states = [_state(take, heard, home) for take in takes]
    at_home = [n for n, state in enumerate(states) if state is _State.HOME]
    crossed = [n for n, state in enumerate(states) if state is _State.CROSSED]
    away = [n for n, state in enumerate(states) if state in (_State.CROSSED, _State.PARTLY)]
    first, last = (at_home[0], at_home[-1]) if at_home else (-1, len(takes))
    # one take against one take: only a sheet can say which of the two is the odd one
    even = len(at_home) == 1 and not all(sheet.get(name[0]) == home[name].casefold() for name in heard)
    fewest = 1 if even else 2
    out = []
    for run, since in (([n for n in away if n > last], -1), ([n for n in away if n < first], first)):
        if len(run) >= fewest and set(run) & set(crossed):
            begin = run[0] if since < 0 else since
            before, after = (home, heard) if since < 0 else (heard, home)
            own = [takes[n] for n in run]
            crossing = _crossing(own, heard, home, len(at_home), takes[begin].plan.take, before, after)
            out.append((crossing, own))
            crossed = [n for n in crossed if n not in run]
    if crossed:
        at_edge = len(crossed) == 1 and bool(at_home) and not first < crossed[0] < last
        own = [takes[n] for n in crossed]
        out.append((_crossing(own, heard, home, len(at_home), at_edge=at_edge), own))
    return out


def _crossing(
    own: Sequence[_Take],
    heard: Mapping[Name, str],
    home: Mapping[Name, str],
    otherwise: int,
    since: str = "",
    before: Mapping[Name, str] | None = None,
    after: Mapping[Name, str] | None = None,
    *,
    at_edge: bool = False,
) -> Crossing:
    whole = next(take for take in own if all(take.card(name) for name in heard))
    known = [take.tracks[name].confidence for take in own for name in heard if take.card(name)]
    return Crossing(
        tracks=tuple(whole.tracks[name].name for name in heard),
        home=tuple(home[name] for name in heard),
        heard=tuple(heard.values()),
        takes=tuple(take.plan.take for take in own),
        otherwise=otherwise,
        since=since,
        before=tuple(before[name] for name in heard) if before else (),
        after=tuple(after[name] for name in heard) if after else (),
        at_edge=at_edge,
        confidence=min(known),
    )


def _finding(found: Crossing, takes: Sequence[_Take], names: Sequence[Name]) -> Finding:
    what, why, remedy = _lasting(found) if found.since else _crossed(found)
    return Finding(
        area=Area.MEDIA,
        weight=Weight.WATCH,
        subject=f"{found.since or _list(found.takes)}, {_list(found.tracks)}",
        kind="packs exchanged" if found.since else "tracks exchanged",
        what=what,
        why=why,
        remedy=remedy,
        source=SOURCE,
        numbers={
            "tracks": float(len(found.tracks)),
            "takes": float(len(found.takes)),
            "takes_otherwise": float(found.otherwise),
            "confidence": found.confidence,
        },
        refs=tuple(_ref(take.plan, take.tracks[name]) for take in takes for name in names if take.card(name)),
    )


def _crossed(found: Crossing) -> tuple[str, str, str]:
    takes = _list(found.takes)
    heard = _list([f"{track} carries {card}" for track, card in zip(found.tracks, found.heard, strict=True)])
    usual = _list([f"{card} is {track}" for track, card in zip(found.tracks, found.home, strict=True)])
    how = "are exchanged" if len(found.tracks) == 2 else "are mixed up"
    why = f"By their sound, {usual} in {_number(found.otherwise)}." if found.otherwise else f"Otherwise {usual}."
    why += " Lines were crossed or tracks named wrongly; the names of these tracks do not say whose voice is on them."
    if found.at_edge:
        why += " This is the first or the last take of them, so packs that changed hands would look the same."
    return (
        f"In {takes} the tracks {_list(found.tracks)} {how}: {heard}.",
        why,
        f"Listen to a line on each; exchange the names in {takes} for post, and check the patch before the next take. "
        "If packs changed hands for it and the tracks followed their wearers, the names are right.",
    )


def _lasting(found: Crossing) -> tuple[str, str, str]:
    after = _list([f"{track} carries {card}" for track, card in zip(found.tracks, found.after, strict=True)])
    before = _list([f"{card} was {track}" for track, card in zip(found.tracks, found.before, strict=True)])
    return (
        f"From {found.since} on, {_list(found.tracks)} wear each other's packs: {after}.",
        f"By their sound, {before} until then. A change that stays speaks for packs that changed hands; lines crossed "
        "once and left so would look the same.",
        f"Listen to a line on each in {found.since}: if the voices fit the names, write the change into the wearers "
        "sheet; if not, exchange the names on that side of the change.",
    )


def _ref(take: TakePlan, track: TrackPlan) -> Ref:
    member = member_of(take, track.index)
    return Ref(path=member.file.path, track=track.index - member.first_track + 1, length_samples=member.frames)


def _list(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _number(takes: int) -> str:
    return "one other take" if takes == 1 else f"{takes} other takes"

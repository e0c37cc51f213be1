"""What the page *Reach* asks for: maps with things tried elsewhere, the why of a place, answers, walk tests fitted."""

from __future__ import annotations

import contextlib
import math
import threading
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from rollsound.errors import InputError

if TYPE_CHECKING:
    from rollsound.actions.reach import Reached
    from rollsound.log.model import Head
    from rollsound.radio.model import Ground, RadioPart
    from rollsound.radio.reach.answer import Comparison, PlaceReach, ReachMap, WalkFit
    from rollsound.show.folder import Show

Place = tuple[float, float]
MOST_COLUMNS = 240
_KEPT = 16
_COARSE = (40, 40)


@dataclass(frozen=True)
class Tried:
    """What is looked at: one transmitter or the worst of all, one layout or all antennas, with things moved."""

    ground: str
    transmitter: str = ""
    layout: str = ""
    places_m: Mapping[str, Place] = field(default_factory=dict)
    """Antennas that stand elsewhere than in the plan."""
    powers_mw: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class LeastOfAll:
    """The least power of a transmitter that holds wherever it sends, and the place that asks for it."""

    power_mw: float | None
    """None where no power of its kind is enough."""
    ground: str
    at: str
    """The area's or the way's name."""


@dataclass(frozen=True)
class Powers:
    """What a transmitter sends with, and what it may be set to."""

    now_mw: float
    offered_mw: tuple[float, ...]


_answers: OrderedDict[tuple[str, int, str, str], Reached] = OrderedDict()
_leasts: OrderedDict[tuple[str, int, str, str], dict[str, LeastOfAll]] = OrderedDict()
_one = threading.Lock()


def answers(show: Show, ground: str, layout: str = "") -> Reached:
    """Reach as the plan stands: areas and lines, least powers, cables, differences; kept until the plan changes.

    Raises
    ------
    InputError
        when there is no such ground, or nothing sends or hears there
    """
    from rollsound.actions.radio_read import Asked
    from rollsound.actions.reach import reach
    from rollsound.radio.carriers.task import Mode, Task

    head = show.store.head()
    key = (str(show.folder), head.revision, ground, layout)
    with _one:
        kept = _answers.get(key)
        if kept is None:
            radio = show.plan().radio
            asked = Asked(show.folder, "show", show.plan().show.title, radio, Task({}, ()), Mode.ALL)
            kept = _answers[key] = reach(asked, ground, layout=layout, points=_COARSE)
            while len(_answers) > _KEPT:
                _answers.popitem(last=False)
    return kept


def answered(show: Show, ground: str) -> bool:
    """Whether the answer for all antennas of a ground is known already."""
    return (str(show.folder), show.store.head().revision, ground, "") in _answers


def least_of_all(show: Show, ground: str, layout: str = "") -> Mapping[str, LeastOfAll]:
    """By transmitter of a ground, the least power that holds on every area and way of every site it sends on.

    A transmitter has one power wherever it goes. ``layout`` is that of the ground; on others all antennas count.
    """
    head = show.store.head()
    key = (str(show.folder), head.revision, ground, layout)
    with _one:
        kept = _leasts.get(key)
        if kept is None:
            kept = _leasts[key] = _least_of_all(show.plan().radio, ground, layout)
            while len(_leasts) > _KEPT:
                _leasts.popitem(last=False)
    return kept


def least_known(show: Show, ground: str) -> bool:
    """Whether the least powers of all are known already, for all antennas of a ground."""
    return (str(show.folder), show.store.head().revision, ground, "") in _leasts


def _least_of_all(radio: RadioPart, ground: str, layout: str) -> dict[str, LeastOfAll]:
    asked = transmitters_of(radio, ground)
    found: dict[str, LeastOfAll] = {}
    for each in radio.grounds:
        ids = [id for id in transmitters_of(radio, each.id) if id in asked]
        with contextlib.suppress(InputError):  # nothing hears there, so nothing there asks for power
            for id, demand in _demands(radio, each, ids, layout if each.id == ground else ""):
                before = found.get(id)
                if before is None or _mw(demand) > _mw(before):
                    found[id] = demand
    return found


def _mw(demand: LeastOfAll) -> float:
    return math.inf if demand.power_mw is None else demand.power_mw


def _demands(radio: RadioPart, ground: Ground, ids: Sequence[str], layout: str) -> Iterator[tuple[str, LeastOfAll]]:
    from rollsound.radio.reach.least_power import least_powers

    if not ids:
        return
    if ground.areas:
        names = {each.id: each.name or each.id for each in ground.areas}
        for least in least_powers(radio, ground.id, ids, layout=layout or None):
            yield least.transmitter, LeastOfAll(least.least_mw, ground.id, names[least.area])
    for way in ground.lines:
        for id in ids:
            yield id, LeastOfAll(_least_along(radio, ground.id, way.id, id, layout), ground.id, way.name or way.id)


def _least_along(radio: RadioPart, ground: str, way: str, transmitter: str, layout: str) -> float | None:
    from rollsound.radio.reach.along import line
    from rollsound.radio.reach.answer import WANTED_SHARE
    from rollsound.radio.reach.compare import with_power

    for power_mw in powers_of(radio, transmitter).offered_mw:
        stronger = with_power(radio, transmitter, power_mw)
        if line(stronger, ground, way, [transmitter], layout=layout or None).weakest_share >= WANTED_SHARE:
            return power_mw
    return None


def powers_of(radio: RadioPart, transmitter: str) -> Powers:
    """The power of a transmitter and those of its kind, with the one it has.

    Raises
    ------
    InputError
        when there is no such transmitter, or it names a kind that is not there
    """
    from rollsound.radio.kinds import transmitter as resolved

    known = next((each for each in radio.transmitters if each.id == transmitter), None)
    if known is None:
        raise InputError(f"no transmitter is called '{transmitter}'; look at the list again")
    found = resolved(radio, known)
    now = float(found.power_mw)
    return Powers(now, tuple(sorted({now, *(float(each) for each in found.powers_mw)})))


def transmitters_of(radio: RadioPart, ground: str) -> tuple[str, ...]:
    """Ids of the microphones that send on a ground; of all that send there, where none is a microphone."""
    from rollsound.radio.model import HIGH_POWER
    from rollsound.radio.reach.ground import ground_of
    from rollsound.radio.reach.link import senders

    here = senders(radio, ground_of(radio, ground))
    return tuple(each.id for each in here if each.kind not in HIGH_POWER) or tuple(each.id for each in here)


def layouts_of(ground: Ground) -> tuple[str, ...]:
    """Names of the layouts of a ground's antennas."""
    from rollsound.radio.reach.link import layouts_of as named

    return tuple(named(ground))


def map_of(radio: RadioPart, tried: Tried, columns: int) -> ReachMap:
    """The map of what is tried.

    Raises
    ------
    InputError
        when an id is unknown, or nothing sends or hears there
    """
    from rollsound.radio.reach.reach_map import reach_map

    changed, ids = _with(radio, tried)
    return reach_map(changed, tried.ground, ids, layout=tried.layout or None, points=_points(radio, tried, columns))


def why(radio: RadioPart, tried: Tried, at_m: Place) -> PlaceReach:
    """Every term between one transmitter at a place and its receiver; of the worst one where none is named.

    Raises
    ------
    InputError
        when an id is unknown, or the place lies outside the ground
    """
    from rollsound.radio.reach.budget import place

    changed, ids = _with(radio, tried)
    found = [place(changed, tried.ground, id, at_m, layout=tried.layout or None) for id in ids]
    if not found:
        raise InputError(f"nothing sends on the ground '{tried.ground}'; write transmitters into the plan")
    return min(found, key=lambda each: (each.share_of_time, each.margin_db))


def compared(radio: RadioPart, tried: Tried, first: str, second: str, columns: int) -> Comparison:
    """Two layouts of one ground, place by place.

    Raises
    ------
    InputError
        when a layout has no antenna of a receiver
    """
    from rollsound.radio.reach.compare import layouts

    changed, ids = _with(radio, tried)
    return layouts(changed, tried.ground, first, second, ids, points=_points(radio, tried, columns))


def fitted(radio: RadioPart, ground: str) -> WalkFit:
    """The readings of a ground fitted.

    Raises
    ------
    InputError
        when there are too few
    """
    from rollsound.radio.reach.walk import fit

    return fit(radio, ground)


def document_fitted(head: Head, ground: str, found: WalkFit) -> dict[str, Any]:
    """The plan's document with what a walk test told of its ground; what it did not tell stays as it is written."""
    from rollsound.actions.radio_page_edits import put
    from rollsound.actions.reach_walk import fitted_values
    from rollsound.show.checked import checked

    radio = checked(head.document, "the plan", lambda place: 0).radio
    before, after = (next(each for each in part.grounds if each.id == ground) for part in (radio, found.radio_after))
    document = head.document
    for way, value in fitted_values(before, after).items():
        document = put(document, ("grounds", ground, *way[:-1]), {way[-1]: value})
    return document


def _with(radio: RadioPart, tried: Tried) -> tuple[RadioPart, tuple[str, ...]]:
    from rollsound.radio.reach.compare import moved, with_power

    for antenna, at_m in tried.places_m.items():
        radio = moved(radio, tried.ground, antenna, at_m)
    for transmitter, power_mw in tried.powers_mw.items():
        radio = with_power(radio, transmitter, power_mw)
    ids = (tried.transmitter,) if tried.transmitter else transmitters_of(radio, tried.ground)
    return radio, ids


def _points(radio: RadioPart, tried: Tried, columns: int) -> tuple[int, int]:
    """As many columns, and rows of the same size."""
    from rollsound.radio.reach.ground import ground_of

    ground = ground_of(radio, tried.ground)
    columns = min(columns, MOST_COLUMNS)
    rows = max(1, min(MOST_COLUMNS, round(columns * ground.depth_m / ground.width_m)))
    return columns, rows

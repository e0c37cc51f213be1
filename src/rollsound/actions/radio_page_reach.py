"""What the page *Reach* asks for: maps with things tried elsewhere, the why of a place, answers, walk tests fitted."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
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
IMAGES = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp"}
LARGEST_IMAGE_BYTES = 20_000_000
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


_answers: OrderedDict[tuple[str, int, str, str], Reached] = OrderedDict()
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
    """The plan's document with what a walk test told of its ground: exponent, body loss and losses of walls."""
    from rollsound.actions.radio_page_edits import put

    after = next(each for each in found.radio_after.grounds if each.id == ground)
    steps = ("grounds", ground)
    values: dict[str, Any] = {"surroundings": after.surroundings}
    if after.exponent is not None:
        values["exponent"] = round(after.exponent, 3)
    if after.body_loss_db is not None:
        values["body_loss"] = f"{after.body_loss_db:.1f} dB"
    document = put(head.document, steps, values)
    for wall in after.walls:
        if wall.loss_db is not None:
            document = put(document, (*steps, "walls", wall.id), {"loss": f"{wall.loss_db:.1f} dB"})
    return document


def image_of(show: Show, ground: Ground) -> tuple[bytes, str]:
    """The picture of a ground and its kind. It lies in the show's folder; nothing else of the machine is ever sent.

    Raises
    ------
    InputError
        when there is none, or it is no picture
    """
    folder = show.folder.resolve()
    path = (folder / ground.image).resolve()
    kind = IMAGES.get(Path(ground.image).suffix.lower())
    inside = path.is_relative_to(folder)
    if (
        not ground.image
        or kind is None
        or not inside
        or not path.is_file()
        or path.stat().st_size > LARGEST_IMAGE_BYTES
    ):
        raise InputError(f"the ground '{ground.id}' has no picture in the show's folder; put one there and name it")
    return path.read_bytes(), kind


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

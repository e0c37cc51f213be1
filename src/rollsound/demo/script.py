"""Who makes a sound when: lines, quiet talk between takes, slates, songs, and the ship's own noises."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from rollsound.demo import ship, song
from rollsound.demo.chance import generator
from rollsound.demo.scenario import CREW, PEOPLE, SAMPLE_RATE_HZ, Block, Day, Site, Take, person
from rollsound.demo.voice import F32, speak

SONG_STARTS_S = 7.0
"""Where the first sung beat falls in a sung take; three clicks lead to it."""
_LINES_START_S = 4.2
_NAMES = {p.name for p in PEOPLE}
_SPEECH = 0.6
_SHOUT = 1.8


@dataclass(frozen=True)
class Event:
    """A sound made by ``who`` at a sample of the day; ``make`` synthesises it."""

    who: str
    day_sample: int
    make: Callable[[], F32]


def _say(who: str, seconds: float, effort: float, rng: np.random.Generator) -> F32:
    return speak(person(who), seconds, rng, effort) * np.float32(_SPEECH)


def _scaled(make: Callable[[], F32], gain: float) -> F32:
    return make() * np.float32(gain)


def events_of(day: Day, block: Block, seed: int) -> list[Event]:
    """Everything heard at a site, in the order it was written down."""
    events: list[Event] = []
    takes = [take for take in day.takes if block.start_s <= take.start_s < block.end_s]
    people = [name for name in block.radios if name in _NAMES]
    for take in takes:
        events += _of_take(day, take, people, seed)
    return events + _between(block, takes, people or ["Runa", "Haru", "Signy"], seed)


def _at(seconds: float) -> int:
    return round(seconds * SAMPLE_RATE_HZ)


def _line(take_s: float, seed: int, who: str, at_s: float, seconds: float, effort: float) -> Event:
    rng = generator(seed, "line", who, f"{take_s + at_s:.3f}")
    return Event(who, _at(take_s + at_s), partial(_say, who, seconds, effort, rng))


def _of_take(day: Day, take: Take, people: list[str], seed: int) -> list[Event]:
    head = [_line(take.start_s, seed, CREW.name, 0.5, 1.5, 1.0)]
    if take.kind in ("take", "false start"):
        head.append(Event("slate", _at(take.start_s + 2.8), ship.clap))
    if take.sung:
        return head + _sung(take, people, seed)
    if take.kind == "wild track":
        return [
            *head,
            Event("horn", _at(take.start_s + 4.0), partial(ship.horn, 3.5)),
            Event("rope", _at(take.start_s + 9.0), partial(ship.rope, generator(seed, "rope", 1))),
            Event("rope", _at(take.start_s + 11.5), partial(ship.rope, generator(seed, "rope", 2))),
        ]
    return head + (_lines(day, take, people, seed) if people and take.kind != "room tone" else [])


def _lines(day: Day, take: Take, people: list[str], seed: int) -> list[Event]:
    """Dialogue: whoever has something go wrong speaks through it; the rest is shared out evenly."""
    rng = generator(seed, "dialogue", take.file)
    fixed: list[tuple[float, float, str, float]] = []
    for damage in day.damages:
        if damage.file != take.file or damage.kind in ("dead", "polarity", "hum"):
            continue
        shout = damage.kind == "clip"
        who = "Runa" if shout and "Runa" in people else damage.track
        if who in people:
            fixed.append((damage.start_s - 0.6, damage.length_s + 1.5, who, _SHOUT if shout else 1.0))
    fixed.sort()
    events = [_line(take.start_s, seed, who, at, length, effort) for at, length, who, effort in fixed]
    said = dict.fromkeys(people, 0.0)
    at = _LINES_START_S
    last = ""
    while at < take.seconds - 1.4:
        quiet = [name for name in people if name != last]
        who = min(quiet, key=lambda name: (said[name] + float(rng.uniform(0.0, 0.8)), name)) if quiet else people[0]
        length = float(rng.uniform(1.0, 2.2))
        room = min(take.seconds - 0.5 - at, length)
        ahead = [begin for begin, _, name, _ in fixed if name == who and begin < at + room + 0.2 and begin > at - 2.5]
        if not ahead:
            events.append(_line(take.start_s, seed, who, at, room, float(rng.uniform(0.8, 1.25))))
            at += room
        said[who] += length
        at += float(rng.uniform(0.1, 0.5))
        last = who
    return events


def _sung(take: Take, people: list[str], seed: int) -> list[Event]:
    start = _at(take.start_s + SONG_STARTS_S)
    events = [
        Event(name, start, partial(_scaled, partial(song.voice_line, name, generator(seed, "song", name)), 0.5))
        for name in people
        if person(name).part
    ]
    events.append(Event("Piano", start, song.piano))
    events.append(Event("Fiddle", start, partial(_scaled, partial(song.fiddle, generator(seed, "fiddle")), 0.5)))
    return events


def _between(block: Block, takes: list[Take], people: list[str], seed: int) -> list[Event]:
    """Quiet talk while nothing rolls."""
    rng = generator(seed, "between", block.site)
    edges = [block.start_s, *(edge for take in takes for edge in (take.start_s, take.end_s)), block.end_s]
    events: list[Event] = []
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        at = begin + 0.6
        while at < end - 2.0:
            who = str(rng.choice(people))
            events.append(
                _line(0.0, seed, who, at, float(rng.uniform(0.7, 1.4)), 0.5 if block.site != Site.BREAK else 0.7)
            )
            at += float(rng.uniform(1.2, 2.6))
    return events

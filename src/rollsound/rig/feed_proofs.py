"""Proofs of what listeners hear, in every combination: nothing that they must not, in time, and kind to their ears."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from rollsound.facts import cautions
from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.quantities import count
from rollsound.rig.built import Edge, Rig, Way
from rollsound.rig.combining import in_words
from rollsound.rig.feeds import Heard, Listening, listening, longest_s, loops, through_air
from rollsound.rig.hearing import ESTIMATE_DB, action_dba
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.naming import listed, place_of, source_name, target_in_words
from rollsound.rig.paths import Path
from rollsound.rig.reaching import Reaching

PRACTICE = "common practice, no source"
_EU = "Directive 2003/10/EC, article 3, as quoted"


def hearing_right(reaching: Reaching, levels: Levels | None = None) -> Iterator[Finding]:
    """Listeners who hear what they must not or their own voice, loudspeakers in open microphones."""
    levels = levels or Levels(reaching)
    for feed in levels.rig.feeds:
        heard = listening(levels, feed)
        forbidden, own = heard.of("forbidden"), heard.of("own")
        if forbidden:
            yield _forbidden(levels, feed, forbidden)
        if own:
            yield _own(levels, feed, own)
    yield from _loops(reaching)
    yield from _spill(levels)


def _forbidden(levels: Levels, feed: str, heard: Sequence[Heard]) -> Finding:
    rig = levels.rig
    listener = target_in_words(rig, f"feed:{feed}")
    names = listed([source_name(rig, each.source) for each in heard])
    first = heard[0]
    return about_plan(
        Area.SIGNAL,
        Weight.STOP,
        rig.feed_rows[feed].listener,
        "what listeners hear",
        f"{listener[:1].upper()}{listener[1:]} hears {names}{_when(levels, first)}, and must not.",
        why=f"It arrives in {_share(first)} combinations of the changeovers that it depends on"
        + (", through a loudspeaker and an open microphone." if first.through_air else "."),
        remedy=_take_out(rig, first.path),
        at=place_of(f"feed:{feed}"),
        numbers={"sources": float(len(heard))},
    )


def _own(levels: Levels, feed: str, heard: Sequence[Heard]) -> Finding:
    rig = levels.rig
    latest = max(heard, key=lambda each: each.latest_s)
    listener = target_in_words(rig, f"feed:{feed}")
    names = listed([source_name(rig, each.source) for each in heard])
    late_ms = latest.latest_s * 1e3
    return about_plan(
        Area.SIGNAL,
        Weight.WATCH,
        rig.feed_rows[feed].listener,
        "what listeners hear",
        f"{listener[:1].upper()}{listener[1:]} hears their own voice ({names}) {late_ms:.1f} ms late"
        f"{_when(levels, latest)}" + (", through a loudspeaker and an open microphone." if latest.through_air else "."),
        why="One's own voice in the ear makes a comb with the head's, and later an echo that stops people talking.",
        remedy=f"Give this listener a sum without it. {_take_out(rig, latest.path)}",
        at=place_of(f"feed:{feed}"),
        source=PRACTICE,
        numbers={"latest_ms": late_ms, "first_notch_hz": 1.0 / (2.0 * latest.latest_s) if late_ms else math.nan},
    )


def _loops(reaching: Reaching) -> Iterator[Finding]:
    rig = reaching.rig
    for loop in loops(reaching):
        changeovers = [each for each in rig.part.changeovers if each.id in loop.changeovers]
        told = in_words(loop.combination, changeovers)
        yield about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            loop.loudspeaker,
            "what listeners hear",
            f"{loop.loudspeaker} sounds into {loop.microphone}, which leads back to it"
            f"{f' with {told}' if told else ''}.",
            why="Once the gain round that way passes 0 dB it howls, and before that it rings.",
            remedy=f"Take {loop.microphone} out of what {loop.loudspeaker} gets, or let it hear by earpiece.",
            at=("rig", "links", loop.link),
            source=PRACTICE,
        )


def _spill(levels: Levels) -> Iterator[Finding]:
    """Sources that come to a track through the air and are not wanted on it."""
    rig, reaching = levels.rig, levels.reaching
    if not any(_in_air(rig, edge) for edge in rig.edges):
        return
    found: dict[str, list[str]] = {}
    for source, target in reaching.pairs():
        what, _, id = target.partition(":")
        if what != "track" or source in rig.wanted(id):
            continue
        if any(through_air(reaching, path.path) for case in levels.cases(source, target) for path in case.paths):
            found.setdefault(source, []).append(target)
    for source, spilt in found.items():
        name = source_name(rig, source)
        yield about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            name,
            "what listeners hear",
            f"{name} comes from a loudspeaker into open microphones and onto "
            f"{listed([target_in_words(rig, each) for each in spilt])}.",
            why="What is on a voice's track cannot be taken off it.",
            remedy="Let those who need it hear by earpiece, or mute it while a take runs.",
            at=place_of(spilt[0]),
            source=PRACTICE,
            numbers={"tracks": float(len(spilt))},
        )


def _in_air(rig: Rig, edge: Edge) -> bool:
    port = rig.port_at(rig.spots[edge.start])
    return edge.way is Way.LINK and port is not None and port.medium == "air"


def hearing_in_time(reaching: Reaching, levels: Levels | None = None) -> Iterator[Finding]:
    """Wanted sources that reach a listener too late."""
    levels = levels or Levels(reaching)
    rig = levels.rig
    for feed, row in rig.feed_rows.items():
        if feed not in rig.feeds:
            continue
        late: list[tuple[Heard, float, str]] = []
        for heard in listening(levels, feed).of("wanted"):
            asked = longest_s(row, rig.source_rows[heard.source])
            if asked is not None and heard.latest_s > asked[0] + 1e-9:
                late.append((heard, *asked))
        if late:
            worst, limit_s, source = max(late, key=lambda each: each[0].latest_s - each[1])
            listener = target_in_words(rig, f"feed:{feed}")
            more = f" and {count(len(late) - 1, 'further source')}" if len(late) > 1 else ""
            yield about_plan(
                Area.SIGNAL,
                Weight.STOP if source == "the plan" else Weight.WATCH,
                row.listener,
                "listening delay",
                f"{source_name(rig, worst.source)}{more} reaches {listener} {worst.latest_s * 1e3:.1f} ms late"
                f"{_when(levels, worst)}; {limit_s * 1e3:g} ms still serve.",
                why="Own voice in the ear: a comb, then an echo."
                if worst.source in row.own
                else "Sound that comes after what is seen is noticed.",
                remedy="Listen before the network and the digital radio, or by an analogue monitor path.",
                at=place_of(f"feed:{feed}"),
                source=source,
                numbers={"latest_ms": worst.latest_s * 1e3, "longest_ms": limit_s * 1e3},
            )


def hearing_safely(reaching: Reaching, levels: Levels | None = None) -> Iterator[Finding]:
    """Listeners whose day comes to an action value, and those of whom no level is known."""
    levels = levels or Levels(reaching)
    rig = levels.rig
    for feed in rig.feeds:
        heard = listening(levels, feed)
        row = rig.feed_rows[feed]
        if heard.day is not None and heard.day.action:
            yield _over(rig, feed, heard)
        elif row.hours and heard.day is None:
            yield about_plan(
                Area.SIGNAL,
                Weight.WATCH,
                row.listener,
                "hearing",
                f"How loud {row.listener} listens for {row.hours:g} h is not known: {heard.unknown}.",
                why=_caution(),
                remedy="Write the sensitivity and resistance of what they wear, or the level at the ear.",
                at=place_of(f"feed:{feed}"),
                source=_EU,
            )


def _over(rig: Rig, feed: str, heard: Listening) -> Finding:
    row, day = rig.feed_rows[feed], heard.day
    assert day is not None
    assert heard.level_dba is not None
    passed = {"lower": "the lower action value", "upper": "the upper action value", "limit": "the limit"}[day.action]
    limit_dba = action_dba(day.action)
    over = day.day_dba > limit_dba + 0.05  # as it is shown
    off_db = math.ceil(day.day_dba - action_dba("lower") + 1e-9)
    estimate = "" if row.level_dba is not None else f", an estimate of {ESTIMATE_DB:g} dB either way"
    greatest = f" The amplifier can give {heard.greatest_db:.0f} dB SPL." if heard.greatest_db is not None else ""
    return about_plan(
        Area.SIGNAL,
        Weight.WATCH,
        row.listener,
        "hearing",
        f"{row.listener} has {heard.level_dba:.0f} dBA at the ear for {row.hours:g} h{estimate}: a day of "
        f"{day.day_dba:.1f} dBA over 8 h, which {'passes' if over else 'reaches'} {passed} of {limit_dba:g} dBA.",
        why=f"{_caution()}{greatest}",
        remedy=f"Turn this listener's path down by {off_db} dB, and begin low.",
        at=place_of(f"feed:{feed}"),
        source=_EU,
        numbers={
            "day_dba": day.day_dba,
            "niosh_percent": day.niosh_percent,
            "osha_percent": day.osha_percent,
            "level_dba": heard.level_dba,
        },
    )


def _caution() -> str:
    return cautions("hearing")[0].text


def _when(levels: Levels, heard: Heard) -> str:
    return levels.in_words(heard.reach.changeovers, heard.latest_in)


def _share(heard: Heard) -> str:
    if heard.reach.in_all:
        return "all"
    return f"{len(heard.reach.arrives)} of {heard.reach.there_are}"


def _take_out(rig: Rig, path: Path) -> str:
    """The last route on the way: the nearest to the listener that carries it."""
    last = next((hop for hop in reversed(path.hops) if hop.way is Way.ROUTE), None)
    if last is None:
        return "Take the link that carries it out."
    return f"Take the route '{last.id}' in {rig.name_of(last.start.piece)} out, or give it a sum of its own."

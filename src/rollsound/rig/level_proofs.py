"""Proofs of levels in every combination: nothing clips, nothing drowns, and no sound arrives twice as a comb."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.quantities import count, signed
from rollsound.rig.arriving import Arrival, Double, doubles, ripple_db
from rollsound.rig.built import Spot, Way
from rollsound.rig.gain_split import gain_split
from rollsound.rig.levels import PathLevels, Stage
from rollsound.rig.levels_everywhere import Case, Cases, Levels
from rollsound.rig.naming import listed, place_of, place_of_gain, source_name, target_in_words
from rollsound.rig.reaching import Reaching, wanted_pairs
from rollsound.rig.speech import SourceLevel, figure, figure_source

_NO_LEVEL = ("time code",)
"""Kinds whose level on a track says nothing about how well they are recorded."""


@dataclass(frozen=True)
class _Clip:
    """One source that clips, at its worst."""

    source: str
    levels: PathLevels
    at: int
    cases: Cases
    case: Case

    @property
    def stage(self) -> Stage:
        return self.levels.stages[self.at]

    @property
    def take_off_db(self) -> int:
        """Whole decibels that bring the loudest peaks under the limit with the reserve."""
        return math.ceil(-self.stage.headroom_db + figure("peak-reserve") - 1e-9)


def clipping(reaching: Reaching, levels: Levels | None = None) -> Iterator[Finding]:
    """Sources whose loudest peaks clip somewhere on their way, at the first stage that does."""
    levels = levels or Levels(reaching)
    worst: dict[tuple[str, object], _Clip] = {}
    for source, target in reaching.pairs():
        cases = levels.cases(source, target)
        for case in cases:
            for path in case.paths:
                if path.clips_at is None:
                    continue
                clip = _Clip(source, path, path.clips_at, cases, case)
                key = (source, clip.stage.spot)
                if key not in worst or clip.stage.headroom_db < worst[key].stage.headroom_db - 1e-9:
                    worst[key] = clip
    alike: dict[tuple[object, ...], list[_Clip]] = {}
    for clip in worst.values():
        item = levels.rig.pieces[clip.stage.spot.piece].item.id
        alike.setdefault((item, clip.stage.spot.port, clip.take_off_db), []).append(clip)
    for clips in alike.values():
        yield _clips(levels, clips)


def _clips(levels: Levels, clips: Sequence[_Clip]) -> Finding:
    rig, clip = levels.rig, clips[0]
    stage = clip.stage
    where = rig.spot_in_words(stage.spot)
    who = listed([source_name(rig, each.source) for each in clips])
    verb = "clips" if len({each.source for each in clips}) == 1 else "clip"
    alike = f" and {count(len(clips) - 1, 'place')} alike" if len({each.stage.spot for each in clips}) > 1 else ""
    level = clip.levels.level
    loud = f"{level.loudest_db:.0f} {level.unit}" if level is not None else ""
    changeovers = clip.cases.reach.changeovers
    combination = levels.reaching.whole(changeovers, clip.case.chosen)
    place = _place_to_take_off(clip)
    if place is not None:
        remedy = f"Take {clip.take_off_db} dB off at {rig.spot_in_words(place.spot)} ({signed(place.gain_db)} dB now)."
        at = place_of_gain(rig, place.spot, combination)
    else:
        remedy = f"Put a pad of {clip.take_off_db} dB before {where}, or go farther from the source."
        at = ("rig", "sources", clip.source)
    return about_plan(
        Area.SIGNAL,
        Weight.STOP,
        who,
        "clipping",
        f"{who} {verb} first at {where}{alike}{levels.in_words(changeovers, clip.case.chosen)}: the loudest peaks "
        f"are {-stage.headroom_db:.1f} dB over what it bears.",
        why=f"At its loudest it enters at {loud} on the mean, with peaks {clip.levels.level.crest_db:.0f} dB higher; "
        "what is clipped once stays clipped, in 32-bit float as well."
        if clip.levels.level is not None
        else "",
        remedy=remedy,
        at=at,
        source=figure_source("peak-reserve"),
        numbers={"headroom_db": stage.headroom_db, "take_off_db": float(clip.take_off_db), "sources": len(clips)},
    )


def _place_to_take_off(clip: _Clip) -> Stage | None:
    """The nearest gain at or before what clips that can be turned down by as much as is needed."""
    step = clip.levels.steps[clip.at]
    clips_before_gain = clip.stage.peak_db - clip.stage.gain_db > step.limit_before_db
    last = clip.at - 1 if clips_before_gain else clip.at
    for stage in reversed(clip.levels.stages[: last + 1]):
        if stage.settable is not None and stage.gain_db - stage.settable[0] >= clip.take_off_db:
            return stage
    return None


def settable(reaching: Reaching) -> Iterator[Finding]:
    """Gains that are written and that nobody can set: out of a port's range, or where there is none."""
    rig = reaching.rig
    written: list[tuple[dict[str, str], dict[Spot, float]]] = [({}, dict(rig.gains_db))]
    written += [({changeover: position}, dict(each)) for (changeover, position), each in rig.position_gains_db.items()]
    for combination, gains in written:
        told: set[tuple[str, str]] = set()
        for spot, gain in gains.items():
            port = rig.port_at(spot)
            if port is None or (spot.piece, spot.port) in told:
                continue
            least, most = (0.0, 0.0) if port.gain_db is None else (port.gain_db.low, port.gain_db.high)
            if least <= gain <= most:
                continue
            told.add((spot.piece, spot.port))
            goes = (
                f"goes from {signed(least)} to {signed(most)} dB" if port.gain_db is not None else "has no gain to set"
            )
            yield about_plan(
                Area.SIGNAL,
                Weight.WATCH,
                rig.name_of(spot.piece),
                "gain",
                f"{rig.spot_in_words(spot)} is written as {signed(gain)} dB, and {goes}.",
                why="Levels are reckoned with what is written.",
                remedy="Write a gain that it has, or the range of gains at its kind.",
                at=place_of_gain(rig, spot, combination),
                numbers={"gain_db": gain, "least_db": least, "most_db": most},
            )


def drowning(reaching: Reaching, levels: Levels | None = None) -> Iterator[Finding]:
    """Sources that come to their track with too little level, or with more noise than their microphone has."""
    levels = levels or Levels(reaching)
    alike: dict[tuple[str, str, int], list[tuple[str, str, PathLevels]]] = {}
    for source, target in _recorded(levels):
        worst: dict[str, PathLevels] = {}
        for case in levels.cases(source, target):
            for path in case.paths:
                fault = _fault(levels, path)
                if fault and (fault not in worst or path.end.peak_db < worst[fault].end.peak_db):
                    worst[fault] = path
        for fault, path in worst.items():
            item = levels.rig.pieces[path.path.start.piece].item.id
            alike.setdefault((fault, item, round(path.end.peak_db)), []).append((source, target, path))
    for (fault, _, _), found in alike.items():
        yield _drowns(levels, fault, found)


def _recorded(levels: Levels) -> Iterator[tuple[str, str]]:
    """Every source with the tracks that are its own; with those of a sum only where it has none of its own."""
    rig = levels.rig
    tracks: dict[str, list[str]] = {}
    for source, target in wanted_pairs(rig):
        if target.startswith("track:") and rig.source_rows[source].kind not in _NO_LEVEL:
            tracks.setdefault(source, []).append(target)
    for source, targets in tracks.items():
        own = [each for each in targets if len(rig.wanted(each.partition(":")[2])) == 1]
        for target in own or targets:
            if levels.reaching.connected(source, target):
                yield source, target


def _fault(levels: Levels, path: PathLevels) -> str:
    if not path.known:
        return ""
    if path.stages[0].unit == "dB SPL":
        if math.isfinite(path.added_noise_db) and path.added_noise_db > figure("later-noise"):
            return "noise"
        if path.end.over_noise_db < figure("quiet-over-noise"):
            return "noise"
    return "level" if path.end.peak_db < levels.rig.part.line_up_dbfs else ""


def _drowns(levels: Levels, fault: str, found: Sequence[tuple[str, str, PathLevels]]) -> Finding:
    rig = levels.rig
    _, target, path = found[0]
    who = listed([source_name(rig, each) for each, _, _ in found])
    comes = "comes" if len(found) == 1 else "come"
    where = target_in_words(rig, target) if len(found) == 1 else "their tracks"
    split = gain_split(rig, path)
    at = place_of(target) if split is None else place_of_gain(rig, split.settings[0].spot, levels.reaching.first)
    remedy = split.reason if split is not None else "Set more gain as early as there is any, or use another microphone."
    if fault == "level":
        what = f"{who} {comes} to {where} with peaks at {signed(path.end.peak_db, 1)} dBFS, under the alignment level."
        why = f"Alignment level is {signed(rig.part.line_up_dbfs)} dBFS; what lies under it is lost in later noise."
    else:
        adds = max(path.added_noise_db, 0.0) if math.isfinite(path.added_noise_db) else 0.0
        what = (
            f"{who} {comes} to {where} {path.end.over_noise_db:.0f} dB over the noise at its quietest; the way adds "
            f"{adds:.1f} dB of it."
        )
        why = "Noise that comes after the microphone should stay under the microphone's own."
    return about_plan(
        Area.SIGNAL,
        Weight.WATCH,
        who,
        "level and noise",
        what,
        why=why,
        remedy=remedy,
        at=at,
        source=figure_source("later-noise"),
        numbers={
            "peak_dbfs": path.end.peak_db,
            "over_noise_db": path.end.over_noise_db,
            "added_noise_db": path.added_noise_db,
        },
    )


def untold(reaching: Reaching, levels: Levels | None = None) -> Iterator[Finding]:
    """Sources whose level is not known at their tracks, and combinations that were not looked at.

    A plan that writes no level at all is not told so: there no proof of levels claims to hold either.
    """
    levels = levels or Levels(reaching)
    if not proven_levels(levels):
        return
    unknown: dict[str, str] = {}
    for row in levels.rig.part.sources:
        if len(row.near) > len(row.near_distance_m):
            unknown[row.id] = f"how far {source_name(levels.rig, row.id)} is from what stands near is not written"
    uncovered = 0
    for source, target in _recorded(levels):
        cases = levels.cases(source, target)
        uncovered += not cases.covered
        for case in cases:
            for path in case.paths:
                if path.unknown:
                    unknown.setdefault(source, path.unknown)
    if unknown:
        source, why = next(iter(unknown.items()))
        yield about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            listed([source_name(levels.rig, each) for each in unknown]),
            "level unknown",
            f"The level of {count(len(unknown), 'source')} is not known everywhere: {why}.",
            why="What is not known is not proven: it may clip or drown.",
            remedy="Write at the source how loud it is and how far away, and at its microphone a sensitivity.",
            at=("rig", "sources", source),
            numbers={"sources": float(len(unknown))},
        )
    if uncovered:
        yield about_plan(
            Area.SIGNAL,
            Weight.WATCH,
            "the rig",
            "level unknown",
            f"Levels of {count(uncovered, 'source')} were worked out in some of their combinations only.",
            why="There are more combinations of what they depend on than are looked at.",
            remedy="Look at the combinations of the day with 'rollsound rig --combination'.",
            numbers={"sources": float(uncovered)},
        )


def combing(reaching: Reaching, levels: Levels | None = None) -> Iterator[Finding]:
    """Sounds that arrive twice at one place, near enough in level and time to be heard."""
    levels = levels or Levels(reaching)
    alike: dict[tuple[object, ...], list[Double]] = {}
    for source, target in dict.fromkeys(wanted_pairs(levels.rig)):
        for each in doubles(levels, source, target):
            if each.heard:
                key = (source, each.earlier.by, each.later.by, round(each.delay_s, 5))
                alike.setdefault(key, []).append(each)
    for found in alike.values():
        yield _combs(levels, found)


def _combs(levels: Levels, found: Sequence[Double]) -> Finding:
    rig, double = levels.rig, found[0]
    name = source_name(rig, double.source)
    places = listed([target_in_words(rig, each.target) for each in found])
    delay_ms = double.delay_s * 1e3
    difference = double.difference_db
    numbers = {"delay_ms": delay_ms, "first_notch_hz": double.notches_hz[0] if double.notches_hz else math.nan}
    if difference is None:
        depth = "levels are not known"
    else:
        up, down = ripple_db(difference)
        numbers.update(difference_db=difference, peaks_db=up)
        depth = f"{difference:.1f} dB apart, so that it rises by {up:.1f} dB"
        depth += f" and falls by {-down:.1f} dB" if math.isfinite(down) else " and cancels"
    ways = (
        f"by {_way(levels, double.earlier)} and by {_way(levels, double.later)}"
        if double.earlier.by == double.later.by
        else f"in the microphones of {source_name(rig, double.earlier.by)} and {source_name(rig, double.later.by)}"
    )
    effect = (
        "it is heard as an echo"
        if double.echo
        else f"first notch at {double.notches_hz[0]:,.0f} Hz, then every {1.0 / double.delay_s:,.0f} Hz"
        if double.notches_hz
        else "its notches lie over what speech has"
    )
    return about_plan(
        Area.SIGNAL,
        Weight.WATCH,
        name,
        "double arrival",
        f"{name} arrives twice at {places}{double.combination}, {ways}, {delay_ms:.2f} ms apart: {effect}.",
        why=f"The two are {depth}; below {figure('comb-level'):.0f} dB apart a comb is heard.",
        remedy=f"Delay {_way(levels, double.earlier)} by {delay_ms:.2f} ms, or take one of the two out of the sum.",
        at=place_of(double.target),
        source=figure_source("comb-level"),
        numbers=numbers,
    )


def _way(levels: Levels, arrival: Arrival) -> str:
    path = arrival.levels.path
    last = next((hop for hop in reversed(path.hops) if hop.way is not Way.PASS), None)
    through = f"'{last.id}'" if last is not None else levels.rig.spot_in_words(path.start)
    return f"{source_name(levels.rig, arrival.by)} through {through}"


def proven_levels(levels: Levels) -> bool:
    """Whether there is any source whose level is known, so that a proof of levels says something."""
    return any(isinstance(levels.level(each), SourceLevel) for each in levels.rig.sources)

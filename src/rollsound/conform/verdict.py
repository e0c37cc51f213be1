"""Judging a day: sound picks the card, the card's clock must agree, and silent takes get their place from it.

Longer than most files: every way a track can end is weighed against the others in one place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from rollsound.conform.clock import ClockModel, Observation, fit_clock_model
from rollsound.conform.coherence import Mic
from rollsound.conform.day import CardDay, Day, DayAlignment, Key, Trial
from rollsound.conform.model import KNOT_SECONDS, CardPiece, ClockMap, Outcome, Place, TrackAlignment
from rollsound.conform.sources import CardSource
from rollsound.timecode.clocks import clock_is_plausible, stamp_error

_EQUAL_EXPLAINED = 0.03
_EQUAL_SCATTER_DB = 0.15
_LARGEST_MODEL_SIGMA = 480.0
_SURE_MODEL_SIGMA = 1.0
_STRAIGHT = 0.01
_OBSERVE_SECONDS = 30.0


@dataclass(frozen=True, eq=False)
class _Choice:
    """The card that won a track: its trials (one a recording), how it was named, and a card it cannot be told from."""

    card: str
    trials: tuple[Trial, ...]
    rival: str = ""
    overruled: str = ""

    @property
    def main(self) -> Trial:
        return max(self.trials, key=lambda t: t.alignment.windows * t.alignment.mic.explained)


def decide(day: Day, place: Place, path_delay_seconds: float | Mapping[str, float]) -> DayAlignment:
    """Judge every track of every take, and say what became of every card."""
    choices = {key: choice for key in day.trials if (choice := _choose(day, key)) is not None}
    usual = _usual_cards(day, choices)
    clocks = {card.name: model for card in day.cards if (model := _clock(day, card.name, choices)) is not None}
    tracks = []
    for key in sorted(day.trials):
        found = _judge(day, key, choices.get(key), usual, clocks)
        name = day.takes[key[0]].track_names[key[1]]
        delay = path_delay_seconds if isinstance(path_delay_seconds, int | float) else path_delay_seconds.get(name, 0.0)
        tracks.append(_placed_at(found, place, float(delay) * found.take_rate_hz))
    cards = tuple(_card_day(day, card, tracks, clocks.get(card.name)) for card in day.cards)
    return DayAlignment(tuple(tracks), cards)


def _choose(day: Day, key: Key) -> _Choice | None:
    good: dict[str, list[Trial]] = {}
    for trial in day.trials[key]:
        if trial.alignment.same_mic:
            good.setdefault(trial.card, []).append(trial)
    if not good:
        return None
    hinted, by = day.hints[key]
    ranked = sorted(good.items(), key=lambda item: -max(_worth(t) for t in item[1]))
    best = ranked[0]
    rival = ""
    for other in ranked[1:]:
        if _equal(best[1], other[1]):
            if best[0] in hinted and other[0] not in hinted:
                continue
            if other[0] in hinted and best[0] not in hinted:
                best = other
                continue
            rival = other[0]
    overruled = ", ".join(hinted) if by == "sheet" and best[0] not in hinted else ""
    return _Choice(best[0], tuple(best[1]), rival, overruled)


def _worth(trial: Trial) -> float:
    mic = trial.alignment.mic
    return mic.explained - 0.05 * mic.gain_scatter_db


def _equal(a: list[Trial], b: list[Trial]) -> bool:
    x, y = max(a, key=_worth).alignment.mic, max(b, key=_worth).alignment.mic
    return (
        abs(x.explained - y.explained) < _EQUAL_EXPLAINED
        and abs(x.gain_scatter_db - y.gain_scatter_db) < _EQUAL_SCATTER_DB
    )


def _usual_cards(day: Day, choices: Mapping[Key, _Choice]) -> dict[str, list[tuple[float, str]]]:
    """For each track name, which card it was at what time, where sound told."""
    out: dict[str, list[tuple[float, str]]] = {}
    for (take, track), choice in choices.items():
        if not choice.rival:
            at = day.times[take]
            out.setdefault(day.takes[take].track_names[track], []).append((0.0 if at is None else at, choice.card))
    return out


def _expected_card(day: Day, key: Key, usual: Mapping[str, list[tuple[float, str]]]) -> tuple[str, str]:
    """The card a track without a verdict should have, and by what: sound in the nearest take, sheet, or name."""
    name = day.takes[key[0]].track_names[key[1]]
    at = day.times[key[0]] or 0.0
    if usual.get(name):
        return min(usual[name], key=lambda item: abs(item[0] - at))[1], "sound in other takes"
    cards, by = day.hints[key]
    taken = {card for own in usual.values() for _, card in own}
    free = [card for card in cards if card not in taken]
    if not free:
        return "", ""
    return free[0], "the wearers sheet" if by == "sheet" else "its name"


# ---- clocks


def _clock(day: Day, card: str, choices: Mapping[Key, _Choice]) -> ClockModel | None:
    rate = day.takes[0].sample_rate_hz if day.takes else 48_000
    seen: list[Observation] = []
    ratio = None
    for (take, _), choice in choices.items():
        start = day.times[take]
        if choice.card != card or choice.rival or start is None or day.takes[take].sample_rate_hz != rate:
            continue
        for trial in choice.trials:
            own = day.recordings[trial.recording].sample_rate_hz / rate * float(trial.alignment.stamp)
            ratio = own if ratio is None else ratio
            if own == ratio:
                seen += _observations(day, take, trial, start * rate)
    return fit_clock_model(card, seen, ratio, rate) if ratio is not None else None


def _observations(day: Day, take: int, trial: Trial, start: float) -> list[Observation]:
    alignment, source = trial.alignment, day.takes[take]
    clock = alignment.map
    if clock is None:
        return []
    low, high = _covered(clock, source.frames, day.recordings[trial.recording].frames)
    cuts = [low, *(float(s.take_frame) for s in alignment.steps if low < s.take_frame < high), high]
    out = []
    for a, b in pairwise(cuts):
        many = 2 + (int((b - a) / source.sample_rate_hz / _OBSERVE_SECONDS) if alignment.curved else 0)
        n = np.linspace(a, max(b - 1.0, a + 1.0), many)
        sigma = max(alignment.uncertainty_samples, 0.02)
        y = clock.at(n)
        out.append(
            Observation(
                source.name,
                trial.recording,
                tuple(float(v) for v in start + n),
                tuple(float(v) for v in y),
                (sigma,) * many,
            )
        )
    return out


def _covered(clock: ClockMap, frames: int, card_frames: int) -> tuple[float, float]:
    low = max(clock.frame_of(0.0), 0.0)
    high = min(clock.frame_of(float(card_frames)), float(frames))
    return low, max(high, low + 1.0)


# ---- tracks


def _judge(
    day: Day,
    key: Key,
    choice: _Choice | None,
    usual: Mapping[str, list[tuple[float, str]]],
    clocks: Mapping[str, ClockModel],
) -> TrackAlignment:
    if choice is not None:
        return _placed(day, key, choice, clocks.get(choice.card))
    card, by = _expected_card(day, key, usual)
    refused = [t for t in day.trials[key] if t.alignment.mic.verdict is Mic.OTHER or t.alignment.found]
    if day.lively[key]:
        claimed = {card, *(day.hints[key][0] if day.hints[key][1] == "sheet" else ())}
        against = [t for t in refused if t.card in claimed]
        if against:
            return _other_mic(day, key, max(against, key=lambda t: t.likeness))
    if not card:
        why = "the track is silent and" if not day.lively[key] else "no card holds its sound, and"
        heard = f" ({', '.join(dict.fromkeys(t.card for t in refused))} heard it from another place)" if refused else ""
        return _none(day, key, Outcome.NO_CARD, f"No card: {why} neither sheet nor names give it one{heard}")
    return _by_model(day, key, card, by, clocks.get(card))


def _base(day: Day, key: Key) -> tuple[str, int, str]:
    take = day.takes[key[0]]
    return take.name, key[1], take.track_names[key[1]]


def _none(day: Day, key: Key, outcome: Outcome, reason: str, card: str = "") -> TrackAlignment:
    take, index, name = _base(day, key)
    return TrackAlignment(
        take, index, name, outcome, reason + ".", card_name=card, take_rate_hz=day.takes[key[0]].sample_rate_hz
    )


def _other_mic(day: Day, key: Key, trial: Trial) -> TrackAlignment:
    found = trial.alignment
    base = _none(day, key, Outcome.OTHER_MIC, found.reason, trial.card)
    return replace(base, coherence=found.mic.coherence, residual_samples=found.sigma_samples)


def _placed(day: Day, key: Key, choice: _Choice, clock: ClockModel | None) -> TrackAlignment:
    take, index, name = _base(day, key)
    main, source = choice.main, day.takes[key[0]]
    found = main.alignment
    pieces = tuple(
        p
        for t in choice.trials
        if t.alignment.map is not None
        for p in _pieces(day, t.recording, t.alignment.map, source.frames)
    )
    if not pieces:
        return _none(
            day, key, Outcome.NOT_COVERED, f"The card {choice.card} does not reach into this take", choice.card
        )
    longest = max(pieces, key=lambda p: p.stop - p.start)
    card_rate = day.recordings[main.recording].sample_rate_hz
    offset, ppm = _line_of(longest.map, card_rate / source.sample_rate_hz)
    if found.steps:
        offset, ppm = float(longest.map.at(0.0)), (float(found.stamp) * (1.0 + found.rate_ppm * 1e-6) - 1.0) * 1e6
    outcome, reason = Outcome.PLACED, found.reason
    if choice.overruled:
        reason += f"; the wearers sheet says {choice.overruled}, the sound says {choice.card}"
    if choice.rival:
        outcome = Outcome.AMBIGUOUS
        reason = (
            f"The cards {choice.card} and {choice.rival} hold the same sound equally well; "
            "name the right one in the wearers sheet"
        )
    elif clock is not None and take in clock.contradicting:
        outcome, reason = Outcome.CONTRADICTS, _contradiction(day, key, choice.card, main, clock)
    stamped = stamp_error(ppm)
    if stamped is not None:
        reason += f"; {stamped.sentence[0].lower()}{stamped.sentence[1:]}"
    elif not clock_is_plausible(ppm):
        outcome = Outcome.CONTRADICTS
        reason = f"The sound fits, but at {ppm:+.0f} ppm, which neither a crystal nor a known wrong stamp explains"
    if len(pieces) > 1:
        reason += f"; the take runs through {len(pieces)} files of the card"
    missing = source.frames - sum(p.stop - p.start for p in pieces)
    if missing > source.sample_rate_hz // 10:
        reason += f"; {missing / source.sample_rate_hz:.1f} s of the take are not on the card"
    return TrackAlignment(
        take,
        index,
        name,
        outcome,
        reason + ".",
        card_name=choice.card,
        card_path=longest.card_path,
        card_channel=longest.card_channel,
        map=longest.map,
        offset_samples=offset,
        rate_ppm=ppm,
        residual_samples=found.sigma_samples,
        uncertainty_samples=found.uncertainty_samples,
        confidence=found.confidence if outcome is Outcome.PLACED else 0.5 * found.confidence,
        coherence=found.mic.coherence,
        polarity=found.polarity,
        steps=found.steps,
        pieces=pieces,
        take_rate_hz=source.sample_rate_hz,
        card_rate_hz=card_rate,
        matched_by="sound" if choice.card not in day.hints[key][0] else day.hints[key][1],
    )


def _contradiction(day: Day, key: Key, card: str, trial: Trial, clock: ClockModel) -> str:
    away = float("nan")
    start, found = day.times[key[0]], trial.alignment
    if start is not None and found.map is not None:
        x = start * clock.sample_rate_hz
        segment = clock.segment_at(trial.recording, x)
        if segment is None:
            segment = next(
                (
                    s
                    for o, s in zip(clock.observations, clock.segments, strict=True)
                    if s >= 0 and o.recording == trial.recording
                ),
                None,
            )
        if segment is not None:
            away = float(found.map.at(0.0)) - float(clock.predict(segment, np.array([x]))[0][0])
    return (
        f"The sound lies {away:+.1f} samples from where the other takes put {card}'s clock: "
        "another microphone at a distance, or a time stamp that jumped; listen before using it"
    )


def _line_of(clock: ClockMap, ratio: float) -> tuple[float, float]:
    n = clock.take_frames.astype(np.float64)
    slope, offset = (
        np.polyfit(n, clock.card_positions, 1)
        if n.size > 2
        else (
            (clock.card_positions[1] - clock.card_positions[0]) / (n[1] - n[0]),
            clock.card_positions[0] - n[0] * (clock.card_positions[1] - clock.card_positions[0]) / (n[1] - n[0]),
        )
    )
    return float(offset), (float(slope) / ratio - 1.0) * 1e6


def _pieces(day: Day, number: int, clock: ClockMap, frames: int) -> list[CardPiece]:
    """The share of each file of a recording in a take, with the map counted from that file's first sample."""
    recording = day.recordings[number]
    out = []
    edges = recording.edges()
    for file, first, last in zip(recording.files, edges[:-1], edges[1:], strict=True):
        own = clock.shifted(-float(first))
        start = max(int(np.ceil(own.frame_of(0.0))), 0)
        stop = min(int(np.ceil(own.frame_of(float(last - first)))), frames)
        if stop - start > 1:
            out.append(CardPiece(file.path, recording.channel, start, stop, own))
    return out


def _by_model(day: Day, key: Key, card: str, by: str, clock: ClockModel | None) -> TrackAlignment:
    source, start = day.takes[key[0]], day.times[key[0]]
    why = "The track is silent" if not day.lively[key] else "The track holds nothing that can be compared"
    if start is None:
        return _none(day, key, Outcome.NOT_FOUND, f"{why}, and without time code nothing else gives it a place", card)
    near = [n for n, r in enumerate(day.recordings) if r.card == card and _overlap(day, n, key[0]) > 0]
    if not near:
        return _none(day, key, Outcome.NOT_COVERED, _not_covered(day, key, card, by), card)
    number = max(near, key=lambda n: _overlap(day, n, key[0]))
    if clock is None:
        return _none(day, key, Outcome.NOT_FOUND, f"{why}, and no other take tells of {card}'s clock", card)
    x = start * clock.sample_rate_hz + np.array([0.0, source.frames / 2, float(source.frames)])
    segment = clock.segment_at(number, float(x[1]))
    if segment is None:
        if any(o.recording == number for o in clock.observations):
            reason = f"{why}, and {card} was jammed anew before or after it: it has two possible places"
            return _none(day, key, Outcome.AMBIGUOUS, reason, card)
        return _none(
            day, key, Outcome.NOT_FOUND, f"{why}, and nothing in this recording of {card} could be measured", card
        )
    y, sigma = clock.predict(segment, x)
    worst = float(np.max(sigma))
    if worst > _LARGEST_MODEL_SIGMA:
        reason = f"{why}, and {card}'s clock is known only to {worst:.0f} samples here"
        return _none(day, key, Outcome.NOT_FOUND, reason, card)
    clock_map = _model_map(y, source.frames, source.sample_rate_hz)
    pieces = tuple(_pieces(day, number, clock_map, source.frames))
    if not pieces:
        return _none(day, key, Outcome.NOT_COVERED, _not_covered(day, key, card, by), card)
    longest = max(pieces, key=lambda p: p.stop - p.start)
    card_rate = day.recordings[number].sample_rate_hz
    offset, ppm = _line_of(longest.map, card_rate / source.sample_rate_hz)
    take, index, name = _base(day, key)
    doubt = "" if worst <= _SURE_MODEL_SIGMA else ", so listen to the joint"
    return TrackAlignment(
        take,
        index,
        name,
        Outcome.BY_MODEL,
        f"{why}; {card} (by {by}) is placed by its clock over the day, to {max(worst, 0.01):.2f} samples{doubt}.",
        card_name=card,
        card_path=longest.card_path,
        card_channel=longest.card_channel,
        map=longest.map,
        offset_samples=offset,
        rate_ppm=ppm,
        residual_samples=clock.residual_samples,
        uncertainty_samples=worst,
        confidence=float(np.clip(1.0 / (1.0 + worst / 4.0), 0.0, 0.95)),
        pieces=pieces,
        take_rate_hz=source.sample_rate_hz,
        card_rate_hz=card_rate,
        matched_by=by,
    )


def _model_map(y: np.ndarray[tuple[int, ...], np.dtype[np.float64]], frames: int, rate: int) -> ClockMap:
    bend = float(y[1] - 0.5 * (y[0] + y[2]))
    if abs(bend) < _STRAIGHT:
        return ClockMap(np.array([0, frames], np.int64), np.array([y[0], y[2]]))
    knots = np.unique(np.round(np.linspace(0, frames, int(frames / (KNOT_SECONDS * rate)) + 2)).astype(np.int64))
    u = knots / frames
    return ClockMap(knots, y[0] + (y[2] - y[0]) * u + 4.0 * bend * u * (1.0 - u))


def _overlap(day: Day, number: int, take: int) -> float:
    base, start = day.bases[number], day.times[take]
    if base is None or start is None:
        return 0.0
    recording = day.recordings[number]
    length = recording.frames / recording.sample_rate_hz / float(base.stamp)
    return min(start + day.takes[take].seconds, base.start_seconds + length) - max(start, base.start_seconds)


def _not_covered(day: Day, key: Key, card: str, by: str) -> str:
    own = [r for r in day.recordings if r.card == card]
    dates = sorted({r.date for r in own if r.date})
    wanted = day.takes[key[0]].date
    if dates and wanted and wanted not in dates:
        return f"The card {card} (by {by}) is of another day: its files are dated {', '.join(dates)}, the take {wanted}"
    return f"The card {card} (by {by}) was not recording during this take"


def _placed_at(found: TrackAlignment, place: Place, delay: float) -> TrackAlignment:
    """For ``source``: the radio track is late, so the sound at the microphone lies later on the card by its delay."""
    if place is Place.TRACK or found.map is None:
        return replace(found, place=place)
    shift = delay * found.ratio
    pieces = tuple(replace(p, map=p.map.shifted(shift)) for p in found.pieces)
    return replace(
        found,
        place=place,
        path_delay_samples=delay,
        map=found.map.shifted(shift),
        offset_samples=found.offset_samples + shift,
        pieces=pieces,
    )


# ---- cards


def _card_day(day: Day, source: CardSource, tracks: list[TrackAlignment], clock: ClockModel | None) -> CardDay:
    card = source.name
    count = Counter(t.track_name for t in tracks if t.card_name == card and t.outcome.usable)
    dates = {r.date for r in day.recordings if r.card == card and r.date}
    days = {t.date for t in day.takes if t.date}
    if count:
        note = clock.sentence if clock is not None else "Aligned take by take; no clock over the day is known."
    elif dates and days and not dates & days:
        note = f"A card of another day: dated {', '.join(sorted(dates))}, the takes {', '.join(sorted(days))}."
    elif any(card in t.reason for t in tracks if t.outcome is Outcome.AMBIGUOUS):
        note = "Another card holds the same sound equally well, so neither was used."
    else:
        note = "No track of any take holds this card's sound."
    return CardDay(card, source.files, tuple(sorted(count.items(), key=lambda item: -item[1])), clock, note)

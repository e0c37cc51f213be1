"""A whole day: which card is which track, where every take lies on it, and what each card's clock did.

Time code narrows the search, the wearers sheet and names are asked first, sound decides. Jobs are independent and
picklable: hand in an executor to run them on several cores.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeVar

from rollsound.conform.anchor import AnchorJob, Base, Excerpt, excerpt_of, find_base, worth_trying
from rollsound.conform.day import Day, DayAlignment, Double, Key, Trial
from rollsound.conform.doubles import tell_doubles, without_doubles
from rollsound.conform.envelope import Envelope
from rollsound.conform.hints import hinted_cards, may_be_radio
from rollsound.conform.model import Place
from rollsound.conform.pairs import FeatureJob, PairJob, align_pair, likeness, make_features
from rollsound.conform.sources import CardSource, Recording, TakeSource
from rollsound.conform.verdict import decide
from rollsound.log import WearerRow
from rollsound.progress import Progress

J = TypeVar("J")
R = TypeVar("R")

_LIVELY_SECONDS = 1.0
_TRUST_HINT = 0.7
_RIVAL = 0.93
_MOST_CANDIDATES = 3
_LEAST_OVERLAP_SECONDS = 1.0
_MARGIN_SECONDS = 2.0


def align_day(
    takes: Sequence[TakeSource],
    cards: Sequence[CardSource],
    *,
    wearers: Sequence[WearerRow] | Mapping[str, str] = (),
    progress: Progress | None = None,
    executor: Executor | None = None,
    place: Place = Place.TRACK,
    path_delay_seconds: float | Mapping[str, float] = 0.0,
) -> DayAlignment:
    """Match and align every radio track of every take.

    Parameters
    ----------
    wearers : sequence of WearerRow, or mapping from track name to card name
        who wore which card; a hint that sound may overrule
    executor : Executor or None
        runs the jobs (threads or processes); one after the other without
    place : Place
        ``source`` puts a card where its sound was at the microphone: later on the card by the path's delay
    path_delay_seconds : float or mapping from track name
        the radio path's delay, used with ``source`` only

    Source: matching by sound as in the modules named in ``align``; the order of asking is common practice, no source.
    """
    run = _Runner(executor, progress or Progress())
    rows = [WearerRow(track=t, card=c) for t, c in wearers.items()] if isinstance(wearers, Mapping) else list(wearers)
    state = _State(list(takes), list(cards), rows, _first_date(takes))
    state.read_features(run)
    state.find_bases(run)
    state.try_pairs(run)
    day = Day(
        tuple(takes),
        tuple(cards),
        state.recordings,
        tuple(state.times),
        state.bases,
        state.trials,
        state.lively,
        state.hints,
    )
    return tell_doubles(decide(day, place, path_delay_seconds), state.doubles)


class _Runner:
    """Does jobs in order or on an executor, and tells."""

    def __init__(self, executor: Executor | None, progress: Progress) -> None:
        self._executor, self._progress = executor, progress

    def __call__(self, label: str, work: Callable[[J], R], jobs: Sequence[J]) -> list[R]:
        self._progress.tell(label, 0, len(jobs), "jobs")
        if self._executor is None:
            out = []
            for n, job in enumerate(jobs):
                out.append(work(job))
                self._progress.tell(label, n + 1, len(jobs), "jobs")
            return out
        futures = {self._executor.submit(work, job): n for n, job in enumerate(jobs)}
        results: dict[int, R] = {}
        try:
            for done in as_completed(futures):
                results[futures[done]] = done.result()
                self._progress.tell(label, len(results), len(jobs), "jobs")
        except BaseException:
            for future in futures:
                future.cancel()
            raise
        return [results[n] for n in range(len(jobs))]


@dataclass
class _State:
    takes: list[TakeSource]
    cards: list[CardSource]
    wearers: list[WearerRow]
    first_date: datetime.date | None
    recordings: tuple[Recording, ...] = ()
    envelopes: dict[Key, Envelope] = field(default_factory=dict)
    card_envelopes: dict[int, Envelope] = field(default_factory=dict)
    excerpts: dict[Key, Excerpt] = field(default_factory=dict)
    bases: dict[int, Base | None] = field(default_factory=dict)
    hints: dict[Key, tuple[tuple[str, ...], str]] = field(default_factory=dict)
    trials: dict[Key, list[Trial]] = field(default_factory=dict)
    lively: dict[Key, bool] = field(default_factory=dict)
    doubles: tuple[Double, ...] = ()

    @property
    def times(self) -> list[float | None]:
        """Start of every take in seconds, days after the first counted on."""
        return [self._seconds(t.start_seconds, t.date) for t in self.takes]

    @property
    def other_day(self) -> dict[int, bool]:
        """Whether a recording is stamped with another date."""
        return {n: self._days(r.date) not in (None, 0, 1) for n, r in enumerate(self.recordings)}

    def _days(self, date: str) -> int | None:
        own = _date(date)
        return None if own is None or self.first_date is None else (own - self.first_date).days

    def _seconds(self, start: float | None, date: str) -> float | None:
        days = self._days(date)
        return None if start is None else start + 86_400.0 * (days if days in (-1, 1) else 0)

    def read_features(self, run: _Runner) -> None:
        self.recordings = tuple(r for card in self.cards for r in card.recordings())
        tracks = [
            tuple(
                i
                for i, name in enumerate(t.track_names)
                if (t.tracks is None or i in t.tracks) and may_be_radio(name, self.wearers)
            )
            for t in self.takes
        ]
        jobs = [FeatureJob(t, own) for t, own in zip(self.takes, tracks, strict=True)]
        jobs += [FeatureJob(r, (r.channel,)) for r in self.recordings]
        found = run("listen", make_features, jobs)
        times = self.times
        for n, own in enumerate(tracks):
            for track, envelope in zip(own, found[n], strict=True):
                key = (n, track)
                self.envelopes[key] = envelope
                start = times[n]
                self.excerpts[key] = excerpt_of(
                    self.takes[n].name, track, float("nan") if start is None else start, envelope
                )
                dbfs = envelope.levels_dbfs()
                self.lively[key] = float((dbfs > -85.0).sum()) * envelope.hop_seconds >= _LIVELY_SECONDS
                self.hints[key] = hinted_cards(self.takes[n].track_names[track], self.cards, self.wearers)
                self.trials[key] = []
        self._leave_out_doubles({n: found[len(self.takes) + n][0] for n in range(len(self.recordings))})

    def _leave_out_doubles(self, envelopes: dict[int, Envelope]) -> None:
        rates = Counter(take.sample_rate_hz for take in self.takes)
        usual = max(rates, key=lambda rate: (rates[rate], rate), default=0)
        kept, doubles = without_doubles(self.recordings, envelopes, usual)
        self.recordings = tuple(self.recordings[n] for n in kept)
        self.card_envelopes = {new: envelopes[n] for new, n in enumerate(kept)}
        self.doubles = tuple(doubles)

    def find_bases(self, run: _Runner) -> None:
        usable = [(k, e) for k, e in self.excerpts.items() if self.lively[k] and e.at_seconds == e.at_seconds]
        jobs = []
        for n, recording in enumerate(self.recordings):
            start = None if self.other_day[n] else self._seconds(recording.start_seconds, recording.date)
            length = recording.frames / recording.sample_rate_hz
            hinted = frozenset(k[1] for k, _ in usable if recording.card in self.hints[k][0])
            order = worth_trying([e for _, e in usable], hinted, None if start is None else (start, start + length))
            jobs.append(AnchorJob(self.card_envelopes[n], start, tuple(order[:60])))
        self.bases = dict(enumerate(run("find the cards' times", find_base, jobs)))

    def try_pairs(self, run: _Runner) -> None:
        order = {key: self._candidates(key) for key in self.envelopes if self.lively[key]}
        tried: dict[Key, int] = dict.fromkeys(order, 0)
        for rnd in range(2):
            wanted: list[tuple[Key, int, float, PairJob]] = []
            for key, cards in order.items():
                if rnd == 1 and not self._go_on(key, cards):
                    continue
                stop = 1 if rnd == 0 else _MOST_CANDIDATES
                for score, places in cards[tried[key] : stop]:
                    wanted += [(key, n, score, self._job(key, n, at)) for n, at in places]
                tried[key] = stop
            results = run("align" if rnd == 0 else "try other cards", align_pair, [w[3] for w in wanted])
            for (key, n, score, _), result in zip(wanted, results, strict=True):
                self.trials[key].append(Trial(n, self.recordings[n].card, score, result))

    def _go_on(self, key: Key, cards: list[tuple[float, list[tuple[int, float]]]]) -> bool:
        if not any(t.alignment.same_mic for t in self.trials[key]):
            return True
        return len(cards) > 1 and cards[1][0] >= _RIVAL * cards[0][0]

    def _candidates(self, key: Key) -> list[tuple[float, list[tuple[int, float]]]]:
        """Cards worth trying for a track, best first: likeness, and (recording, position of the take's start) pairs."""
        scores: dict[str, tuple[float, list[tuple[int, float]]]] = {}
        for n, recording in enumerate(self.recordings):
            found = self._likeness(key, n)
            if found is None:
                continue
            score, at = found
            old = scores.get(recording.card, (0.0, []))
            scores[recording.card] = (max(old[0], score), [*old[1], (n, at)])
        ranked = sorted(scores.items(), key=lambda item: -item[1][0])
        best = ranked[0][1][0] if ranked else 0.0
        hinted = set(self.hints[key][0])
        first = [item for item in ranked if item[0] in hinted and item[1][0] >= _TRUST_HINT * best]
        rest = [item for item in ranked if item not in first]
        late = [item for item in rest if item[0] in hinted]
        rest = rest[: max(_MOST_CANDIDATES - len(first) - len(late), 1)] + late
        unique = list(dict(first + rest).items())
        return [value for _, value in unique]

    def _likeness(self, key: Key, n: int) -> tuple[float, float] | None:
        take, excerpt, card = self.takes[key[0]], self.excerpts[key], self.card_envelopes[n]
        base, start = self.bases[n], self.times[key[0]]
        offset = excerpt.part.start
        if start is None:
            stretch = excerpt.part.hop_seconds / card.hop_seconds
            score, confidence, hop = likeness(card, excerpt, 0, card.hops, stretch)
            rate = self.recordings[n].sample_rate_hz
            at = hop * card.hop - offset * rate / take.sample_rate_hz
            return (score, at) if confidence >= 1.3 else None
        if base is None:
            return None
        speed = float(base.stamp)
        length = self.recordings[n].frames / self.recordings[n].sample_rate_hz / speed
        overlap = min(start + take.seconds, base.start_seconds + length) - max(start, base.start_seconds)
        if overlap < min(_LEAST_OVERLAP_SECONDS, 0.5 * take.seconds):
            return None
        margin = int(_MARGIN_SECONDS / card.hop_seconds)
        low = int((excerpt.at_seconds - base.start_seconds) * speed / card.hop_seconds) - margin
        stretch = excerpt.part.hop_seconds / card.hop_seconds * speed
        score, _, _ = likeness(card, excerpt, low, low + int(excerpt.part.hops * stretch) + 2 * margin, stretch)
        return score, (start - base.start_seconds) * speed * self.recordings[n].sample_rate_hz

    def _job(self, key: Key, n: int, at: float) -> PairJob:
        take, card, base = self.takes[key[0]], self.card_envelopes[n], self.bases[n]
        stamp = base.stamp if base is not None else Fraction(1)
        margin = int(_MARGIN_SECONDS / card.hop_seconds)
        low = int(at / card.hop) - margin
        part = card.part(low, low + int(take.seconds * float(stamp) / card.hop_seconds) + 2 * margin)
        return PairJob(take, key[1], self.recordings[n], part, self.envelopes[key], at, stamp)


def _date(text: str) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        return None


def _first_date(takes: Iterable[TakeSource]) -> datetime.date | None:
    return min((d for t in takes if (d := _date(t.date)) is not None), default=None)

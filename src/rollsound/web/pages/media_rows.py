"""What the Media page says, from the index: sentences and rows, every figure with its unit."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rollsound.quantities import show_level, show_ppm, show_size, show_time
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.conform_result import ConformTrack
    from rollsound.actions.media_model import MediaDay, MediaTake, MediaTrack
    from rollsound.finding import Finding
    from rollsound.log.model import JobRow

_RUNNING = ("running", "stopping")


@dataclass(frozen=True)
class Answer:
    """The page's answer: one strong sentence, and what stands behind it."""

    verdict: str
    lede: str


@dataclass(frozen=True)
class TakeRow:
    """One take in the list."""

    id: str
    name: str
    scene: str
    timecode: str
    length: str
    tracks: int
    files: int
    weight: str
    state: str
    radio: str
    circled: bool
    other: str


@dataclass(frozen=True)
class CardRow:
    """One card over the day."""

    name: str
    stands_for: str
    clock: str
    takes: int
    note: str


@dataclass(frozen=True)
class FoundRow:
    """A finding, and where to listen."""

    finding: Finding
    number: int
    track: int
    start: int
    length: int
    has_spot: bool


@dataclass(frozen=True)
class TrackRow:
    """One track in figures."""

    index: int
    name: str
    kind: str
    weight: str
    peak: str
    loudness: str
    found: str
    card: str
    outcome: str
    offset: str
    clock: str
    scatter: str
    reason: str


@dataclass(frozen=True)
class SpanRow:
    """One damaged span, before and after."""

    track: int
    name: str
    at: str
    length: str
    kind: str
    before: str
    expected: str
    after: str
    start: int
    length_samples: int


@dataclass(frozen=True)
class JobLine:
    """One job."""

    id: str
    kind: str
    state: str
    what: str
    person: str
    at: Any
    sentence: str
    weight: str
    findings: tuple[dict[str, Any], ...]
    mistakes: tuple[dict[str, Any], ...]
    percent: int | None
    label: str
    can_stop: bool
    can_resume: bool


def answer_of(day: MediaDay | None) -> Answer:
    """What a day's media come to."""
    if day is None:
        return Answer(w("media.none_verdict"), w("media.none_lede"))
    if not day.takes:
        return Answer(w("media.empty_verdict", day=day.label), " ".join(day.problems) or w("media.empty_lede"))
    stops = sum(finding.weight.value == "stop" for finding in day.standing)
    bad = stops + day.missing
    if day.missing:
        verdict = _counted("media.verdict_missing", day.missing)
    elif day.unmeasured == len(day.recorded):
        verdict = _counted("media.verdict_unmeasured", day.unmeasured)
    elif bad:
        verdict = _counted("media.verdict_stops", bad)
    else:
        verdict = w("media.verdict_fine")
    parts = [w("media.lede_takes", n=len(day.recorded), day=day.label)]
    if day.radio_tracks and day.mode in ("mirror", "mend"):
        done = w(f"media.lede_{day.mode}", n=day.rebuilt_tracks, total=day.radio_tracks)
        parts.append(f"{done} {w('media.lede_spans', n=day.mended_spans)}")
    elif day.recorded:
        parts.append(w("media.lede_no_cards"))
    if 0 < day.unmeasured < len(day.recorded):
        parts.append(w("media.lede_unmeasured", n=day.unmeasured))
    return Answer(verdict, " ".join(parts))


def _counted(key: str, n: int, **values: str) -> str:
    """A sentence with its number written out, as people say it, while that is short."""
    names = w("media.numbers").split()
    many = names[n] if n < len(names) else str(n)
    return w(key, n=n, many=many, few=many.lower(), **values)


def take_answer(take: MediaTake) -> Answer:
    """What a take comes to."""
    stops = sum(finding.weight.value == "stop" for finding in take.findings)
    watches = sum(finding.weight.value == "watch" for finding in take.findings)
    if take.problem:
        verdict = w("media.take_gone", name=take.name)
    elif not take.measured:
        verdict = w("media.take_unmeasured", name=take.name)
    elif stops:
        verdict = _counted("media.take_stops", stops, name=take.name)
    elif watches:
        verdict = _counted("media.take_watches", watches, name=take.name)
    else:
        verdict = w("media.take_fine", name=take.name)
    parts = [w("media.role_mirror") if take.role == "mirror" else w("media.role_recorder")]
    if take.scene or take.take:
        parts.append(w("media.scene_take", scene=take.scene or "?", take=take.take or "?"))
    if take.timecode:
        parts.append(w("media.from_code", code=take.timecode))
    parts += [show_time(take.seconds), w("media.tracks_n", n=len(take.tracks))]
    parts += [take.sample_format, f"{take.sample_rate_hz / 1000:g} kHz", show_size(take.size_bytes)]
    return Answer(verdict, " · ".join(part for part in parts if part))


def day_rows(day: MediaDay) -> tuple[TakeRow, ...]:
    """The recorder's takes of a day."""
    return tuple(_take_row(take) for take in day.recorded)


def _take_row(take: MediaTake) -> TakeRow:
    stops = sum(finding.weight.value == "stop" for finding in take.findings)
    watches = sum(finding.weight.value == "watch" for finding in take.findings)
    if take.problem:
        state = w("media.state_gone")
    elif any(member.changed for member in take.members):
        state = w("media.state_changed")
    elif not take.measured:
        state = w("media.state_unmeasured")
    else:
        told = [w("media.state_stops", n=stops)] * bool(stops) + [w("media.state_watches", n=watches)] * bool(watches)
        state = ", ".join(told) or w("media.state_fine")
    looked = sum(track.looked_for for track in take.tracks)
    rebuilt = sum(track.rebuilt for track in take.tracks)
    return TakeRow(
        id=take.id,
        name=take.name,
        scene=w("media.scene_take", scene=take.scene, take=take.take) if take.scene else "",
        timecode=take.timecode,
        length=show_time(take.seconds) if take.frames else "",
        tracks=len(take.tracks),
        files=len(take.members),
        weight=take.weight.value if take.measured or take.problem else "",
        state=state,
        radio=w("media.radio_of", n=rebuilt, total=looked) if looked else "",
        circled=take.circled,
        other=take.other,
    )


def card_rows(day: MediaDay) -> tuple[CardRow, ...]:
    """The cards of a day."""
    return tuple(
        CardRow(
            name=card.name,
            stands_for=card.stands_for,
            clock=show_ppm(card.rate_ppm) if card.rate_ppm is not None else "",
            takes=card.takes,
            note=card.note,
        )
        for card in day.cards
    )


def found_rows(take: MediaTake) -> tuple[FoundRow, ...]:
    """The findings of a take, heaviest first, each with its worst spot to listen to."""
    rows = []
    for number, finding in enumerate(take.findings):
        spots = [spot for spot in take.spots if spot.finding == number]
        spot = max(spots, key=lambda each: each.length_samples, default=None)
        rows.append(
            FoundRow(
                finding=finding,
                number=number,
                track=spot.track if spot else 0,
                start=spot.start_sample if spot else 0,
                length=spot.length_samples if spot else 0,
                has_spot=spot is not None and not take.problem,
            )
        )
    return tuple(rows)


def track_rows(take: MediaTake) -> tuple[TrackRow, ...]:
    """The tracks of a take in figures: the table beside the picture."""
    return tuple(_track_row(take, track) for track in take.tracks)


def _track_row(take: MediaTake, track: MediaTrack) -> TrackRow:
    kinds: dict[str, int] = {}
    for spot in take.spots:
        if spot.track == track.index:
            kinds[spot.kind] = kinds.get(spot.kind, 0) + 1
    found = ", ".join(f"{kind} ×{n}" if n > 1 else kind for kind, n in kinds.items())
    on_card = track.conform if track.looked_for else None
    return TrackRow(
        index=track.index,
        name=track.name,
        kind=w(f"media.kind_{track.kind.replace(' ', '_')}") if track.kind else "",
        weight=track.weight.value,
        peak=show_level(track.peak_dbfs) if track.peak_dbfs is not None else "",
        loudness=show_level(track.loudness_lufs, "LUFS") if track.loudness_lufs is not None else "",
        found=found,
        card=on_card.card if on_card else "",
        outcome=_outcome(on_card) if on_card else "",
        offset=_offset(on_card.offset_samples if on_card else None),
        clock=show_ppm(on_card.rate_ppm) if on_card and on_card.rate_ppm is not None else "",
        scatter=f"{on_card.residual_samples:.2f}" if on_card and on_card.residual_samples is not None else "",
        reason=on_card.reason if on_card else "",
    )


def _outcome(track: ConformTrack) -> str:
    return w("media.outcome_" + track.outcome.replace(" ", "_"))


def _offset(samples: float | None) -> str:
    return "" if samples is None else f"{samples:,.2f}".replace(",", "\u202f").replace("-", "−")


def span_rows(take: MediaTake) -> tuple[SpanRow, ...]:
    """The damaged spans of the radio tracks, seen against their cards."""
    rows = [
        SpanRow(
            track=track.index,
            name=track.name,
            at=_code(take, span.start_sample),
            length=f"{1000 * span.length_samples / max(take.sample_rate_hz, 1):.0f} ms",
            kind=span.kind.value,
            before=show_level(span.level_dbfs),
            expected=show_level(span.expected_dbfs),
            after=show_level(span.after_dbfs) if span.after_dbfs is not None else "",
            start=span.start_sample,
            length_samples=span.length_samples,
        )
        for track in take.tracks
        for span in (track.conform.spans if track.conform is not None else ())
    ]
    return tuple(sorted(rows, key=lambda row: row.start))


def _code(take: MediaTake, sample: int) -> str:
    from rollsound.timecode import Rate, timecode_of_samples

    if not take.frame_rate or not take.timecode:
        return f"{sample / max(take.sample_rate_hz, 1):.2f} s"
    rate = Rate.parse(take.frame_rate)
    return str(timecode_of_samples(take.start_samples + sample, take.sample_rate_hz, rate)[0])


def picture_of(take: MediaTake) -> str:
    """What the waveform's script needs to know, as JSON."""
    return json.dumps(
        {
            "id": take.id,
            "frames": take.frames,
            "rate": take.sample_rate_hz,
            "start": take.start_samples,
            "frameRate": take.frame_rate if take.timecode else "",
            "tracks": [track.index for track in take.tracks],
            "names": [track.name for track in take.tracks],
            "spots": [
                [spot.track, spot.start_sample, spot.length_samples, spot.kind, spot.weight.value]
                for spot in take.spots
            ],
        }
    )


def job_rows(jobs: Sequence[JobRow]) -> tuple[JobLine, ...]:
    """The jobs, those that run first."""
    rows = [_job(row) for row in jobs[:30]]
    return tuple(sorted(rows, key=lambda row: row.state not in ("running", "stopping", "waiting")))


def _job(row: JobRow) -> JobLine:
    result, error, state = row.result or {}, row.error or {}, str(row.state)
    total = float(row.progress.get("total") or 0)
    return JobLine(
        id=row.id,
        kind=row.kind,
        state=state,
        what=w(f"media.kind_of_job_{row.kind}", what=_about(row)),
        person=row.author.person,
        at=row.changed,
        sentence=result.get("sentence") or error.get("sentence") or "",
        weight=str(result.get("weight", "")) if state == "done" else "stop" if state == "failed" else "",
        findings=tuple(result.get("findings", ())),
        mistakes=tuple(error.get("mistakes", ())),
        percent=round(100 * float(row.progress.get("done", 0)) / total) if total and state in _RUNNING else None,
        label=str(row.progress.get("label", "")) if state in _RUNNING else "",
        can_stop=state in ("running", "waiting"),
        can_resume=state in ("stopped", "failed"),
    )


def _about(row: JobRow) -> str:
    """The last part of the folder a job works on: enough to know it by, and no path of this machine."""
    given = row.arguments
    first = given.get("source") or given.get("recorder") or given.get("day") or given.get("path")
    first = first or next(iter(given.get("paths") or [""]))
    return str(first).replace("\\", "/").rstrip("/").rpartition("/")[2]

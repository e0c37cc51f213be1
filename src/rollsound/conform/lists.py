"""What came from where, for sound post: a timeline document, a sheet of stretches, and a report with a row a track."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path

import opentimelineio as otio
from pydantic import BaseModel, ConfigDict

from rollsound.conform.model import Outcome, Place
from rollsound.conform.outcome import Origin, Segment, TakeOutcome, TrackOutcome
from rollsound.conform.plan import Action
from rollsound.timecode import Rate, timecode_of_samples

NAMESPACE = "rollsound"
SEGMENT_COLUMNS = (
    "take",
    "track",
    "name",
    "output",
    "start sample",
    "length samples",
    "start time code",
    "origin",
    "source file",
    "source channel",
    "source start sample",
    "rate ppm",
    "fade in samples",
    "fade out samples",
    "note",
)
SPAN_COLUMNS = (
    "take",
    "track",
    "name",
    "start sample",
    "length samples",
    "start seconds",
    "length milliseconds",
    "kind",
    "confidence",
    "level dbfs",
    "expected dbfs",
    "after dbfs",
    "mended",
    "reason",
)


class TrackReport(BaseModel):
    """One row of the conform report. ``track`` counts from 1; numbers that were not measured are None."""

    model_config = ConfigDict(frozen=True)

    take: str
    track: int
    name: str
    card: str
    action: Action
    outcome: Outcome
    confidence: float
    offset_samples: float | None
    rate_ppm: float | None
    residual_samples: float | None
    uncertainty_samples: float | None
    coherence: float | None
    placement: Place
    path_delay_ms: float | None
    level_difference_db: float | None
    replaced_seconds: float
    damaged_spans: int
    damaged_seconds: float
    mended_spans: int
    clipped_samples: int
    not_possible: str


def report_rows(takes: Iterable[TakeOutcome]) -> list[TrackReport]:
    """A row for every track that a card was looked for, take after take."""
    return [
        _row(take, track)
        for take in takes
        for track in take.tracks
        if track.card_name or track.action is not Action.KEEP
    ]


def _row(take: TakeOutcome, track: TrackOutcome) -> TrackReport:
    rate = take.sample_rate_hz
    # A card that coincides with the track carries the path's delay with it, however large that is.
    delay = 1000.0 * track.path_delay_samples / rate if track.path_delay_samples else None
    return TrackReport(
        take=take.take,
        track=track.index + 1,
        name=track.name,
        card=track.card_name,
        action=track.action,
        outcome=track.outcome,
        confidence=round(track.confidence, 3),
        offset_samples=_round(track.offset_samples, 3),
        rate_ppm=_round(track.rate_ppm, 4),
        residual_samples=_round(track.residual_samples, 4),
        uncertainty_samples=_round(track.uncertainty_samples, 4),
        coherence=_round(track.coherence, 3),
        placement=track.place,
        path_delay_ms=_round(delay, 3),
        level_difference_db=_round(track.level_difference_db, 1),
        replaced_seconds=round(track.replaced_samples / rate, 3),
        damaged_spans=len(track.spans),
        damaged_seconds=round(sum(span.length_samples for span in track.spans) / rate, 3),
        mended_spans=sum(span.after_dbfs is not None for span in track.spans),
        clipped_samples=track.clipped_samples,
        not_possible=" ".join(track.not_possible),
    )


def report_csv(takes: Iterable[TakeOutcome]) -> str:
    """The report as a sheet; the first row names the columns."""
    fields = list(TrackReport.model_fields)
    rows = [[_cell(value) for value in row.model_dump(mode="json").values()] for row in report_rows(takes)]
    return _sheet([fields.replace("_", " ") for fields in fields], rows)


def segments_csv(takes: Iterable[TakeOutcome]) -> str:
    """Every stretch of every track of the takes: where it lies and where it comes from."""
    rows = []
    for take in takes:
        rate = _rate(take)
        for track in take.tracks:
            for segment in track.segments:
                start = take.start_samples + segment.start_sample
                label = str(timecode_of_samples(start, take.sample_rate_hz, rate)[0]) if rate else ""
                rows.append(
                    [
                        take.take,
                        str(track.index + 1),
                        track.name,
                        track.output,
                        str(segment.start_sample),
                        str(segment.stop_sample - segment.start_sample),
                        label,
                        str(segment.origin),
                        segment.path,
                        str(segment.channel + 1),
                        f"{segment.source_start:.4f}",
                        f"{segment.rate_ppm:.5f}" if segment.origin is Origin.CARD else "",
                        str(segment.fade_in_samples),
                        str(segment.fade_out_samples),
                        segment.note,
                    ]
                )
    return _sheet(list(SEGMENT_COLUMNS), rows)


def spans_csv(takes: Iterable[TakeOutcome]) -> str:
    """Every damaged span that was found, with its level before and after."""
    rows = [
        [
            take.take,
            str(track.index + 1),
            track.name,
            str(span.start_sample),
            str(span.length_samples),
            f"{span.start_sample / take.sample_rate_hz:.3f}",
            f"{1000 * span.length_samples / take.sample_rate_hz:.1f}",
            str(span.kind),
            f"{span.confidence:.2f}",
            f"{span.level_dbfs:.1f}",
            f"{span.expected_dbfs:.1f}",
            "" if span.after_dbfs is None else f"{span.after_dbfs:.1f}",
            "yes" if span.after_dbfs is not None else "no",
            span.reason,
        ]
        for take in takes
        for track in take.tracks
        for span in track.spans
    ]
    return _sheet(list(SPAN_COLUMNS), rows)


def timeline_json(takes: Sequence[TakeOutcome], name: str) -> str:
    """An OpenTimelineIO document: one timeline a take, one audio track for each of its tracks.

    Clips refer to the recorder's and the cards' files; their source ranges are whole samples. The exact position, the
    rate and the fades stand in each clip's metadata under ``rollsound``.
    """
    collection = otio.schema.SerializableCollection(name=name, children=[_timeline(take) for take in takes])
    return str(otio.adapters.write_to_string(collection, "otio_json", indent=1))


def _timeline(take: TakeOutcome) -> otio.schema.Timeline:
    rate = take.sample_rate_hz
    timeline = otio.schema.Timeline(
        name=take.take, global_start_time=otio.opentime.RationalTime(take.start_samples, rate)
    )
    timeline.metadata[NAMESPACE] = {"mode": str(take.mode), "plan_digest": take.digest, "time_rate": take.time_rate}
    for track in take.tracks:
        lane = otio.schema.Track(name=track.name, kind=otio.schema.TrackKind.Audio)
        lane.metadata[NAMESPACE] = {
            "track": track.index + 1,
            "output": track.output,
            "action": str(track.action),
            "outcome": str(track.outcome),
            "placement": str(track.place),
        }
        for segment in track.segments:
            lane.append(_clip(segment, track, rate))
        timeline.tracks.append(lane)
    return timeline


def _clip(segment: Segment, track: TrackOutcome, rate: int) -> otio.schema.Clip:
    """Media ranges count at the media's own rate; a card's clip is as long as its stretch of the take."""
    source_rate = rate * segment.ratio
    length = segment.stop_sample - segment.start_sample
    reference = otio.schema.ExternalReference(
        target_url=Path(segment.path).absolute().as_uri(),
        available_range=_range(0, segment.source_frames, source_rate) if segment.source_frames else None,
    )
    clip = otio.schema.Clip(
        name=track.card_name if segment.origin is Origin.CARD else track.name,
        media_reference=reference,
        source_range=_range(round(segment.source_start), round(length * segment.ratio), source_rate),
    )
    clip.metadata[NAMESPACE] = {
        "origin": str(segment.origin),
        "channel": segment.channel + 1,
        "source_start_samples": segment.source_start,
        "rate_ppm": segment.rate_ppm,
        "fade_in_samples": segment.fade_in_samples,
        "fade_out_samples": segment.fade_out_samples,
        "note": segment.note,
    }
    return clip


def _range(start: int, length: int, rate: float) -> otio.opentime.TimeRange:
    return otio.opentime.TimeRange(otio.opentime.RationalTime(start, rate), otio.opentime.RationalTime(length, rate))


def _rate(take: TakeOutcome) -> Rate | None:
    return Rate.parse(take.time_rate) if take.time_rate else None


def _round(value: float | Fraction | None, digits: int) -> float | None:
    return None if value is None else round(float(value), digits)


def _cell(value: object) -> str:
    return "" if value is None else str(value)


def _sheet(columns: list[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()

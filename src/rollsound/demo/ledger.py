"""The truth written down as the day is built: where tracks lie on cards, what should come of it, what is wrong."""

from __future__ import annotations

import numpy as np

from rollsound.demo.card import ClockOfCard, clock_of, file_limits
from rollsound.demo.recorder import LTC_STARTS_S, PLAYBACK_TIMECODE, Recorded
from rollsound.demo.scenario import SAMPLE_RATE_HZ, Card, Day, Take
from rollsound.demo.truth import ExpectedFinding, TrueCard, TruePiece, TrueSpan, TrueTake, TrueTrack

_KNOT_SAMPLES = 4800
_PLACED, _BY_MODEL, _NO_CARD, _NOT_COVERED = (
    "placed",
    "by model",
    "no card",
    "not covered",
)


def file_name(card: Card, n: int) -> str:
    """Where the n-th file of a card lies, from the day's folder."""
    return f"cards/{card.name}/{card.name}_{n:02d}.wav"


def true_card(day: Day, card: Card) -> TrueCard:
    """What is so about a card."""
    return TrueCard(
        name=card.name,
        wearer=card.wearer,
        sheet_track=card.sheet_track,
        files=tuple(file_name(card, n) for n in range(1, len(card.spans) + 1)),
        rate_ppm=card.rate_ppm,
        warm_up_ppm=card.warm_up_ppm,
        warm_up_tau_s=card.warm_up_tau_s,
        stamp_error_samples=card.jam_error_s * SAMPLE_RATE_HZ,
        has_timecode=card.has_timecode,
        finalised=card.finalised,
        other_day=card.other_day,
        step_at_day_sample=None if card.rejam_s is None else round(card.rejam_s * SAMPLE_RATE_HZ),
        step_samples=-card.rejam_lost,
        floating=card.floating,
    )


def true_take(day: Day, take: Take, files: list[str], recorded: Recorded, start: int, frames: int) -> TrueTake:
    """What is so about a take of ``frames`` samples that reached the disk."""
    tracks = tuple(_track(day, take, index, name, recorded, frames) for index, name in enumerate(day.tracks_of(take)))
    return TrueTake(
        name=take.file,
        files=tuple(files),
        site=take.site.value,
        scene=take.scene,
        slate=take.slate,
        take=take.take,
        kind=take.kind,
        start_samples=start,
        frames=frames,
        finalised=not take.lost_power,
        tracks=tracks,
        playback_timecode=PLAYBACK_TIMECODE if take.sung else "",
        playback_starts_at_sample=round(LTC_STARTS_S * SAMPLE_RATE_HZ) if take.sung else 0,
    )


def _track(day: Day, take: Take, index: int, name: str, recorded: Recorded, frames: int) -> TrueTrack:
    spans = tuple(span for span in recorded.spans[name] if span.start_sample < frames)
    polarity = -1 if any(span.kind == "polarity" for span in spans) else 1
    sheet = next((card.name for card in day.cards if card.sheet_track == name), "")
    card = next((card for card in day.cards if card.wearer == name and not card.other_day), None)
    radio = name in day.block_of(take).radios
    if not radio or (card is None and not sheet):
        return TrueTrack(
            index=index, name=name, wearer=name if radio else "", expected=(_NO_CARD,), polarity=polarity, spans=spans
        )
    delay = day.delay_samples[name]
    pieces, clock, first = _pieces(card, recorded.first_day_sample - delay, frames) if card else ([], None, 0)
    longest = max(pieces, key=lambda piece: piece.stop - piece.start, default=None)
    return TrueTrack(
        index=index,
        name=name,
        wearer=name,
        card=card.name if card else "",
        sheet_card=sheet,
        card_file=longest.card_file if longest else "",
        offset_samples=longest.offset_samples if longest else None,
        rate_ppm=longest.rate_ppm if longest else None,
        path_delay_samples=delay,
        knots=_knots(clock, recorded.first_day_sample - delay, first, frames) if clock and clock.warm_up_ppm else (),
        pieces=tuple(pieces),
        expected=_expected(take, card, bool(pieces), spans),
        polarity=polarity,
        spans=spans,
    )


def _pieces(card: Card, begin: float, frames: int) -> tuple[list[TruePiece], ClockOfCard | None, int]:
    """The files of a card that a track runs through; ``begin`` is the day sample that its first sample heard."""
    pieces: list[TruePiece] = []
    found: ClockOfCard | None = None
    file_first = 0
    for n, span in enumerate(card.spans, 1):
        clock = clock_of(card, span)
        first, end = file_limits(card, span)
        at = np.arange(frames + 1, step=_KNOT_SAMPLES)
        position = clock.place(begin + at.astype(np.float64)) - first
        slope, offset = np.polyfit(at.astype(np.float64), position - at, 1)
        start = max(int(np.ceil(-offset / (1.0 + slope))), 0)
        stop = min(int(np.ceil((end - first - offset) / (1.0 + slope))), frames)
        if stop > start:
            pieces.append(
                TruePiece(
                    card_file=file_name(card, n),
                    start=start,
                    stop=stop,
                    offset_samples=float(offset),
                    rate_ppm=float(slope) * 1e6,
                )
            )
            found, file_first = clock, first
    return pieces, found, file_first


def _knots(clock: ClockOfCard, begin: float, first: int, frames: int) -> tuple[tuple[int, float], ...]:
    at = np.arange(0, frames + _KNOT_SAMPLES, _KNOT_SAMPLES)
    position = clock.place(begin + at.astype(np.float64)) - first
    return tuple((int(n), float(p)) for n, p in zip(at, position, strict=True))


def _expected(take: Take, card: Card | None, covered: bool, spans: tuple[TrueSpan, ...]) -> tuple[str, ...]:
    if card is None:
        return (_NO_CARD,)
    if not covered:
        return (_NOT_COVERED,)
    if any(span.kind == "dead" for span in spans):
        return (_BY_MODEL,)
    if take.kind in ("room tone", "wild track"):
        return (_PLACED, _BY_MODEL)
    return (_PLACED,)


_FILE_KINDS = {"polarity"}


def true_findings(takes: list[TrueTake]) -> tuple[ExpectedFinding, ...]:
    """What inspecting the recorder folder should find. Polarity shows only beside the card, so it is not here."""
    found: list[ExpectedFinding] = []
    for take in takes:
        poly = len(take.files) == 1
        if not take.finalised:
            found.append(ExpectedFinding(file=take.files[0], track=0, track_name="", kind="not finalised"))
        found += [
            ExpectedFinding(
                file=take.files[0 if poly else track.index],
                track=track.index + 1 if poly else 1,
                track_name=track.name,
                kind=span.kind,
                start_sample=span.start_sample,
                length_samples=span.length_samples,
            )
            for track in take.tracks
            for span in track.spans
            if span.kind not in _FILE_KINDS
        ]
    return tuple(found)

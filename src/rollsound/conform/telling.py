"""One track's outcome: its stretches in order of time, and a sentence for everything that could not be done."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rollsound.conform.compare import Compared
from rollsound.conform.damage import Span
from rollsound.conform.mend import Mended, not_mended
from rollsound.conform.mirror import left_as_radio
from rollsound.conform.outcome import Origin, Segment, TrackOutcome
from rollsound.conform.patch import Stretch, TrackPatch
from rollsound.conform.plan import Action, MemberPlan, TakePlan, TrackPlan
from rollsound.conform.sound import CardSound, Piece


def tell_track(
    take: TakePlan,
    track: TrackPlan,
    output: str,
    compared: Compared | None,
    mended: Sequence[Mended],
    sound: CardSound | None,
    patch: TrackPatch | None = None,
) -> TrackOutcome:
    """Put together what is known of a track once its file is written (or, to compare, once it was read)."""
    stretches = patch.stretches if patch else ()
    spans = _spans(compared, mended)
    return TrackOutcome(
        index=track.index,
        name=track.name,
        action=track.action,
        outcome=track.outcome,
        reason=track.reason,
        card_name=track.card_name,
        output=output,
        segments=_segments(take, track, stretches, sound),
        spans=spans,
        compared_samples=compared.compared_frames if compared else 0,
        replaced_samples=sum(each.stop - each.start for each in stretches),
        clipped_samples=sum(each.clipped for each in stretches),
        level_difference_db=_level_difference(track, compared, stretches),
        gain_db=track.gain_db if track.action is Action.REPLACE else 0.0,
        polarity=track.polarity,
        place=track.place,
        path_delay_samples=track.path_delay_samples,
        offset_samples=track.offset_samples,
        rate_ppm=track.rate_ppm,
        residual_samples=track.residual_samples,
        uncertainty_samples=track.uncertainty_samples,
        coherence=track.coherence,
        confidence=track.confidence,
        not_possible=tuple(_not_possible(take, track, spans, sound, stretches)),
    )


def member_of(take: TakePlan, index: int) -> MemberPlan:
    """The file that holds a track."""
    return next(member for member in reversed(take.members) if member.first_track <= index)


def _spans(compared: Compared | None, mended: Sequence[Mended]) -> tuple[Span, ...]:
    """All spans found; mended ones with their level before and after."""
    told = {}
    for each in mended:
        before, after = each.stretch.levels_dbfs
        for span in each.spans:
            levels = {"after_dbfs": round(after, 2)}
            if len(each.spans) == 1:
                levels["level_dbfs"] = round(before, 2)
            told[span.start_sample] = span.model_copy(update=levels)
    return tuple(told.get(span.start_sample, span) for span in (compared.spans if compared else ()))


def _level_difference(track: TrackPlan, compared: Compared | None, stretches: Sequence[Stretch]) -> float | None:
    if compared is not None and compared.level_difference_db is not None:
        return compared.level_difference_db
    if track.action is Action.REPLACE and stretches:
        before, after = max(stretches, key=lambda each: each.stop - each.start).levels_dbfs
        return round(before - (after - track.gain_db), 2)
    return None


def _segments(
    take: TakePlan, track: TrackPlan, stretches: Sequence[Stretch], sound: CardSound | None
) -> tuple[Segment, ...]:
    out, at = [], 0
    for each in stretches:
        if each.start > at:
            out.append(_radio(take, track, at, each.start))
        out.append(_card(take, track, each, _piece_at(sound, (each.start + each.stop) // 2)))
        at = each.stop
    if at < take.frames:
        out.append(_radio(take, track, at, take.frames))
    return tuple(out)


def _piece_at(sound: CardSound | None, frame: int) -> Piece:
    assert sound is not None
    return next(piece for piece in sound.pieces if piece.start <= frame < piece.stop)


def _radio(take: TakePlan, track: TrackPlan, start: int, stop: int) -> Segment:
    member = member_of(take, track.index)
    return Segment(
        start_sample=start,
        stop_sample=stop,
        origin=Origin.RECORDER,
        path=member.file.path,
        channel=track.index - member.first_track,
        source_start=float(start - member.offset_samples),
        source_frames=member.frames,
    )


def _card(take: TakePlan, track: TrackPlan, each: Stretch, piece: Piece) -> Segment:
    clock = piece.plan.clock
    first, last = float(clock.at(float(each.start))), float(clock.at(float(each.stop)))
    speed = (last - first) / max(each.stop - each.start, 1)
    ratio = piece.plan.card_rate_hz / take.sample_rate_hz
    return Segment(
        start_sample=each.start,
        stop_sample=each.stop,
        origin=Origin.CARD,
        path=piece.plan.file.path,
        channel=piece.plan.channel,
        source_start=first,
        rate_ppm=(speed / ratio - 1.0) * 1e6,
        ratio=ratio,
        source_frames=piece.plan.card_frames,
        fade_in_samples=each.fade_in,
        fade_out_samples=each.fade_out,
        note="mended" if track.action is Action.MEND else "",
    )


def _not_possible(
    take: TakePlan, track: TrackPlan, spans: Sequence[Span], sound: CardSound | None, stretches: Sequence[Stretch]
) -> list[str]:
    rate = take.sample_rate_hz
    if track.action is Action.KEEP:
        if track.outcome.usable or not track.card_name:
            return []
        reason = track.reason.rstrip(".") or "no reason known"
        return [f"The card {track.card_name} could not be used ({track.outcome}): {reason}."]
    assert sound is not None
    out = []
    left = left_as_radio(sound, take.frames)
    if left:
        listed = ", ".join(f"{start / rate:.3f} s to {stop / rate:.3f} s" for start, stop in left)
        what = {Action.REPLACE: "the radio stays", Action.MEND: "nothing could be mended"}.get(
            track.action, "nothing could be compared"
        )
        out.append(f"The card does not cover {listed}; there {what}.")
    silent = [span for span in spans if span.reason and not span.mend]
    if silent and track.action is Action.MEND:
        out.append(f"{_count(len(silent), 'span')} stayed as found: {silent[0].reason}.")
    if track.action is Action.MEND:
        over = not_mended(sound, spans)
        if over:
            out.append(f"{_count(len(over), 'span')} stayed as found: the card does not cover all of it.")
    clipped = sum(each.clipped for each in stretches)
    if clipped:
        name = Path(member_of(take, track.index).file.path).name
        out.append(
            f"{_count(clipped, 'sample')} of the card went over full scale in the format of {name} and "
            "were limited; lower the gain of this track in the plan to keep them."
        )
    return out


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"

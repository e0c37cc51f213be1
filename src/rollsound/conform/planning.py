"""From where each track was found to a plan of what to do: reads headers only."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from rollsound.conform.figures import figures_of
from rollsound.conform.model import CardPiece, ClockMap, Outcome, Place, TrackAlignment
from rollsound.conform.plan import (
    ACTION_OF,
    Action,
    ConformPlan,
    MemberPlan,
    Mode,
    PiecePlan,
    TakePlan,
    TrackPlan,
    source_file,
)
from rollsound.conform.resample import covered
from rollsound.errors import InputError
from rollsound.wave import TakeReader, WaveInfo, open_set, read_info

FADE_SECONDS = 0.008
_SEAM_FRAMES = 2


def make_plan(
    alignments: Iterable[TrackAlignment], takes: Mapping[str, Sequence[Path | str]], mode: Mode | str, out: Path | str
) -> ConformPlan:
    """Plan what to do from where each track was found.

    Parameters
    ----------
    alignments
        one per radio track and take (several for one track are taken as several pieces)
    takes
        the files of every take by its name in the alignments; tracks without any alignment are kept as they are
    out
        the folder for what is written; nothing is written now

    Raises
    ------
    InputError
        when an alignment speaks of a take, track or card that is not there
    """
    mode = Mode(mode)
    found: dict[str, dict[int, TrackAlignment]] = {name: {} for name in takes}
    for each in alignments:
        if each.take not in found:
            raise InputError(f"a card was aligned to the take {each.take}, which is not among the takes given.")
        known = found[each.take].get(each.track_index)
        if known is None or (each.outcome.usable, each.confidence) > (known.outcome.usable, known.confidence):
            found[each.take][each.track_index] = each
    cards: dict[str, WaveInfo] = {}
    plans = [_plan_take(name, list(takes[name]), found[name], mode, Path(out), cards) for name in takes]
    return ConformPlan(mode=mode, takes=tuple(plans))


def _plan_take(
    name: str,
    files: list[Path | str],
    found: dict[int, TrackAlignment],
    mode: Mode,
    out: Path,
    cards: dict[str, WaveInfo],
) -> TakePlan:
    with open_set(files) as take:
        members = _members(take, mode, out)
        info = take.info
    missing = [index for index in found if not 0 <= index < info.format.channels]
    if missing:
        raise InputError(f"the take {name} has {info.format.channels} tracks; there is no number {missing[0] + 1}.")
    tracks = [
        _plan_track(index, track_name, found.get(index), mode, info, cards)
        for index, track_name in enumerate(info.track_names)
    ]
    return TakePlan(
        take=name,
        mode=mode,
        members=members,
        sample_rate_hz=info.format.sample_rate_hz,
        frames=info.frames,
        start_samples=info.start_samples,
        time_rate=str(info.rate) if info.rate else "",
        fade_samples=round(FADE_SECONDS * info.format.sample_rate_hz),
        tracks=tuple(tracks),
    )


def _members(take: TakeReader, mode: Mode, out: Path) -> tuple[MemberPlan, ...]:
    members, first = [], 0
    for reader in take.members:
        path, channels = reader.info.path, reader.info.format.channels
        output = "" if mode is Mode.COMPARE else str(out / path.name)
        members.append(
            MemberPlan(
                file=source_file(path),
                output=output,
                first_track=first,
                channels=channels,
                frames=reader.info.frames,
                offset_samples=reader.info.start_samples - take.info.start_samples,
            )
        )
        first += channels
    return tuple(members)


def _plan_track(
    index: int,
    name: str,
    found: TrackAlignment | None,
    mode: Mode,
    take: WaveInfo,
    cards: dict[str, WaveInfo],
) -> TrackPlan:
    if found is None:
        return TrackPlan(index=index, name=name, action=Action.KEEP, reason="no card was looked for")
    # A mend or a comparison stands on the radio track itself, wherever the mirror would put the card.
    on_source = found.place is Place.SOURCE and mode is Mode.MIRROR
    back = 0.0 if on_source or found.place is Place.TRACK else found.path_delay_samples * found.ratio
    pieces = _pieces(found, take.frames, cards, back) if found.outcome.usable else ()
    reason = found.reason
    outcome = found.outcome
    if outcome.usable and not pieces:
        outcome, reason = Outcome.NOT_COVERED, reason or "the card's recording does not reach into this take"
    offset, ppm = found.offset_samples, found.rate_ppm
    if pieces:
        # Of the piece as it is written down: a position that was moved back above moved the offset with it.
        main = max(pieces, key=lambda piece: piece.stop_sample - piece.start_sample)
        offset, ppm = figures_of(main.clock, main.card_rate_hz / take.format.sample_rate_hz)
    return TrackPlan(
        index=index,
        name=name,
        action=ACTION_OF[mode] if pieces else Action.KEEP,
        outcome=outcome,
        reason=reason,
        card_name=found.card_name,
        pieces=pieces,
        polarity=1 if found.polarity >= 0 else -1,
        place=Place.SOURCE if on_source else Place.TRACK,
        path_delay_samples=found.path_delay_samples,
        offset_samples=_number(offset),
        rate_ppm=_number(ppm),
        residual_samples=_number(found.residual_samples),
        uncertainty_samples=_number(found.uncertainty_samples),
        coherence=_number(found.coherence),
        confidence=_number(found.confidence) or 0.0,
    )


def _pieces(found: TrackAlignment, frames: int, cards: dict[str, WaveInfo], back: float) -> tuple[PiecePlan, ...]:
    """What the card really has of the take, file by file; ``back`` is taken off every position in the card."""
    given = found.pieces
    if not given and found.map is not None:
        given = (CardPiece(found.card_path, found.card_channel, 0, frames, found.map),)
    ordered = sorted(given, key=lambda each: each.start)
    infos = [_card_info(piece, cards) for piece in ordered]
    joins = [
        abs(a.stop - b.start) <= _SEAM_FRAMES and _runs_on(a, info, b)
        for (a, info), b in zip(zip(ordered, infos, strict=True), ordered[1:], strict=False)
    ]
    out: list[PiecePlan] = []
    seam = 0
    for n, (piece, info) in enumerate(zip(ordered, infos, strict=True)):
        clock = piece.map.shifted(-back)
        # Where a card runs on in its next file, the frame between the two files' samples belongs to one of them.
        before, after = int(n > 0 and joins[n - 1]), int(n < len(joins) and joins[n])
        start, stop = piece.start, piece.stop
        if before:
            start = seam
        if after:
            stop = seam = math.ceil(clock.frame_of(info.frames - 0.5))
        begin, end = covered(clock.shifted(before), info.frames + before + after, max(start, 0), min(stop, frames))
        begin = max(begin, out[-1].stop_sample if out else 0)
        if end > begin:
            out.append(_piece(found, piece, clock, info, begin, end))
    return tuple(out)


def _piece(
    found: TrackAlignment, piece: CardPiece, clock: ClockMap, info: WaveInfo, start: int, stop: int
) -> PiecePlan:
    return PiecePlan(
        card_name=found.card_name,
        file=source_file(piece.card_path),
        channel=piece.card_channel,
        card_frames=info.frames,
        card_rate_hz=info.format.sample_rate_hz,
        start_sample=start,
        stop_sample=stop,
        take_frames=tuple(int(n) for n in clock.take_frames),
        card_positions=tuple(float(p) for p in clock.card_positions),
    )


def _card_info(piece: CardPiece, cards: dict[str, WaveInfo]) -> WaveInfo:
    if piece.card_path not in cards:
        cards[piece.card_path] = read_info(piece.card_path)
    info = cards[piece.card_path]
    if not 0 <= piece.card_channel < info.format.channels:
        raise InputError(f"{piece.card_path} has no channel {piece.card_channel + 1}; align this card again.")
    return info


def _runs_on(a: CardPiece, info: WaveInfo, b: CardPiece) -> bool:
    """Whether the second file begins with the sample after the first one's last."""
    over = float(a.map.at(float(b.start))) - info.frames
    return abs(over - float(b.map.at(float(b.start)))) < 1.0


def _number(value: float) -> float | None:
    """Numbers that were not measured are left out: the document knows no other way to say so."""
    return float(value) if math.isfinite(value) else None

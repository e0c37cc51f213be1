"""A mirror: the card takes the radio track's place wherever it reaches; elsewhere the radio stays, cross-faded."""

from __future__ import annotations

from rollsound.conform.patch import Render, Stretch
from rollsound.conform.plan import TrackPlan
from rollsound.conform.sound import CardSound, Piece


def mirror_stretches(track: TrackPlan, sound: CardSound, frames: int, fade: int) -> tuple[Stretch, ...]:
    """One stretch for each piece of card; faded where the radio is heard beside it, butted where the card runs on."""
    gain = 10 ** (track.gain_db / 20)
    out = []
    for piece in sound.pieces:
        first, last = piece.start <= 0, piece.stop >= frames
        length = piece.stop - piece.start
        fade_in = 0 if first or piece.joins_before else min(fade, length)
        fade_out = 0 if last or piece.joins_after else min(fade, length)
        out.append(Stretch(piece.start, piece.stop, fade_in, fade_out, _render(piece, gain)))
    return tuple(out)


def _render(piece: Piece, gain: float) -> Render:
    if gain == 1.0:
        return piece.read
    return lambda start, count: gain * piece.read(start, count)


def left_as_radio(sound: CardSound, frames: int) -> list[tuple[int, int]]:
    """Stretches of the take that the card does not reach."""
    out, at = [], 0
    for start, stop in sound.runs():
        if start > at:
            out.append((at, start))
        at = max(at, stop)
    if at < frames:
        out.append((at, frames))
    return out

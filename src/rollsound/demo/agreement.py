"""How what the tools found compares with what is true of the synthesised day. The tools never see the truth."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.conform_result import ConformResult, ConformTrack
from rollsound.demo.truth import TrueTrack, Truth

OFFSET_TOLERANCE_SAMPLES = 1.0
"""A silent track is placed by the day's model, which promises one sample; a speaking one is far closer."""

COMPARED_KINDS = frozenset({"mute", "dropout", "radio-hit", "dead"})
"""Comparing with a card looks for damage of 5 ms and more; single clicks are found by inspecting."""


class Agreement(BaseModel):
    """Where finding and truth agree, and every place where they do not."""

    model_config = ConfigDict(frozen=True)

    tracks: int = Field(default=0, description="radio tracks compared")
    outcomes_right: int = 0
    placed: int = Field(default=0, description="tracks placed on a card")
    worst_offset_samples: float = Field(
        default=0.0, description="largest error over every placed track and its whole length"
    )
    spans_true: int = Field(
        default=0, description="mutes, dropouts, bursts and dead packs that the day really has, on placed tracks"
    )
    spans_found: int = Field(default=0, description="of those, found")
    spans_extra: int = Field(default=0, description="found where nothing is wrong")
    differences: tuple[str, ...] = ()


def agreement(truth: Truth, result: ConformResult) -> Agreement:
    """Compare take by take and track by track."""
    found = {Path(name).name: take for take in result.takes for name in take.recorder}
    total = Agreement()
    for true in truth.takes:
        take = next((found[Path(name).name] for name in true.files if Path(name).name in found), None)
        if take is None:
            total = _with(total, differences=(*total.differences, f"{true.name} was not conformed"))
            continue
        by_name = {track.name: track for track in take.tracks}
        for track in true.tracks:
            if track.expected == ("no card",) and not track.wearer:
                continue
            total = _compare(total, true.name, track, by_name.get(track.name), true.frames)
    return total


def _with(total: Agreement, **changes: object) -> Agreement:
    return total.model_copy(update=changes)


def _compare(total: Agreement, take: str, true: TrueTrack, got: ConformTrack | None, frames: int) -> Agreement:
    outcome = got.outcome if got else "no card"
    right = outcome in true.expected
    differences = list(total.differences)
    if not right:
        differences.append(f"{take} {true.name}: {outcome}, expected {' or '.join(true.expected)}")
    total = _with(total, tracks=total.tracks + 1, outcomes_right=total.outcomes_right + right)
    if got is None or got.offset_samples is None or outcome not in ("placed", "by model") or not right:
        return _with(total, differences=tuple(differences))
    error = _worst_error(true, got, frames)
    if error > OFFSET_TOLERANCE_SAMPLES:
        differences.append(f"{take} {true.name}: {error:.2f} samples off")
    if got.polarity != true.polarity:
        differences.append(f"{take} {true.name}: polarity {got.polarity:+d}, really {true.polarity:+d}")
    damage = [span for span in true.spans if span.kind in COMPARED_KINDS]
    hit = sum(any(_touch(span, each) for each in got.spans) for span in damage)
    extra = sum(not any(_touch(each, span) for each in true.spans) for span in got.spans)
    return _with(
        total,
        placed=total.placed + 1,
        worst_offset_samples=max(total.worst_offset_samples, error),
        spans_true=total.spans_true + len(damage),
        spans_found=total.spans_found + hit,
        spans_extra=total.spans_extra + extra,
        differences=tuple(differences),
    )


def _worst_error(true: TrueTrack, got: ConformTrack, frames: int) -> float:
    """Largest distance of the found line from the true clock over the part of the take that the card covers."""
    assert got.offset_samples is not None
    rate = (got.rate_ppm or 0.0) * 1e-6
    name = Path(got.card_file).name
    piece = next((each for each in true.pieces if Path(each.card_file).name == name), None)
    if piece is None:
        return float("inf")
    if true.knots:
        points = [(n, position) for n, position in true.knots if piece.start <= n <= piece.stop]
    else:
        slope = 1 + piece.rate_ppm * 1e-6
        points = [(n, piece.offset_samples + slope * n) for n in (piece.start, piece.stop)]
    return max((abs(got.offset_samples + (1 + rate) * n - position) for n, position in points), default=float("inf"))


class _Stretch(Protocol):
    @property
    def start_sample(self) -> int: ...
    @property
    def length_samples(self) -> int: ...


def _touch(one: _Stretch, other: _Stretch) -> bool:
    slack = 2400
    first_ends = one.start_sample + one.length_samples + slack
    second_ends = other.start_sample + other.length_samples + slack
    return one.start_sample < second_ends and other.start_sample < first_ends

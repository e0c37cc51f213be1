"""Where to set which gain on a path, so that no stage clips and later noise stays under the microphone's own.

As much gain as early as possible: every decibel that a gain has earlier lifts the source over all noise that comes
later. So each gain in turn is set as high as its own range and all limits behind it let the loudest peaks, with later
gains at their least; the last one brings the peaks to the reserve under full scale. No other split has less noise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rollsound.quantities import signed
from rollsound.rig.built import Rig, Spot
from rollsound.rig.levels import PathLevels, Stage, Step, run
from rollsound.rig.speech import SourceLevel, figure

_STEP_DB = 1.0
"""Gains are set in whole decibels."""


@dataclass(frozen=True)
class Setting:
    """One gain: as it is and as it is to be."""

    spot: Spot
    now_db: float
    then_db: float
    least_db: float
    most_db: float
    held_by: Spot | None
    """The stage whose limit keeps it from being higher; none where its own range does."""


@dataclass(frozen=True)
class GainSplit:
    """A split of gains along one path, with the levels that it gives."""

    settings: tuple[Setting, ...]
    stages: tuple[Stage, ...]
    clips: bool
    """Whether something clips with every gain at its least: take level off before it."""
    added_noise_db: float
    """By how much all later stages raise the first one's noise."""
    reason: str


def split_gains(steps: Sequence[Step], level: SourceLevel, reserve_db: float) -> tuple[float, ...]:
    """Gains in dB, one for every step, those that cannot be set as they are."""
    gains = [step.least_gain_db if step.settable else step.gain_db for step in steps]
    for at, step in enumerate(steps):
        if step.settable:
            room, _ = _room(steps, level, gains, at, reserve_db)
            gains[at] += math.floor(min(max(room, 0.0), step.most_gain_db - gains[at]) / _STEP_DB + 1e-9) * _STEP_DB
    return tuple(gains)


def _room(
    steps: Sequence[Step], level: SourceLevel, gains: Sequence[float], at: int, reserve_db: float
) -> tuple[float, int]:
    """What a gain may still rise by, and the stage that limits it."""
    stages = run(steps, level, gains)
    # what clips before a gain is not moved by that gain
    limits = [
        (step.limit_after_db if place == at else stage.limit_db) - stage.peak_db
        for place, (step, stage) in enumerate(zip(steps, stages, strict=True))
    ]
    room, place = min((limits[place], place) for place in range(at, len(steps)))
    return room - reserve_db, place


def gain_split(rig: Rig, levels: PathLevels, reserve_db: float | None = None) -> GainSplit | None:
    """A split for one path to a track; none where its level is not known up to its end, or nothing can be set.

    There is none to an ear: what is as loud as it can be hurts.

    Parameters
    ----------
    reserve_db
        that the loudest peaks stay under every limit; the table's when None
    """
    if levels.path.target.startswith("feed:"):
        return None
    if levels.level is None or not levels.known or not any(step.settable for step in levels.steps):
        return None
    reserve = figure("peak-reserve") if reserve_db is None else reserve_db
    gains = split_gains(levels.steps, levels.level, reserve)
    stages = run(levels.steps, levels.level, gains)
    settings = []
    for at, step in enumerate(levels.steps):
        if step.settable:
            _, place = _room(levels.steps, levels.level, gains, at, reserve)
            ranged = gains[at] + _STEP_DB > step.most_gain_db
            settings.append(
                Setting(
                    step.spot, step.gain_db, gains[at], step.least_gain_db, step.most_gain_db,
                    None if ranged else levels.steps[place].spot,
                )
            )  # fmt: skip
    added = PathLevels(levels.path, levels.level, levels.steps, stages).added_noise_db
    clips = any(stage.headroom_db < 0.0 for stage in stages)
    return GainSplit(tuple(settings), stages, clips, added, _reason(rig, settings, stages, clips, added))


def _reason(rig: Rig, settings: Sequence[Setting], stages: Sequence[Stage], clips: bool, added_db: float) -> str:
    told = [f"{rig.spot_in_words(each.spot)} at {signed(each.then_db)} dB{_because(rig, each)}" for each in settings]
    if clips:
        first = next(stage for stage in stages if stage.headroom_db < 0.0)
        where = rig.spot_in_words(first.spot)
        return f"No gain helps: {where} clips before it. Take {math.ceil(-first.headroom_db)} dB off before {where}."
    noise = (
        f"; what comes after adds {added_db:.1f} dB to the first stage's own noise" if math.isfinite(added_db) else ""
    )
    return f"{'; '.join(told)}: the gain stands as early as limits allow{noise}."


def _because(rig: Rig, setting: Setting) -> str:
    if setting.held_by is None:
        return ", the most it has"
    if setting.held_by == setting.spot:
        return ", as high as its own limit lets the loudest peaks"
    return f", as high as {rig.spot_in_words(setting.held_by)} lets the loudest peaks"

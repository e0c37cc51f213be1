"""Gain splits against every split that there is."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from level_rigs import EARS, RADIO, RIG, along, level_rig

from rollsound.rig.built import Spot
from rollsound.rig.gain_split import gain_split, split_gains
from rollsound.rig.levels import Step, run
from rollsound.rig.speech import SourceLevel

RESERVE_DB = 3.0


@st.composite
def chains(draw: st.DrawFn) -> list[Step]:
    """A microphone and up to four stages, with gains of a few decibels."""
    steps = [Step(Spot("p", "capsule", 1, "in"), "dB SPL", 0.0, noise_before_db=draw(st.floats(5, 30)))]
    level = 0.0
    for number in range(draw(st.integers(1, 4))):
        low = draw(st.integers(-6, 6))
        level += low
        after = 110.0 + level + draw(st.integers(-8, 12))
        steps.append(
            Step(
                Spot("p", f"s{number}", 1, "in"),
                "dBu",
                shift_db=0.0,
                gain_db=low,
                least_gain_db=low,
                most_gain_db=low + draw(st.integers(0, 4)),
                limit_before_db=draw(st.sampled_from([math.inf, 112.0 + level])),
                limit_after_db=after,
                noise_before_db=draw(st.floats(-10, 40)),
                noise_after_db=draw(st.floats(-10, 40)),
            )
        )
    return steps


@settings(max_examples=40, deadline=None)
@given(chains(), st.floats(85, 100))
def test_no_split_that_clips_nothing_has_less_noise(steps: list[Step], loudest: float) -> None:
    level = SourceLevel(loudest, loudest - 18.0, 12.0, "dB SPL")
    found = split_gains(steps, level, RESERVE_DB)

    def holds(gains: tuple[float, ...]) -> bool:
        return all(stage.headroom_db >= RESERVE_DB - 1e-9 for stage in run(steps, level, gains))

    ranges = [range(int(step.least_gain_db), int(step.most_gain_db) + 1) for step in steps]
    feasible = [gains for each in itertools.product(*ranges) if holds(gains := tuple(map(float, each)))]
    assert bool(feasible) == holds(found)
    if feasible:
        best = max(run(steps, level, gains)[-1].over_noise_db for gains in feasible)
        assert run(steps, level, found)[-1].over_noise_db == pytest.approx(best, abs=1e-9)
        assert run(steps, level, found)[-1].peak_db == pytest.approx(
            max(run(steps, level, gains)[-1].peak_db for gains in feasible)
        )


def test_the_first_gain_takes_what_it_can_and_the_last_brings_peaks_to_the_reserve() -> None:
    path = along(level_rig(RADIO))
    split = gain_split(level_rig(RADIO), path)
    assert split is not None
    pack, line = split.settings
    # 78 dB SPL and 17 dB of crest give -30.8 dBu at the pack: 33 dB bring them to 3.8 dB under +6 dBu
    assert (pack.now_db, pack.then_db) == (10.0, 33.0)
    assert pack.held_by == pack.spot
    assert line.spot.port == "line-in"
    assert 3.0 <= split.stages[-1].headroom_db < 5.0
    assert split.added_noise_db < path.added_noise_db
    assert not split.clips
    assert "Pack, mic-in at +33 dB" in split.reason


def test_where_nothing_helps_it_says_what_to_take_off() -> None:
    text = RIG.replace("effort: normal", "level: 130 dB SPL")
    path = along(level_rig(text))
    split = gain_split(level_rig(text), path)
    assert split is not None
    assert split.clips
    assert split.reason.startswith(
        "No gain helps: Boom, capsule clips before it. Take 22 dB off"
    )  # 130 + 4.4 + 17 - 130


def test_nothing_is_offered_to_an_ear_or_where_nothing_is_known() -> None:

    rig = level_rig(EARS)
    assert gain_split(rig, along(rig, "voice", "feed:bram")) is None
    unknown = level_rig(RIG.replace(", effort: normal", ""))
    assert gain_split(unknown, along(unknown)) is None

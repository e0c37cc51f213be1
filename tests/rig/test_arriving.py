"""One sound that arrives twice: notches and ripples against the sum itself, and combs found in rigs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from level_rigs import level_rig

from rollsound.finding import Weight
from rollsound.rig.arriving import Double, doubles, notch_hz, notches_hz, ripple_db
from rollsound.rig.level_proofs import combing
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.reaching import Reaching

TWO_MICROPHONES = """
pieces:
  - {id: boom}
  - {id: boom-2, item: boom}
  - {id: recorder, gains: {mic-in 1-2: 40 dB}}
links:
  - {id: cable, from: "boom:out", to: "recorder:mic-in 1"}
  - {id: cable-2, from: "boom-2:out", to: "recorder:mic-in 2"}
routes:
  - {id: iso, piece: recorder, from: mic-in 1-2, to: track 1-2}
  - {id: mix, piece: recorder, from: mic-in 1-2, to: track 3}
sources:
  - {id: voice, name: Bram, at: "boom:capsule", effort: loud, distance: 1 m, near: [voice-2], near_distances: [2 m]}
  - {id: voice-2, name: Idris, at: "boom-2:capsule", effort: loud, distance: 1 m}
tracks:
  - {id: t1, number: 1, name: Bram, source: voice}
  - {id: t2, number: 2, name: Idris, source: voice-2}
  - {id: mix, number: 3, name: Mix, source: mix, sources: [voice, voice-2]}
"""


def combs(text: str) -> list[Double]:
    levels = Levels(Reaching(level_rig(text)))
    return list(doubles(levels, "voice", "track:mix"))


@pytest.mark.source(
    "first notch 1/(2 t), spacing 1/t; Master Handbook of Acoustics, table of comb filters", kind="published"
)
@pytest.mark.parametrize(
    ("ms", "first", "spacing"),
    [(0.5, 1000, 2000), (1, 500, 1000), (2, 250, 500), (3, 166.7, 333), (5, 100, 200), (10, 50, 100)],
)
def test_notches_of_one_s_own_voice_in_the_ear(ms: float, first: float, spacing: float) -> None:
    assert notch_hz(ms / 1e3) == pytest.approx(first, abs=0.05)
    assert notch_hz(ms / 1e3, 1) - notch_hz(ms / 1e3) == pytest.approx(spacing, abs=0.5)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.05e-3, 20e-3), st.floats(0.1, 30))
def test_notches_and_ripples_are_those_of_the_sum_itself(delay_s: float, difference_db: float) -> None:
    ratio = 10 ** (-difference_db / 20)
    notches = np.array(notches_hz(delay_s, 20_000.0))
    summed = np.abs(1 + ratio * np.exp(-2j * np.pi * notches * delay_s))
    up, down = ripple_db(difference_db)
    assert 20 * np.log10(summed) == pytest.approx(down, abs=1e-6)
    around = np.linspace(0.0, 1.0 / delay_s, 2001)
    response = 20 * np.log10(np.abs(1 + ratio * np.exp(-2j * np.pi * around * delay_s)))
    assert response.max() == pytest.approx(up, abs=1e-6)
    assert response.min() == pytest.approx(down, abs=1e-6)
    assert not len(notches) or notches[-1] <= 20_000.0 < notches[-1] + 1.0 / delay_s


@pytest.mark.source(
    "3:1 rule, 9 dB: +2.6 and -3.8 dB, not 1 dB as the handbook that has it says; computed", kind="published"
)
def test_what_the_three_to_one_rule_leaves() -> None:
    up, down = ripple_db(9.0)
    assert (up, down) == pytest.approx((2.64, -3.81), abs=0.01)
    assert ripple_db(0.0) == (pytest.approx(6.02, abs=0.005), -math.inf)
    assert notches_hz(0.0) == ()


def test_a_voice_in_two_microphones_of_one_sum() -> None:
    (double,) = combs(TWO_MICROPHONES)
    assert (double.earlier.by, double.later.by) == ("voice", "voice-2")
    assert double.delay_s == pytest.approx(1.0 / 343.4)
    assert double.difference_db == pytest.approx(6.02, abs=0.005)
    assert double.heard
    assert double.notches_hz[0] == pytest.approx(343.4 / 2)


def test_the_rule_is_held_to_by_distance_or_by_gain() -> None:
    assert not combs(TWO_MICROPHONES.replace("[2 m]", "[3 m]"))[0].heard  # 9.5 dB lower
    assert combs(TWO_MICROPHONES.replace("[2 m]", "[2.8 m]"))[0].heard
    lower = TWO_MICROPHONES.replace("{mic-in 1-2: 40 dB}", "{mic-in 1: 40 dB, mic-in 2: 36 dB}")
    assert combs(lower)[0].difference_db == pytest.approx(10.02, abs=0.005)
    assert not combs(lower)[0].heard
    assert not combs(TWO_MICROPHONES.replace("[2 m]", "[1.001 m]"))[0].heard  # 3 µs apart
    assert combs(TWO_MICROPHONES.replace("[2 m]", "[1.02 m]"))[0].heard


def test_a_comb_is_told_with_the_delay_that_aligns_it_and_a_track_of_one_microphone_is_none() -> None:
    (told,) = combing(Reaching(level_rig(TWO_MICROPHONES)))
    assert told.weight is Weight.WATCH
    assert told.what == (
        "Bram arrives twice at track 3 Mix, in the microphones of Bram and Idris, 2.91 ms apart: first notch at "
        "172 Hz, then every 343 Hz."
    )
    assert "6.0 dB apart, so that it rises by 3.5 dB and falls by 6.0 dB" in told.why
    assert told.remedy.startswith("Delay Bram through 'mix' by 2.91 ms")
    assert "3:1" in told.source


TWO_WAYS = """
pieces:
  - {id: boom}
  - {id: pack, gains: {mic-in: 10 dB}}
  - {id: receiver}
  - {id: recorder, gains: {mic-in 1: 40 dB, line-in: 5 dB}}
links:
  - {id: cable, from: "boom:out", to: "recorder:mic-in 1"}
  - {id: to-pack, from: "boom:out", to: "pack:mic-in"}
  - {id: air, from: "pack:air", to: "receiver:air"}
  - {id: line, from: "receiver:out", to: "recorder:line-in"}
routes:
  - {id: by-cable, piece: recorder, from: mic-in 1, to: track 3}
  - {id: by-radio, piece: recorder, from: line-in, to: track 3}
sources:
  - {id: voice, name: Bram, at: "boom:capsule", effort: loud, distance: 1 m}
tracks:
  - {id: mix, number: 3, name: Mix, source: voice}
"""


def test_a_source_by_cable_and_by_radio_on_one_track() -> None:
    (double,) = combs(TWO_WAYS)
    assert double.delay_s == pytest.approx(3e-3)
    # by cable +40 -24; by radio +10 -6 +18 +5 -20
    assert double.difference_db == pytest.approx(abs((40 - 24) - (10 - 6 + 18 + 5 - 20)))
    assert combs(TWO_WAYS.replace("line-in: 5 dB", "line-in: 4 dB"))[0].difference_db == pytest.approx(10.0)
    assert not double.heard  # 9 dB apart
    near = TWO_WAYS.replace("line-in: 5 dB", "line-in: 8 dB")
    assert combs(near)[0].heard
    unknown = near.replace(", effort: loud", "")
    assert combs(unknown)[0].difference_db == pytest.approx(6.0)  # what is set on the ways tells it all the same
    (told,) = combing(Reaching(level_rig(near)))
    assert "by Bram through 'by-cable' and by Bram through 'by-radio', 3.00 ms apart" in told.what


def test_ways_that_no_combination_has_together_are_no_double_arrival() -> None:
    switched = TWO_WAYS.replace("line-in: 5 dB", "line-in: 8 dB") + (
        "changeovers: [{id: boom, positions: [{id: cable, links: [cable]}, {id: radio, links: [to-pack, air]}]}]\n"
    )
    assert combs(switched) == []
    both = switched.replace("links: [to-pack, air]", "links: [cable, to-pack, air]")
    (double,) = combs(both)
    assert double.combination == " with boom: radio"


def test_a_late_second_arrival_is_an_echo() -> None:
    late = TWO_MICROPHONES.replace("[2 m]", "[12 m]").replace(
        "{mic-in 1-2: 40 dB}", "{mic-in 1: 30 dB, mic-in 2: 50 dB}"
    )
    (double,) = combs(late)
    assert double.heard
    assert double.echo
    (told,) = combing(Reaching(level_rig(late)))
    assert "it is heard as an echo" in told.what


def test_a_comb_that_only_a_position_s_gain_makes_is_found_in_it() -> None:
    set_by = TWO_WAYS.replace(", line-in: 5 dB", "") + (
        "changeovers:\n"
        "  - id: line\n"
        "    positions:\n"
        "      - {id: low, gains: {'recorder:line-in': -10 dB}}\n"
        "      - {id: high, gains: {'recorder:line-in': 10 dB}}\n"
    )
    low, high = combs(set_by)
    assert (low.heard, low.combination) == (False, " with line: low")
    assert (high.heard, high.combination) == (True, " with line: high")

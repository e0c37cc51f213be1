"""Proofs of levels, each both ways: what is wrong is told with its remedy, and the remedy makes it right."""

from __future__ import annotations

import re

import pytest
from level_rigs import KIT, RADIO, RIG, level_rig
from small_rigs import small_rig

from rollsound.finding import Finding, Weight
from rollsound.rig.level_proofs import clipping, drowning, settable, untold
from rollsound.rig.proofs import proofs
from rollsound.rig.reaching import Reaching

RIGHT = RIG.replace("effort: normal", "effort: very loud, quiet: normal").replace("65.32", "47").replace(
    "digital-mic: 0 dB", "digital-mic: 20 dB"
)  # fmt: skip


def told(text: str, kit: str = KIT) -> list[Finding]:
    reaching = Reaching(level_rig(text, kit))
    return [*clipping(reaching), *drowning(reaching), *untold(reaching)]


def test_a_rig_that_is_set_right_has_nothing_to_tell() -> None:
    assert told(RIGHT) == []


def test_a_clip_is_told_at_its_first_stage_and_taking_off_what_it_says_clears_it() -> None:
    (found,) = told(RIGHT.replace("mic-in 1: 47 dB", "mic-in 1: 60 dB"))
    assert found.weight is Weight.STOP
    assert found.what == (
        "Bram clips first at Recorder, mic-in 1: the loudest peaks are 9.7 dB over what it bears."
    )  # fmt: skip
    assert found.remedy == "Take 13 dB off at Recorder, mic-in 1 (+60 dB now)."
    assert found.refs[0].path == "plan#/rig/pieces/recorder"
    off = int(found.numbers["take_off_db"])
    assert told(RIGHT.replace("mic-in 1: 47 dB", f"mic-in 1: {60 - off} dB")) == []


def test_one_more_decibel_than_full_scale_clips_and_none_over_it_does_not() -> None:
    # 82.44 dB SPL on the mean, 17 dB of crest: +0 dBFS with 50.32 dB of gain
    assert [each.kind for each in told(RIGHT.replace("mic-in 1: 47 dB", "mic-in 1: 50.4 dB"))] == ["clipping"]
    assert told(RIGHT.replace("mic-in 1: 47 dB", "mic-in 1: 50.3 dB")) == []


def test_a_capsule_that_clips_cannot_be_helped_by_gain() -> None:
    (found, *_) = told(RIGHT.replace("effort: very loud, quiet: normal", "level: 126 dB SPL, quiet_level: 80 dB SPL"))
    assert "clips first at Boom, capsule" in found.what
    assert found.remedy == "Put a pad of 21 dB before Boom, capsule, or go farther from the source."


def test_what_clips_before_a_gain_is_taken_off_before_it() -> None:
    # the receiver's output at full scale is 6 dB over what this line input bears before its gain
    kit = KIT.replace("gain: -20 to 20 dB, clip: +24 dBu", "gain: -20 to 20 dB, clip: +10 dBu")
    text = (
        RADIO.replace("mic-in: 10 dB", "mic-in: 33 dB").replace("loss: 2 dB", "loss: 0 dB").replace("-6 dB", "-12 dB")
    )
    (found,) = told(text, kit)
    assert "clips first at Recorder, line-in" in found.what
    assert re.fullmatch(r"Take \d+ dB off at Pack, mic-in \(\+33 dB now\)\.", found.remedy)
    down = told(text.replace("mic-in: 33 dB", f"mic-in: {33 - int(found.numbers['take_off_db'])} dB"), kit)
    assert [each.kind for each in down if each.kind == "clipping"] == []


def test_a_clip_in_one_combination_is_told_with_it_and_the_place_that_sets_it() -> None:
    text = RIGHT.replace("mic-in 1: 47 dB, ", "") + (
        "changeovers:\n"
        "  - id: scene\n"
        "    positions:\n"
        "      - {id: soft, gains: {'recorder:mic-in 1': 60 dB}}\n"
        "      - {id: loud, gains: {'recorder:mic-in 1': 40 dB}}\n"
    )
    (found,) = told(text)
    assert "mic-in 1 with scene: soft: the loudest" in found.what
    assert found.refs[0].path == "plan#/rig/changeovers/scene/positions/soft/gains"


def test_sources_that_clip_alike_are_told_in_one_sentence() -> None:
    text = RIGHT.replace("mic-in 1: 47 dB", "mic-in 1-2: 60 dB").replace(
        "  - {id: digital}\n", "  - {id: digital}\n  - {id: boom-2, item: boom}\n"
    )
    text = text.replace("routes:\n", '  - {id: cable-2, from: "boom-2:out", to: "recorder:mic-in 2"}\nroutes:\n')
    text = text.replace("sources:\n", "  - {id: iso-2, piece: recorder, from: mic-in 2, to: track 3}\nsources:\n")
    text = text.replace("tracks:\n", (
        '  - {id: voice-2, name: Idris, at: "boom-2:capsule", effort: very loud, quiet: normal, distance: 60 cm}\n'
        "tracks:\n  - {id: t3, number: 3, name: Idris, source: voice-2}\n"
    ))  # fmt: skip
    (found,) = told(text)
    assert found.what.startswith("Bram and Idris clip first at Recorder, mic-in 1 and 1 place alike: ")
    assert found.numbers["sources"] == 2


@pytest.mark.source("alignment level -20 dBFS: SMPTE RP 155, document not read", kind="memory")
def test_a_source_under_alignment_level_is_told_with_a_split_that_lifts_it() -> None:
    low = RIGHT.replace("mic-in 1: 47 dB", "mic-in 1: 29 dB")
    (found,) = told(low)
    assert found.weight is Weight.WATCH
    assert found.what == "Bram comes to track 1 Bram with peaks at −21.3 dBFS, under the alignment level."
    assert "Recorder, mic-in 1 at +47 dB" in found.remedy
    assert told(RIGHT.replace("mic-in 1: 47 dB", "mic-in 1: 31 dB")) == []
    assert told(low + "line_up_dbfs: -24\n") == []


def test_noise_of_the_way_over_that_of_the_microphone_is_told() -> None:
    # little gain in the pack: its receiver's output and the line input are heard over the microphone
    text = RADIO.replace("mic-in: 10 dB", "mic-in: 12 dB").replace("line-in: -6 dB", "line-in: 20 dB")
    (found,) = [each for each in told(text) if "over the noise" in each.what]
    assert found.weight is Weight.WATCH
    assert found.numbers["added_noise_db"] > 3.0
    assert "Pack, mic-in at +33 dB" in found.remedy
    right = RADIO.replace("mic-in: 10 dB", "mic-in: 33 dB").replace("line-in: -6 dB", "line-in: 1 dB")
    assert told(right) == []


def test_a_quiet_voice_under_the_microphone_s_own_noise_is_told() -> None:
    (found,) = told(RIGHT.replace("quiet: normal", "quiet_level: 29 dB SPL"))
    assert "20 dB over the noise at its quietest" in found.what
    assert told(RIGHT.replace("quiet: normal", "quiet_level: 31 dB SPL")) == []


def test_a_level_that_nobody_wrote_is_told_once_and_never_counts_as_holding() -> None:
    (found,) = told(RIGHT.replace("kind: tone, at", "kind: room, at").replace("level: 94 dB SPL, ", ""))
    assert found.weight is Weight.WATCH
    assert found.kind == "level unknown"
    assert "write an effort or a level" in found.what
    silent = proofs(small_rig())
    assert not {each.kind for each in silent} & {"clipping", "level and noise", "level unknown"}
    (holds,) = [each for each in proofs(level_rig(RIGHT)) if each.kind == "clipping"]
    assert holds.weight is Weight.FINE


def test_how_far_a_source_is_from_what_stands_near_must_be_written() -> None:
    (found,) = told(RIGHT.replace("distance: 60 cm", "distance: 60 cm, near: [tone]"))
    assert found.kind == "level unknown"
    assert "how far Bram is from what stands near is not written" in found.what


def test_what_was_not_looked_at_is_told_and_never_counts_as_holding() -> None:
    positions = "{id: a, gains: {'recorder:mic-in 1': 47 dB}}, {id: b, gains: {'recorder:mic-in 1': 47 dB}}"
    many = "".join(f"  - {{id: c{n}, positions: [{positions}]}}\n" for n in range(10))
    (found,) = told(f"{RIGHT}changeovers:\n{many}")  # 1024 of them
    assert found.kind == "level unknown"
    assert "in some of their combinations only" in found.what
    few = "".join(f"  - {{id: c{n}, positions: [{positions}]}}\n" for n in range(5))
    assert told(f"{RIGHT}changeovers:\n{few}") == []


def test_a_gain_that_nobody_can_set_is_told_once_a_port() -> None:
    assert list(settable(Reaching(level_rig(RIGHT)))) == []
    (found,) = settable(Reaching(level_rig(RIGHT.replace("mic-in 1: 47 dB", "mic-in 1-4: 81 dB"))))
    assert found.weight is Weight.WATCH
    assert found.what == "Recorder, mic-in 1 is written as +81 dB, and goes from 0 to +80 dB."
    (found,) = settable(Reaching(level_rig(RIGHT.replace("{id: digital}", "{id: digital, gains: {out: 6 dB}}"))))
    assert found.what == "Digital boom, out is written as +6 dB, and has no gain to set."
    (found,) = settable(
        Reaching(
            level_rig(RIGHT + "changeovers: [{id: c, positions: [{id: p, gains: {'recorder:digital-mic': 61 dB}}]}]\n")
        )
    )
    assert found.refs[0].path == "plan#/rig/changeovers/c/positions/p/gains"

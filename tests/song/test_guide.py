"""A live voice along its guide: known warps found again, phrases told, and nothing believed that is not there."""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.song.sung import HZ, WARPS, Sung, clicks, sung

from rollsound.demo.scenario import person
from rollsound.demo.voice import speak
from rollsound.finding import Weight
from rollsound.song.course import LEAST_CONFIDENCE, course_of
from rollsound.song.features import HOP_S, FeatureReader, Features
from rollsound.song.guide import Against, against, beginning, phrases_of
from rollsound.song.guide_proofs import guide_proofs

WORST: dict[str, Any] = {
    "same_words": False,
    "jitter_s": 0.01,
    "snr_db": 20,
    "room_s": 0.8,
    "others_db": 15,
    "band": True,
}


def features(sound: np.ndarray, block: int = 1 << 30) -> Features:
    reader = FeatureReader(HZ)
    for start in range(0, sound.size, block):
        reader.feed(sound[start : start + block])
    return reader.finish()


@functools.cache
def pair(warp: str, worst: bool = False, lines: int = 2) -> tuple[Sung, Features, Features]:
    made = sung(WARPS[warp], lines=lines, **(WORST if worst else {"same_words": False}))
    return made, features(made.live), features(made.guide)


def note_errors_ms(warp: str, worst: bool = False, lines: int = 2) -> np.ndarray:
    made, live, guide = pair(warp, worst, lines)
    found = course_of(live, guide)
    at = made.at_s + 0.1
    return 1000.0 * np.abs(np.interp(at, found.at_s, found.late_s) - made.late_s)


@pytest.mark.parametrize("warp", ["30 ms late", "comes and goes"])
def test_a_known_warp_is_found_note_by_note(warp: str) -> None:
    """With other words than the guide's; the goal is a median below 10 ms, and design/guide_course.py prints 0.7."""
    assert np.median(note_errors_ms(warp)) < 3.0


def test_the_goal_holds_with_everything_wrong_at_once() -> None:
    """Other words, slips, noise, a room, another singer, and the piano under the guide."""
    assert np.median(note_errors_ms("line by line", worst=True)) < 10.0


@pytest.mark.soak
@pytest.mark.parametrize("warp", WARPS)
def test_the_goal_holds_for_every_warp(warp: str) -> None:
    assert np.median(note_errors_ms(warp, lines=4)) < 3.0
    assert np.median(note_errors_ms(warp, worst=True, lines=4)) < 10.0


def test_a_truth_that_is_off_by_fifteen_milliseconds_goes_red() -> None:
    made, live, guide = pair("30 ms late")
    found = course_of(live, guide)
    late = np.interp(made.at_s + 0.1, found.at_s, found.late_s)
    assert np.median(1000.0 * np.abs(late - (made.late_s + 0.015))) > 10.0


def told(answer: Against, limit_s: float = 0.04) -> list[tuple[str, Weight, str]]:
    found = guide_proofs(
        answer, name="Leila on T1", guide="Playback", path="T1.wav", track=2, sample_rate_hz=HZ, limit_s=limit_s,
        place=lambda seconds: f"at {seconds:.0f} s",
    )  # fmt: skip
    return [(each.kind, each.weight, each.what) for each in found]


def test_phrases_that_are_off_are_told_and_the_others_not() -> None:
    _, live, guide = pair("line by line", worst=True)
    clean = sung(WARPS["line by line"], lines=3)
    answer = against(features(clean.live), features(clean.guide))
    assert [each.verdict for each in answer.phrases] == ["in time", "late", "early"]
    assert [round(1000 * each.late_s) for each in answer.phrases] == [
        pytest.approx(true, abs=3) for true in (0, 90, -50)
    ]
    assert all(each.sigma_s < 0.005 for each in answer.phrases)
    ((kind, weight, what),) = told(answer)
    assert (kind, weight) == ("live against guide", Weight.WATCH)
    assert "2 of 3 phrases are off Playback by more than 40 ms: at 9 s late by 90 ms, at 16 s early by 5" in what
    # where much is wrong at once less is sure, and what is not sure is not told as early or late
    unsure = against(live, guide)
    assert {each.verdict for each in unsure.phrases if not np.isfinite(each.late_s)} <= {"unsure"}
    assert unsure.sure_share < answer.sure_share


def test_an_offset_throughout_and_a_drift_are_told_as_such() -> None:
    _, live, guide = pair("30 ms late")
    answer = against(live, guide, limit_s=0.02)
    assert answer.late_s == pytest.approx(0.030, abs=2 * answer.sigma_s + 0.001)
    assert "is late against Playback by 30 ms throughout, on 2 phrases" in told(answer, 0.02)[0][2]
    assert "is in time with Playback to 40 ms: +30 ms" in told(against(live, guide))[0][2]
    made = sung(WARPS["drags 3 ms a second"], lines=3)
    answer = against(features(made.live), features(made.guide))
    assert answer.drift == pytest.approx(0.003, abs=0.0002)
    assert any(
        kind == "live drifts" and "falls behind Playback steadily, by 6" in what for kind, _, what in told(answer)
    )


@pytest.mark.parametrize("what", ["noise", "silence", "talk", "hum"])
def test_what_follows_nothing_is_not_believed(what: str) -> None:
    made, _, guide = pair("30 ms late")
    random = np.random.default_rng(4)
    swell = np.repeat(random.uniform(0, 1, made.live.size // 4800 + 1), 4800)[: made.live.size]
    sound = {
        "noise": lambda: 0.1 * swell * random.standard_normal(made.live.size),
        "silence": lambda: np.zeros(made.live.size),
        "talk": lambda: speak(person("Bram"), made.live.size / HZ, random)[: made.live.size],
        "hum": lambda: 0.1 * np.sin(2 * np.pi * 50 * np.arange(made.live.size) / HZ),
    }[what]()
    answer = against(features(sound.astype(np.float32)), guide)
    assert answer.sure_share < 0.2
    assert sum(each.verdict in ("early", "late", "in time") for each in answer.phrases) <= 1
    assert {weight for _, weight, _ in told(answer)} <= {Weight.FINE, Weight.WATCH}


def test_against_a_click_only_what_words_do_not_explain_is_told() -> None:
    made, live, _ = pair("30 ms late")
    answer = against(live, features(clicks(made.live.size / HZ)), click=True)
    assert abs(answer.late_s - 0.030) < 0.070
    assert not any(each.verdict in ("early", "late") for each in answer.phrases)


def test_two_files_that_do_not_begin_together() -> None:
    made, _, guide = pair("30 ms late")
    later = np.concatenate([np.zeros(3 * HZ, np.float32), made.live])
    begins_s, sure = beginning(features(later), guide)
    assert begins_s == pytest.approx(3.03, abs=0.02)
    assert sure > 1.2
    answer = against(features(later), guide, around_s=begins_s)
    assert begins_s + answer.late_s == pytest.approx(3.03, abs=0.003)
    part = features(made.live[5 * HZ : 15 * HZ])
    assert beginning(part, guide)[0] == pytest.approx(-4.97, abs=0.03)
    noise = features(np.random.default_rng(1).normal(0, 0.1, 20 * HZ).astype(np.float32))
    assert beginning(noise, guide)[1] < 1.12


@settings(max_examples=12, deadline=None)
@given(
    size=st.sampled_from([0, 1, 239, 240, 241, 959, 960, 961, 20_000]), block=st.sampled_from([1, 7, 240, 333, 5000])
)
def test_streaming_equals_one_shot(size: int, block: int) -> None:
    sound = np.random.default_rng(2).normal(0, 0.1, size).astype(np.float32)
    whole, parts = features(sound), features(sound, max(block, size // 100))
    assert whole.frames == parts.frames
    np.testing.assert_array_equal(whole.changes, parts.changes)


def test_phrases_are_parted_by_rests() -> None:
    level = np.full(2000, -80.0, np.float32)
    for start, end in ((100, 400), (430, 600), (700, 760), (900, 1900)):
        level[start:end] = -20.0
    spans = phrases_of(level)
    edges = [(round(a / HOP_S), round(b / HOP_S)) for a, b in spans]
    assert [pytest.approx(each, abs=5) for each in ((100, 600), (900, 1900))] == edges[:1] + edges[1:2]
    assert phrases_of(np.full(500, -130.0, np.float32)) == []
    assert LEAST_CONFIDENCE > 0

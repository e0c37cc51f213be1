"""Faults told as findings: weights, places, numbers, merged lists, cautions."""

from __future__ import annotations

import numpy as np
import pytest

from rollsound.finding import Area, Weight
from rollsound.measure import Fault, Survey, SurveyResult, TrackMeasures, TrackPair, findings_of
from rollsound.timecode import Rate

RATE = 48_000
START = 10 * 3600 * RATE
PAL = Rate.parse("25")


def track(*faults: Fault, guess: str = "radio", rms: float = -30.0) -> TrackMeasures:
    return TrackMeasures(
        sample_peak_dbfs=-3.0, sample_peak_at=0, true_peak_dbtp=-3.0, true_peak_at=0, integrated_lufs=-27.0,
        loudness_range_lu=8.0, max_momentary_lufs=-20.0, max_short_term_lufs=-22.0, rms_dbfs=rms,
        rms_by_time=np.zeros(1, np.float32), dc=0.0, kind_guess=guess, faults=faults,
    )  # fmt: skip


def told(*tracks: TrackMeasures, names=("Bram", "Maelis"), pairs=(), rate: Rate | None = PAL):  # type: ignore[no-untyped-def]
    result = SurveyResult(sample_rate_hz=RATE, frames=RATE * 200, tracks=tracks, pairs=tuple(pairs))
    return findings_of(result, "recorder/NF.wav", names, START, rate)


def hits(count: int, milliseconds: float = 20.0) -> list[Fault]:
    return [
        Fault("radio-hit", RATE * (41 + 5 * k), round(48 * milliseconds * (1 + k)), -8.0 - k, 0.9, {"rise_db": 20.0})
        for k in range(count)
    ]


def test_one_fault_is_one_sentence_with_its_place() -> None:
    (finding,) = told(track(Fault("mute", RATE * 61 + 1920 * 3, 9600, float("-inf"), 0.97, {"zeros_samples": 9600.0})))
    assert finding.weight is Weight.STOP
    assert finding.area is Area.SIGNAL
    assert finding.what == "One mute of 200 ms on track 1 (Bram) at 10:01:01:03."
    assert finding.refs[0].model_dump() == {
        "path": "recorder/NF.wav", "track": 1, "start_sample": RATE * 61 + 5760, "length_samples": 9600,
        "timecode": "10:01:01:03",
    }  # fmt: skip
    assert finding.numbers["seconds"] == pytest.approx(0.2)
    assert finding.remedy
    assert finding.source


def test_many_are_merged_and_the_worst_comes_first() -> None:
    (finding,) = told(track(), track(*hits(14)))
    assert finding.what == (
        "14 radio hits on track 2 (Maelis) between 10:00:41:00 and 10:01:46:00; "
        "the worst, of 280 ms, at 10:01:46:00, −21.0 dBFS."
    )
    assert finding.numbers["count"] == 14
    assert len(finding.refs) == 14
    assert finding.refs[0].length_samples == 14 * 960
    (long,) = told(track(*[Fault("click", 4800 * k, 3, -20.0, 0.9, {}) for k in range(400)]))
    assert len(long.refs) == 50
    assert long.weight is Weight.STOP


def test_loud_faults_bring_a_listening_level() -> None:
    (finding,) = told(track(*hits(1), rms=-30.0))
    # 22 dB over the track's own level, rounded up to 25, and 10 dB of margin
    assert finding.numbers["start_listening_db"] == -35.0
    assert "Start listening at a low level" in finding.why
    assert "35 dB under your usual level" in finding.why
    (hum,) = told(
        track(Fault("hum", 0, RATE * 200, -50.0, 0.9, {"mains_hz": 50.0, "strongest_hz": 100.0, "rise_db": 20.0}))
    )
    assert "start_listening_db" not in hum.numbers


def test_weights() -> None:
    assert told(track(*hits(1)))[0].weight is Weight.WATCH
    assert told(track(*hits(6, 40.0)))[0].weight is Weight.STOP
    clip = Fault("clip", 0, 480, 0.0, 0.99, {"runs": 2.0})
    assert told(track(clip))[0].weight is Weight.WATCH
    assert told(track(Fault("clip", 0, 4800, 0.0, 0.99, {"runs": 9.0})))[0].weight is Weight.STOP
    assert told(track(Fault("over-full-scale", 0, 4800, 3.0, 1.0, {"over_db": 3.0})))[0].weight is Weight.FINE
    assert told(track(Fault("dead", RATE * 100, RATE * 100, -85.0, 0.9, {})))[0].weight is Weight.STOP
    assert told(track(Fault("dead", 0, RATE * 200, -85.0, 1.0, {})))[0].weight is Weight.WATCH


def test_unsure_faults_are_not_told_and_a_clean_file_says_so() -> None:
    (finding,) = told(track(Fault("dropout", 0, 480, -80.0, 0.4, {})), track())
    assert finding.kind == "no-faults"
    assert finding.weight is Weight.FINE
    assert finding.what == "No faults were found on 2 tracks in 3 min 20 s."


def test_hum_on_most_tracks_is_of_the_place() -> None:
    hum = [
        Fault("hum", 0, RATE * 200, -60.0 + c, 0.9, {"mains_hz": 50.0, "strongest_hz": 50.0, "rise_db": 20.0})
        for c in range(6)
    ]
    (finding,) = told(*(track(h) for h in hum), track(), names=[f"Boom {k}" for k in range(7)])
    assert (
        finding.what == "Hum of 50 Hz mains or a machine on 6 of 7 tracks, loudest on track 6 (Boom 5) at −55.0 dBFS."
    )
    assert {ref.track for ref in finding.refs} == {1, 2, 3, 4, 5, 6}
    assert len(told(track(hum[0]), track())) == 1


def test_lines_that_are_fed_may_stop() -> None:
    mute = Fault("mute", RATE, 9600, float("-inf"), 0.97, {})
    dead = Fault("dead", RATE * 100, RATE * 100, -90.0, 0.9, {})
    assert [f.kind for f in told(track(mute, dead), names=["Playback L"])] == ["no-faults"]
    assert {f.kind for f in told(track(mute, dead), names=["Boom 1"])} == {"mute", "dead"}


def test_pairs_and_code() -> None:
    twin = TrackPair(0, 1, "duplicate", 1.0, 0.0, {"coherence": 1.0, "exact": 1.0})
    flip = TrackPair(0, 1, "inverted", -0.9, 96.0, {"coherence": 0.9, "exact": 0.0})
    both = (track(), track())
    (finding,) = told(*both, pairs=[twin])
    assert finding.weight is Weight.WATCH
    assert finding.what == "Track 1 (Bram) and track 2 (Maelis) carry the same sound, sample for sample."
    assert told(*both, pairs=[twin], names=["Mix L", "Boom"])[0].weight is Weight.FINE
    assert "opposite polarity, 2.0 ms apart" in told(*both, pairs=[flip])[0].what
    code = told(track(guess="time code"))
    assert (code[0].area, code[0].weight) == (Area.SYNC, Weight.FINE)


def test_places_without_time_code_and_drop_frame() -> None:
    mute = track(Fault("mute", RATE * 61, 9600, float("-inf"), 0.97, {}))
    assert told(mute, rate=None)[0].what == "One mute of 200 ms on track 1 (Bram) at 1 min 01 s from the start."
    assert told(mute, rate=None)[0].refs[0].timecode == ""
    assert told(mute, rate=Rate.parse("29.97DF"))[0].refs[0].timecode[:9] == "10:01:01;"


def test_a_whole_survey_goes_through(speech) -> None:  # type: ignore[no-untyped-def]
    audio = np.stack([speech(12, k, floor_dbfs=-52.0) for k in range(2)], axis=1)
    audio[RATE * 5 : RATE * 5 + 4800, 1] = 0.0
    job = Survey(RATE, 2, 24)
    job.feed(audio)
    found = findings_of(job.finish(), "a.wav", ["Bram", "Maelis"], START, PAL)
    assert [(f.kind, f.refs[0].track, f.refs[0].start_sample) for f in found] == [("mute", 2, RATE * 5)]

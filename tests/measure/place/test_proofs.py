"""What the sound of a site is told as: each check can hold, and can fail."""

from __future__ import annotations

from typing import Any

import pytest

from rollsound.finding import Area, Finding, Weight
from rollsound.measure.place.model import SiteSound
from rollsound.measure.place.proofs import WorkingDay, proofs

HELD = [{"id": octave, "t20": "0.6 s", "t30": "0.62 s", "holds": "T30"} for octave in ("500", "1k", "2k")]
LOST = [*HELD[:2], {"id": "2k", "t20": "0.9 s", "range": "28 dB", "note": "the noise is reached 28 dB down"}]
DAY = WorkingDay("day-4", "Day 4", "07:00", "19:00", "2031-02-18")


def found(days: tuple[WorkingDay, ...] = (), uncalibrated: bool = False, **written: Any) -> dict[str, Finding]:
    sound = SiteSound.model_validate(written)
    return {each.kind: each for each in proofs("quay", "Quay", sound, days, uncalibrated=uncalibrated)}


def test_a_site_that_was_never_visited_is_silent() -> None:
    assert found() == {}


@pytest.mark.parametrize(
    ("laeq", "weight"), [("35 dBA", Weight.FINE), ("48 dBA", Weight.WATCH), ("56 dBA", Weight.STOP)]
)
def test_noise_against_a_voice_at_the_boom(laeq: str, weight: Weight) -> None:
    told = found(laeq=laeq, calibration="by a tone", boom="0.6 m")["place noise"]
    assert told.weight is weight
    assert told.area is Area.SIGNAL
    assert told.numbers["speech_to_noise_db"] == pytest.approx(64.44 - float(laeq.split()[0]), abs=0.01)
    assert told.refs[0].path == "plan#/sites/quay/sound"
    assert "ISO 9921" in told.source
    assert bool(told.remedy) is (weight is not Weight.FINE)


def test_the_planned_distance_and_the_effort_count() -> None:
    assert found(laeq="40 dBA", boom="0.6 m")["place noise"].weight is Weight.FINE
    assert found(laeq="40 dBA", boom="3 m")["place noise"].weight is Weight.WATCH
    assert found(laeq="40 dBA", boom="3 m", effort="very loud")["place noise"].weight is Weight.FINE


def test_a_room_may_limit_the_boom_where_the_noise_does_not() -> None:
    free = found(laeq="20 dBA", boom="1 m")["boom distance"]
    assert free.weight is Weight.FINE
    assert "volume is not known" in free.what
    room = found(laeq="20 dBA", boom="1 m", volume="40 m³", reverberation=[{**row, "t30": "3 s"} for row in HELD])
    assert room["boom distance"].weight is Weight.WATCH
    assert "limited by the room's reverberation" in room["boom distance"].what


def test_reverberation_that_does_not_hold_is_said_with_the_reason() -> None:
    assert found(reverberation=HELD)["place reverberation"].weight is Weight.FINE
    lost = found(reverberation=LOST)["place reverberation"]
    assert lost.weight is Weight.WATCH
    assert "at 2 kHz" in lost.what
    assert "28 dB down" in lost.why


def test_hum_and_tones() -> None:
    hum = {"id": "100-hz", "frequency": "100 Hz", "over": "12 dB", "what": "mains 50 Hz, harmonic 2"}
    tone = {"id": "2345-hz", "frequency": "2345 Hz", "over": "15 dB"}
    faint = {**tone, "over": "3 dB"}
    assert found(tones=[hum])["place hum"].weight is Weight.WATCH
    assert found(tones=[{**hum, "over": "-3 dB"}])["place hum"].weight is Weight.FINE
    assert "2,345 Hz" in found(tones=[tone])["place tone"].what
    assert set(found(tones=[faint])) == {"place hum"}
    assert found(tones=[faint])["place hum"].weight is Weight.FINE


def test_levels_without_a_calibration_are_said_to_be_relative() -> None:
    told = found(uncalibrated=True)
    assert told["place calibration"].weight is Weight.WATCH
    assert "relative only" in told["place calibration"].what
    assert "place noise" not in told


def test_noisy_hours_against_the_days() -> None:
    bells = {"id": "bells", "from": "18:00", "to": "18:20", "what": "bells", "level": "70 dBA"}
    hit = found((DAY,), noisy_hours=[bells])["noisy hours"]
    assert hit.weight is Weight.WATCH
    assert hit.numbers["minutes"] == 20
    assert "bells 18:00 to 18:20, 70 dBA" in hit.what
    assert found((DAY,), noisy_hours=[{**bells, "from": "20:00", "to": "21:00"}])["noisy hours"].weight is Weight.FINE
    assert found((WorkingDay("day-9", "Day 9", "", ""),), noisy_hours=[bells]) == {}

"""Levels: units, microphones, voices, and what they come to along a path, against published and computed figures."""

from __future__ import annotations

import math

import pytest
from level_rigs import RADIO, RIG, along, level_rig

from rollsound.errors import InputError
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.microphones import (
    FLOAT_OVER_FULL_SCALE_DB,
    FLOAT_RANGE_DB,
    dbu_per_pascal,
    dbv_per_pascal,
    fed,
    full_scale_spl,
    gives_dbu,
    heard_spl,
    most_power,
    sine_range_db,
    thermal_dbu,
)
from rollsound.rig.reaching import Reaching
from rollsound.rig.speech import NotKnown, at_distance_db, crest_db, effort_dba, lombard_db, source_level
from rollsound.rig.volts import (
    dbu_of_dbfs,
    dbu_of_dbv,
    dbu_of_volts,
    dbv_of_dbu,
    full_scale_of,
    over_line_up_db,
    permitted_maximum_dbfs,
    summed_db,
    volts_of_dbu,
    worst_peak_dbfs,
)

# Units


@pytest.mark.source("0 dBu = sqrt(0.6) V, computed", kind="published")
@pytest.mark.parametrize(("dbu", "volts"), [(4, 1.2277), (18, 6.1528), (22, 9.7516), (24, 12.277)])
def test_volts_of_dbu(dbu: float, volts: float) -> None:
    assert volts_of_dbu(dbu) == pytest.approx(volts, rel=1e-4)
    assert dbu_of_volts(volts_of_dbu(dbu)) == pytest.approx(dbu)


@pytest.mark.source("dBu = dBV + 2.2185, computed", kind="published")
def test_consumer_level() -> None:
    assert dbu_of_dbv(-10.0) == pytest.approx(-7.782, abs=5e-4)
    assert volts_of_dbu(dbu_of_dbv(-10.0)) == pytest.approx(0.31623, abs=5e-6)
    assert dbv_of_dbu(dbu_of_dbv(3.0)) == pytest.approx(3.0)


@pytest.mark.source("alignment as in use: SMPTE RP 155 with +24 dBu, EBU R68-2000 with +18 dBu", kind="published")
def test_alignment_levels_in_volts() -> None:
    assert full_scale_of(-20.0) == 24.0
    assert full_scale_of(-18.0) == 18.0
    assert dbu_of_dbfs(-20.0, full_scale_of(-20.0)) == pytest.approx(4.0)
    assert volts_of_dbu(dbu_of_dbfs(-20.0, 24.0)) == pytest.approx(1.2277, rel=1e-4)
    assert dbu_of_dbfs(-18.0, full_scale_of(-18.0)) == pytest.approx(0.0)


@pytest.mark.source(
    "EBU R68-2000: alignment -18 dBFS, permitted maximum 9 dB over, true peaks 15 dB over", kind="published"
)
def test_a_tone_at_another_alignment_level_and_what_is_left_over_the_worst_peak() -> None:
    assert over_line_up_db(-20.0, -18.0) == pytest.approx(-2.0)
    assert permitted_maximum_dbfs(-18.0) == pytest.approx(-9.0)
    assert worst_peak_dbfs(-18.0) == pytest.approx(-3.0)


# Microphones


@pytest.mark.source("20 lg of mV/1000, +2.2185 for dBu; -40 dB re 1 V/Pa is 10 mV/Pa", kind="published")
@pytest.mark.parametrize(
    ("mv", "dbv", "dbu"),
    [
        (1.85, -54.66, -52.44),
        (5, -46.02, -43.80),
        (12, -38.42, -36.20),
        (17.8, -34.99, -32.77),
        (20, -33.98, -31.76),
        (28, -31.06, -28.84),
        (50, -26.02, -23.80),
    ],
)
def test_sensitivities(mv: float, dbv: float, dbu: float) -> None:
    assert dbv_per_pascal(mv) == pytest.approx(dbv, abs=0.006)
    assert dbu_per_pascal(mv) == pytest.approx(dbu, abs=0.006)


@pytest.mark.source("a microphone's data: 28 mV/Pa, 117 dB SPL, at most 390 mV; computed", kind="published")
def test_what_a_microphone_gives_at_its_loudest() -> None:
    assert volts_of_dbu(gives_dbu(28.0, 117.0)) * 1000 == pytest.approx(395.5, abs=0.05)
    assert heard_spl(28.0, dbu_of_volts(0.390)) - 94.0 == pytest.approx(22.88, abs=0.005)


@pytest.mark.source("-26 dBV/Pa and 0.1 V: 100 dB SPL; computed", kind="published")
def test_sound_level_from_a_voltage() -> None:
    assert heard_spl(1000 * 10 ** (-26 / 20), dbu_of_volts(0.1)) == pytest.approx(100.0, abs=0.05)


@pytest.mark.source(
    "exercise of an examination in audiovisual trade: gain to 0 dBu at 72 dB SPL; computed", kind="published"
)
@pytest.mark.parametrize(("dbv", "gain", "suits"), [(-54.5, 74.28, False), (-35.0, 54.78, True)])
def test_gain_that_speech_needs(dbv: float, gain: float, suits: bool) -> None:
    needed = 0.0 - gives_dbu(1000 * 10 ** (dbv / 20), 72.0)
    assert needed == pytest.approx(gain, abs=0.005)
    assert (needed <= 60.0) is suits


@pytest.mark.source("Johnson noise, 20 kHz, 20 °C; computed", kind="published")
@pytest.mark.parametrize(("ohm", "dbu"), [(150, -130.92), (200, -129.67)])
def test_noise_that_no_preamplifier_is_under(ohm: float, dbu: float) -> None:
    assert thermal_dbu(ohm) == pytest.approx(dbu, abs=0.006)


@pytest.mark.source("EIN - S + 94; noises by their power; computed", kind="published")
def test_a_preamplifier_s_noise_as_sound() -> None:
    assert heard_spl(20.0, -128.0) == pytest.approx(-2.2, abs=0.05)
    assert heard_spl(1.85, -128.0) == pytest.approx(18.4, abs=0.05)
    assert summed_db((13.0, -2.2)) == pytest.approx(13.13, abs=0.005)
    assert summed_db(()) == -math.inf


@pytest.mark.source("20 mV/Pa at 130 dB SPL; computed", kind="published")
def test_a_shout_can_clip_an_input() -> None:
    assert gives_dbu(20.0, 130.0) == pytest.approx(4.24, abs=0.005)


@pytest.mark.source("IEC 61938, as quoted: 48 V through 6.8 kohm in each leg; Ohm's law", kind="published")
@pytest.mark.parametrize(
    ("ma", "volts", "mw"), [(2, 41.2, 82.4), (4, 34.4, 137.6), (7, 24.2, 169.4), (10, 14.0, 140.0)]
)
def test_what_phantom_leaves_at_a_microphone(ma: float, volts: float, mw: float) -> None:
    left = fed("p48", ma)
    assert left.voltage_v == pytest.approx(volts, abs=0.05)
    assert left.power_mw == pytest.approx(mw, abs=0.05)
    assert left.within


@pytest.mark.source("48² / (4 · 3400 ohm); an encyclopedia's 240 mW is not reachable", kind="published")
def test_the_most_that_phantom_can_give() -> None:
    power, current = most_power("p48")
    assert power == pytest.approx(169.4, abs=0.05)
    assert current == pytest.approx(7.06, abs=0.005)
    assert power < 240
    assert most_power("p24")[0] == pytest.approx(240.0)
    assert not fed("p24", current_ma=most_power("p24")[1]).within


@pytest.mark.source("IEC 61938, as quoted: P24 1.2 kohm, P12 680 ohm; Ohm's law", kind="published")
def test_the_smaller_phantom_supplies() -> None:
    assert (fed("p24", 10).power_mw, fed("p24", 10).voltage_v) == pytest.approx((180.0, 18.0))
    assert (fed("p12", 15).power_mw, fed("p12", 15).voltage_v) == pytest.approx((103.5, 6.90))
    with pytest.raises(InputError, match="no phantom supply"):
        fed("p96", 1)


@pytest.mark.source("dBFS = SPL - SPL at full scale; computed", kind="published")
def test_a_digital_microphone_by_its_full_scale() -> None:
    assert full_scale_spl(-26.0) == pytest.approx(120.0)
    assert along(level_rig(), "tone", "track:t2").end.mean_db == pytest.approx(-36.0)


@pytest.mark.source("ideal converter 6.02 n + 1.76 dB; IEEE 754 single precision", kind="published")
def test_what_words_hold() -> None:
    assert sine_range_db(24) == pytest.approx(146.25, abs=0.01)
    assert pytest.approx(770.6, abs=0.05) == FLOAT_OVER_FULL_SCALE_DB
    assert pytest.approx(1529.2, abs=0.05) == FLOAT_RANGE_DB


# Voices


@pytest.mark.source(
    "ISO 9921:2003, as quoted in a form after UNE-EN ISO 9921:2004; 20 lg of distance", kind="published"
)
def test_voices_by_effort_and_distance() -> None:
    levels = {each: effort_dba(each) for each in ("relaxed", "normal", "raised", "loud", "very loud")}
    assert levels == {"relaxed": 54, "normal": 60, "raised": 66, "loud": 72, "very loud": 78}
    assert at_distance_db(3.0, 0.6) == pytest.approx(-13.98, abs=0.005)
    with pytest.raises(InputError, match="nearer than"):
        at_distance_db(0.001)


@pytest.mark.source("Bottalico and others: 0.24 dB/dBA under 43.3 dBA, 0.65 over it", kind="published")
def test_people_speak_up_in_noise() -> None:
    assert lombard_db(43.3, 33.3) == pytest.approx(2.4)
    assert lombard_db(53.3, 43.3) == pytest.approx(6.5)
    assert lombard_db(53.3, 33.3) == pytest.approx(8.9)


@pytest.mark.source("ITU-T H.871, summary: crest of speech 12 to 17 dB", kind="published")
def test_the_crest_that_is_reckoned_with_is_the_most() -> None:
    assert crest_db("voice") == 17.0


@pytest.mark.parametrize(
    ("was", "now", "why"),
    [
        (", effort: normal", "", "write an effort or a level"),
        (", distance: 60 cm", "", "write its distance"),
    ],
)
def test_a_voice_that_is_not_told_has_no_level(was: str, now: str, why: str) -> None:
    rig = level_rig(RIG.replace(was, now))
    level = source_level(rig.source_rows["voice"])
    assert isinstance(level, NotKnown)
    assert why in level.why
    assert why in along(rig).unknown
    assert along(rig).stages == ()


def test_a_voice_without_effort_in_a_noisy_place_is_taken_to_speak_up() -> None:
    rig = level_rig(RIG.replace("effort: normal", "place_noise: 53.3 dBA"))
    level = source_level(rig.source_rows["voice"], 1.0)
    assert not isinstance(level, NotKnown)
    assert level.loudest_db == pytest.approx(60 + 3.3 * 0.24 + 10 * 0.65)
    assert any("speaks up" in each for each in level.assumed)


# Along a path


def test_a_voice_that_enters_by_no_microphone_has_no_level_there() -> None:
    path = along(level_rig(RIG.replace('at: "boom:capsule"', 'at: "recorder:mic-in 1"')))
    assert path.unknown == "it is written in dB SPL, and enters at Recorder, mic-in 1 where levels are in dBu"


@pytest.mark.source(
    "60 dBA at 1 m, 0.6 m, 20 mV/Pa, +24 dBu at full scale: 64.44 dB SPL, -61.32 dBu, -20 dBFS", kind="published"
)
def test_normal_speech_from_the_mouth_to_the_track() -> None:
    stages = along(level_rig()).stages
    assert [(each.unit, round(each.mean_db, 2)) for each in stages] == [
        ("dB SPL", 64.44), ("dBu", -61.32), ("dBu", 4.0), ("dBFS", -20.0),
    ]  # fmt: skip
    to_zero = along(level_rig(RIG.replace("65.32", "61.32"))).stages
    assert to_zero[2].mean_db == pytest.approx(0.0, abs=0.005)


@pytest.mark.source("78 dBA with the same gain: -2 dBFS, peaks +10 and +15 dBFS", kind="published")
@pytest.mark.parametrize(("crest", "peak"), [(12, 10), (17, 15)])
def test_a_shout_with_the_gain_of_speech_clips(crest: float, peak: float) -> None:
    path = along(level_rig(RIG.replace("effort: normal", f"effort: very loud, crest: {crest} dB")))
    assert path.end.mean_db == pytest.approx(-2.0, abs=0.01)
    assert path.end.peak_db == pytest.approx(peak, abs=0.01)
    assert path.clips_at == 2  # the preamplifier's converter, before the track
    assert path.stages[2].headroom_db == pytest.approx(-peak, abs=0.01)


@pytest.mark.source("peaks of a shout 3 dB under full scale: mean -20 dBFS, normal speech -38 dBFS", kind="published")
def test_gain_for_a_shout_leaves_speech_low() -> None:
    text = RIG.replace("effort: normal", "effort: very loud, quiet: normal, crest: 17 dB").replace("65.32", "47.32")
    end = along(level_rig(text)).end
    assert (end.peak_db, end.mean_db, end.quiet_db) == pytest.approx((-3.0, -20.0, -38.0), abs=0.01)


@pytest.mark.source("by hand: sensitivity, gains and full scales added up", kind="practice")
def test_levels_and_noise_through_radio_and_two_converters_by_hand() -> None:
    path = along(level_rig(RADIO))
    told = {str(each.spot).rsplit(" ", 1)[0]: each for each in path.stages}
    mic_dbu = -31.7609 + 78 - 94  # 20 mV/Pa at 78 dB SPL
    assert told["boom:out"].mean_db == pytest.approx(mic_dbu, abs=0.001)
    assert told["pack:mic-in"].mean_db == pytest.approx(mic_dbu + 10, abs=0.001)
    assert told["pack:air"].mean_db == pytest.approx(mic_dbu + 10 - 6, abs=0.001)
    assert told["receiver:out"].mean_db == pytest.approx(mic_dbu + 4 + 18, abs=0.001)
    assert told["recorder:line-in"].mean_db == pytest.approx(mic_dbu + 22 - 2 - 6, abs=0.001)
    assert path.end.mean_db == pytest.approx(mic_dbu + 14 - 20 + 1, abs=0.001)
    assert path.end.quiet_db == pytest.approx(path.end.mean_db - 18)
    # the recorder's line input clips at +20 dBu after its gain, and at +24 dBu before it
    assert told["recorder:line-in"].limit_db == pytest.approx(min(20, 24 - 6))
    # the microphone's 13 dBA, the pack's -120 dBu, the receiver's output, the line input, each carried to the track
    noises_dbu = (
        -31.7609 + 13 - 94 + 10 - 6 + 18 - 2 - 6, -120 + 10 - 6 + 18 - 2 - 6, -90 - 2 - 6, -95 - 6
    )  # fmt: skip
    total = 10 * math.log10(sum(10 ** (each / 10) for each in noises_dbu))
    assert path.end.noise_db == pytest.approx(total - 20 + 1, abs=0.003)  # the track's own steps add 0.002 dB


def test_a_microphone_without_sensitivity_is_told_and_nothing_is_made_up() -> None:
    from level_rigs import KIT

    path = along(level_rig(kit=KIT.replace("sensitivity: 20 mV/Pa, ", "")))
    assert "no sensitivity is written for the microphone" in path.unknown
    assert "Boom" in path.unknown
    assert len(path.stages) == 1


def test_a_gain_that_only_a_position_sets_counts_in_every_combination() -> None:
    text = RIG.replace("mic-in 1: 65.32 dB, ", "") + (
        "changeovers:\n"
        "  - id: scene\n"
        "    positions:\n"
        "      - {id: soft, gains: {'recorder:mic-in 1': 60 dB}}\n"
        "      - {id: loud, gains: {'recorder:mic-in 1': 40 dB}}\n"
    )
    reaching = Reaching(level_rig(text))
    assert reaching.reach("voice", "track:t1").changeovers == ()
    cases = Levels(reaching).cases("voice", "track:t1")
    assert cases.covered
    assert [(case.chosen, round(case.paths[0].end.mean_db, 2)) for case in cases] == [
        (("soft",), -25.32), (("loud",), -45.32),
    ]  # fmt: skip
    assert Levels(reaching).cases("tone", "track:t2").reach.changeovers == ()

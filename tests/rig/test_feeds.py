"""What listeners hear: levels at the ear, own voices, loudspeakers in open microphones, delay, and a day's dose."""

from __future__ import annotations

import math

import pytest
from level_rigs import EARS, along, level_rig

from rollsound.finding import Finding, Weight
from rollsound.rig.feed_proofs import hearing_in_time, hearing_right, hearing_safely
from rollsound.rig.feeds import listening, loops
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.reaching import Reaching

MIC_DBU = -31.7609 + 78 - 94
AT_EAR_DB = MIC_DBU + 40 - 24 - 20 + 18 + 20 * math.log10(32 / 42) - 2.2185 + 100 + 10 * math.log10(1000 / 32)


def found(text: str) -> list[Finding]:
    reaching = Reaching(level_rig(text))
    return [*hearing_right(reaching), *hearing_in_time(reaching), *hearing_safely(reaching)]


@pytest.mark.source("by hand: gains, 10 ohm into 32, 100 dB/mW", kind="practice")
def test_the_level_at_an_ear_by_hand() -> None:
    end = along(level_rig(EARS), "voice", "feed:bram").end
    assert end.unit == "dB SPL"
    assert end.mean_db == pytest.approx(AT_EAR_DB, abs=0.001)


def test_a_right_rig_has_nothing_to_tell() -> None:
    assert found(EARS) == []


def test_half_the_day_is_loud_and_half_of_it_quiet_and_the_volume_counts() -> None:
    levels = Levels(
        Reaching(level_rig(EARS.replace('ears 1", sources: [voice]', 'ears 1", sources: [voice], gain: -6 dB')))
    )
    heard = listening(levels, "bram")
    half = 10 * math.log10((10 ** (AT_EAR_DB / 10) + 10 ** ((AT_EAR_DB - 18) / 10)) / 2)
    assert heard.level_dba == pytest.approx(half - 6, abs=0.001)
    # the amplifier clips at +18 dBu
    assert heard.greatest_db == pytest.approx(18 + AT_EAR_DB - (MIC_DBU + 40 - 24 - 20 + 18), abs=0.01)
    assert heard.missing == ()


def test_who_must_not_hear_something_and_does_is_a_stop_in_the_combination_where_it_arrives() -> None:
    text = EARS.replace("sources: [voice-2]}", "sources: [voice-2], without: [voice]}").replace(
        "sources:\n", "  - {id: leak, piece: recorder, from: mic-in 1, to: phones 2}\nsources:\n", 1
    )
    (told,) = found(text)
    assert told.weight is Weight.STOP
    assert told.what == "The script supervisor hears Bram, and must not."
    assert "'leak'" in told.remedy
    switched = text + "changeovers: [{id: scene, positions: [{id: a}, {id: b, routes: [leak]}]}]\n"
    (told,) = found(switched)
    assert "with scene: b" in told.what
    assert "1 of 2 combinations" in told.why


def test_a_sum_without_the_listener_s_own_voice_and_one_with_it() -> None:
    text = EARS.replace("sources: [voice-2]}", "sources: [voice-2], own: [voice]}")
    assert found(text) == []
    (told,) = found(
        text.replace("sources:\n", "  - {id: all, piece: recorder, from: mic-in 1, to: phones 2}\nsources:\n", 1)
    )
    assert told.weight is Weight.WATCH
    assert "hears their own voice (Bram)" in told.what
    assert "'all'" in told.remedy
    # 1 m of air alone is 2.9 ms
    assert told.numbers["latest_ms"] == pytest.approx(1 / 343.4 * 1e3)
    assert told.numbers["first_notch_hz"] == pytest.approx(343.4 / 2)


SPEAKER = (
    EARS.replace("  - {id: phones}\n", "  - {id: phones}\n  - {id: speaker}\n")
    .replace("routes:\n", '  - {id: line, from: "recorder:line-out 1", to: "speaker:line-in"}\nroutes:\n', 1)
    .replace("routes:\n", '  - {id: over-air, from: "speaker:sound", to: "boom-2:capsule", length: 4 m}\nroutes:\n', 1)
)


def test_a_loudspeaker_in_an_open_microphone_is_a_loop_and_spills() -> None:
    assert found(SPEAKER) == []  # nothing is sent to it
    loop = SPEAKER.replace("sources:\n", "  - {id: pa, piece: recorder, from: mic-in 2, to: line-out 1}\nsources:\n", 1)
    assert [each.link for each in loops(Reaching(level_rig(loop)))] == ["over-air"]
    (told,) = found(loop)
    assert told.what == "Loudspeaker sounds into boom-2, which leads back to it."
    spill = SPEAKER.replace(
        "sources:\n", "  - {id: pa, piece: recorder, from: mic-in 1, to: line-out 1}\nsources:\n", 1
    )
    assert list(loops(Reaching(level_rig(spill)))) == []
    (told,) = found(spill)
    assert told.what == "Bram comes from a loudspeaker into open microphones and onto track 2 Idris."
    own = spill.replace("sources: [voice-2]}", "sources: [voice-2], own: [voice]}")
    assert any("own voice (Bram)" in each.what and "loudspeaker" in each.what for each in found(own))


def test_a_loop_that_only_one_combination_closes_is_told_with_it() -> None:
    loop = SPEAKER.replace(
        "sources:\n", "  - {id: pa, piece: recorder, from: mic-in 2, to: line-out 1}\nsources:\n", 1
    ) + "changeovers: [{id: pa, positions: [{id: off}, {id: 'on', routes: [pa]}]}]\n"  # fmt: skip
    (told,) = loops(Reaching(level_rig(loop)))
    assert told.combination == {"pa": "on"}


@pytest.mark.source("rule of thumb: own voice in the ear within 5 ms", kind="memory")
def test_an_own_voice_that_is_wanted_must_be_in_time() -> None:
    text = EARS.replace("sources: [voice]}", "sources: [voice], own: [voice]}")
    assert found(text) == []  # 2.9 ms
    (told,) = found(text.replace("quiet: normal, distance: 1 m", "quiet: normal, distance: 2 m"))
    assert told.weight is Weight.WATCH
    assert told.what == "Bram reaches the director 5.8 ms late; 5 ms still serve."


def test_what_the_plan_asks_of_delay_is_a_stop() -> None:
    text = EARS.replace("sources: [voice]}", "sources: [voice], longest_delay: 2 ms}")
    (told,) = found(text)
    assert told.weight is Weight.STOP
    assert found(EARS.replace("sources: [voice]}", "sources: [voice], longest_delay: 3 ms}")) == []


@pytest.mark.source("Directive 2003/10/EC, article 3: 80 and 85 dB(A) action, 87 dB(A) limit", kind="published")
@pytest.mark.parametrize(
    ("level", "hours", "says"),
    [
        (79, 8, ""),
        (80, 8, "the lower action value"),
        (82, 12, "the lower action value"),
        (85, 8, "the upper action value"),
        (94, 2, "the limit"),
    ],
)
def test_a_day_of_listening(level: float, hours: float, says: str) -> None:
    told = found(EARS.replace("sources: [voice]}", f"sources: [voice], level: {level} dBA, hours: {hours}}}"))
    if not says:
        assert told == []
        return
    assert told[0].weight is Weight.WATCH
    assert says in told[0].what
    assert "Start listening at a low level" in told[0].why
    assert told[0].numbers["day_dba"] == pytest.approx(level + 10 * math.log10(hours / 8))


def test_turning_down_as_it_is_told_clears_the_day() -> None:
    loud = EARS.replace("to: phones 1, gain: -20 dB", "to: phones 1").replace(
        "sources: [voice]}", "sources: [voice], hours: 10}"
    )
    (told,) = found(loud)
    down = int(told.remedy.split(" by ")[1].split(" dB")[0])
    assert found(loud.replace("sources: [voice], hours", f"sources: [voice], gain: {-down} dB, hours")) == []
    assert len(found(loud.replace("sources: [voice], hours", f"sources: [voice], gain: {1 - down} dB, hours"))) == 1


def test_hours_at_a_level_that_nobody_knows_are_told() -> None:
    from level_rigs import EARS, KIT

    text = EARS.replace("sources: [voice]}", "sources: [voice], hours: 10}")
    rig = level_rig(text, KIT.replace(", sensitivity_db_mw: 100 dB, impedance_ohm: 32", ""))
    (told,) = hearing_safely(Reaching(rig))
    assert told.weight is Weight.WATCH
    assert "is not known: no sensitivity is written for what sounds" in told.what

"""Time code into findings."""

import numpy as np
import pytest

from rollsound.finding import Area, Finding, Weight
from rollsound.timecode import LtcDecoder, Rate, Timecode, encode_ltc, ltc_span, proofs_of_code

DAY_START = 48_000 * 3600 * 10 + 777


def judge(sound: np.ndarray, given: str | None = None, **claims: object) -> list[Finding]:
    decoder = LtcDecoder(48_000, Rate.parse(given) if given else None)
    entries = decoder.feed(sound) + decoder.finish()
    return proofs_of_code(decoder, entries, path="36T2.wav", track=8, **claims)  # type: ignore[arg-type]


def test_good_code_is_fine() -> None:
    for name in ("23.976", "25", "29.97 DF"):
        rate = Rate.parse(name)
        found = judge(ltc_span(DAY_START, 48_000 * 4, 48_000, rate), rate=rate, start_samples=DAY_START)
        assert [(f.kind, f.weight, f.area) for f in found] == [("ltc", Weight.FINE, Area.SYNC)]


def test_no_code_no_finding() -> None:
    assert judge(np.zeros(48_000, np.float32)) == []


@pytest.mark.source(
    "24 against 23.976 and 29.97 DF against ND are the classic mix-ups; common practice", kind="practice"
)
def test_rate_that_the_file_does_not_claim() -> None:
    sound = ltc_span(DAY_START, 48_000 * 4, 48_000, Rate.parse("24"))
    slow = judge(sound, rate=Rate.parse("23.976"))
    assert [(f.kind, f.weight) for f in slow] == [("ltc-speed", Weight.STOP)]
    assert slow[0].numbers["rate_ppm"] == pytest.approx(-999.0, abs=0.1)
    assert "1000/1001" in slow[0].why
    other = judge(sound, rate=Rate.parse("25"))
    assert [(f.kind, f.weight) for f in other] == [("ltc-rate", Weight.STOP)]
    drop = ltc_span(DAY_START, 48_000 * 4, 48_000, Rate.parse("29.97DF"))
    assert [f.kind for f in judge(drop, rate=Rate.parse("29.97"))] == ["ltc-rate"]
    assert "ltc-drop-flag" in [f.kind for f in judge(drop, given="29.97ND")]


def test_stamp_away_from_the_code() -> None:
    sound = ltc_span(DAY_START, 48_000 * 4, 48_000, Rate.parse("25"))
    for frames in (-3, 3):
        found = judge(sound, start_samples=DAY_START + 1920 * frames)
        assert [f.kind for f in found] == ["ltc-stamp"]
        assert found[0].numbers["offset_frames"] == pytest.approx(frames, abs=1e-4)
        assert ("later" if frames > 0 else "earlier") in found[0].what
    assert judge(sound, start_samples=DAY_START + 900)[0].weight is Weight.FINE


def test_breaks() -> None:
    rate = Rate.parse("25")
    sound = encode_ltc(Timecode(10, 0, 0, 0, rate), 100, 48_000)
    sound[48_000 : 48_000 + 19_200] = 0
    again = encode_ltc(Timecode(11, 0, 0, 0, rate), 50, 48_000)
    found = judge(np.concatenate([sound, again]))
    assert [f.kind for f in found] == ["ltc-gap", "ltc-jump"]
    assert found[0].refs[0].start_sample == 48_000
    assert found[0].refs[0].length_samples == 19_200
    assert found[1].refs[0].timecode == "11:00:00:00"
    assert "jumps to 11:00:00:00 where 10:00:04:00 was due" in found[1].what


def test_labels_that_do_not_exist() -> None:
    sound = encode_ltc(Timecode(10, 0, 59, 0, Rate.parse("29.97")), 90, 48_000)
    found = judge(sound, given="29.97DF")
    assert "ltc-label" in [f.kind for f in found]

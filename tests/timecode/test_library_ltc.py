"""Our linear time code against an independent implementation, in both directions."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rollsound.timecode import RATES, LtcDecoder, Rate, Timecode, encode_ltc
from rollsound.timecode.word import word_of

SINGLE = [rate for rate in RATES if rate.nominal <= 30]
LIBRARY_FPS = [
    ("23.976", 24000 / 1001),
    ("24", 24.0),
    ("25", 25.0),
    ("29.97 DF", 30000 / 1001),
    ("30", 30.0),
]
LIBRARY = pytest.mark.source("libltc 1.3.2 (LGPL-3), through its C interface", kind="library")


def labels(start: Timecode, frames: int, step: int = 1) -> list[str]:
    return [str(start.plus(step * i)).replace(";", ":") for i in range(frames)]


@LIBRARY
@pytest.mark.parametrize("rate", SINGLE, ids=str)
@pytest.mark.parametrize("reverse", [False, True], ids=["forward", "reverse"])
@pytest.mark.parametrize("inverted", [False, True], ids=["straight", "swapped"])
def test_library_reads_what_we_write(libltc, rate: Rate, reverse: bool, inverted: bool) -> None:
    start = Timecode.parse("00:59:58:00", rate)
    sound = encode_ltc(start, 150, 48_000, -6, reverse=reverse, inverted=inverted, user_bits=b"\x21\x43\x65\x87")
    found = libltc.decode(np.concatenate([sound, sound[::-1][:400]]), int(rate.samples_per_frame(48_000)))
    expected = labels(start, 150, -1 if reverse else 1)
    # The library may lose a frame while it learns the speed and the last one (its known limit), never a middle one.
    read = [frame.label for frame in found if frame.reverse == reverse][:149]
    first = expected.index(read[0])
    assert first <= 2
    assert read[: 147 - first] == expected[first:147]
    assert all(frame.user_bits == 0x87654321 for frame in found[:140])
    assert {frame.drop for frame in found[:140]} == {rate.drop}


@LIBRARY
@pytest.mark.parametrize(("name", "fps"), LIBRARY_FPS)
@pytest.mark.parametrize("sample_rate_hz", [44_100, 48_000, 96_000])
def test_we_read_what_library_writes(libltc, name: str, fps: float, sample_rate_hz: int) -> None:
    rate = Rate.parse(name)
    start = Timecode.parse("10:09:57:00", rate)
    sound, _ = libltc.encode((10, 9, 57, 0), 200, sample_rate_hz, fps, 0x87654321)
    decoder = LtcDecoder(sample_rate_hz)
    found = decoder.feed(sound) + decoder.finish()
    assert [entry.timecode for entry in found] == [start.plus(i) for i in range(200)]
    assert decoder.rate == rate
    assert {entry.user_bits for entry in found} == {b"\x21\x43\x65\x87"}
    # The library rounds every edge to whole samples: one sample of play over one frame is what its grid allows.
    for index, entry in enumerate(found):
        assert entry.sample == pytest.approx(float(index * rate.samples_per_frame(sample_rate_hz)), abs=1.0)


@LIBRARY
@pytest.mark.parametrize(("name", "fps"), LIBRARY_FPS)
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(frame=st.integers(0, 2_000_000), user=st.integers(0, 2**32 - 1))
def test_words_equal_bit_for_bit(libltc, name: str, fps: float, frame: int, user: int) -> None:
    rate = Rate.parse(name)
    label = Timecode.from_frames(frame, rate)
    _, words = libltc.encode((label.hours, label.minutes, label.seconds, label.frames), 3, 48_000, fps, user)
    ours = [word_of(label.plus(i), user.to_bytes(4, "little")).to_bytes(10, "little") for i in range(3)]
    assert ours == words


@LIBRARY
def test_a_wrong_table_goes_red(libltc, monkeypatch: pytest.MonkeyPatch) -> None:
    """With two user groups swapped the comparison above must fail."""
    monkeypatch.setattr("rollsound.timecode.word._USER_POSITIONS", (12, 4, 20, 28, 36, 44, 52, 60))
    rate = Rate.parse("25")
    _, words = libltc.encode((1, 2, 3, 4), 1, 48_000, 25.0, 0x12345678)
    ours = word_of(Timecode(1, 2, 3, 4, rate), (0x12345678).to_bytes(4, "little")).to_bytes(10, "little")
    assert ours != words[0]


@LIBRARY
@pytest.mark.parametrize("snr_db", [15, 10, 7])
def test_in_noise_we_read_no_less_and_nothing_wrong(libltc, snr_db: int) -> None:
    """The library is not validated against wrong labels, so only its right ones count."""
    start = Timecode(10, 0, 0, 0, Rate.parse("25"))
    sound = encode_ltc(start, 500, 48_000, -6)
    rms = float(np.sqrt(np.mean(sound.astype(np.float64) ** 2)))
    noise = np.random.default_rng(5).normal(0, rms * 10 ** (-snr_db / 20), sound.size)
    bad = (sound + noise).astype(np.float32)
    right = set(labels(start, 500))
    theirs = {frame.label for frame in libltc.decode(bad, 1920)} & right
    decoder = LtcDecoder(48_000)
    ours = decoder.feed(bad) + decoder.finish()
    assert {str(entry.timecode) for entry in ours} <= right
    assert len(ours) >= len(theirs) > 0

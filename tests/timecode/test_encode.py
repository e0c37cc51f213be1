"""Linear time code as written: levels, edges, lengths, seams."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.timecode import RATES, LtcDecoder, Rate, Timecode, encode_ltc, ltc_span, samples_of_timecode

TEN = Timecode.parse("10:00:00:00", Rate.parse("25"))


@pytest.mark.source("SMPTE ST 12-1: rise time 40 ± 10 µs from 10 to 90 %", kind="published")
@pytest.mark.parametrize("rise_us", [30.0, 40.0, 50.0])
def test_rise_time(rise_us: float) -> None:
    sound = encode_ltc(TEN, 1, 2_000_000, 0.0, rise_us=rise_us)  # half a microsecond a sample
    start = int(np.argmax(sound > -0.8))
    if start == 0:  # the first edge is cut by the start of the sound: take the next rising one
        start = int(np.argmax(sound < -0.99))
        start += int(np.argmax(sound[start:] > -0.8))
    length = int(np.argmax(sound[start:] >= 0.8)) * 0.5
    assert length == pytest.approx(rise_us, abs=0.6)  # the grid of half a microsecond


@pytest.mark.parametrize("level_dbfs", [0.0, -18.0, -50.0])
def test_level_is_the_plateau(level_dbfs: float) -> None:
    sound = encode_ltc(TEN, 25, 48_000, level_dbfs)
    assert 20 * math.log10(np.abs(sound).max()) == pytest.approx(level_dbfs, abs=1e-4)  # float32
    assert abs(float(sound.mean())) < 1e-3 * np.abs(sound).max()


@pytest.mark.parametrize("rate", RATES, ids=str)
def test_length_is_exact(rate: Rate) -> None:
    for frames in (0, 2, 4, 10, 1000):
        sound = encode_ltc(Timecode(0, 0, 0, 0, rate), frames, 48_000)
        assert sound.shape == (math.ceil(frames * rate.samples_per_frame(48_000)),)
        assert sound.dtype == np.float32


@pytest.mark.source(
    "bi-phase mark: one edge for every bit and one more for every one (SMPTE ST 12-1)", kind="published"
)
def test_edges_count_the_bits() -> None:
    sound = encode_ltc(Timecode(0, 0, 0, 0, TEN.rate), 1, 48_000)
    # A word of zeros: 13 ones in the sync word and the polarity bit, the first edge being at the very start.
    assert int(np.count_nonzero(np.diff(np.signbit(sound[1:])))) == 80 + 14 - 1


@settings(max_examples=60, deadline=None)
@given(
    rate=st.sampled_from(RATES),
    sample_rate_hz=st.sampled_from([44_100, 48_000, 48_048, 96_000]),
    start=st.integers(0, 2**32),
    cut=st.integers(0, 4000),
)
def test_spans_join_without_a_seam(rate: Rate, sample_rate_hz: int, start: int, cut: int) -> None:
    whole = ltc_span(start, 4000, sample_rate_hz, rate)
    parts = np.concatenate(
        [ltc_span(start, cut, sample_rate_hz, rate), ltc_span(start + cut, 4000 - cut, sample_rate_hz, rate)]
    )
    # The phase of the wires is right because words keep an even number of zeros; the rest is float64 rounding of
    # edge positions, to 1e-9 sample, shown in float32.
    assert float(np.abs(whole - parts).max()) < 1e-6


@pytest.mark.parametrize("rate", RATES, ids=str)
def test_span_carries_the_time_of_day(rate: Rate) -> None:
    start = 48_000 * 3600 * 5 + 12_345
    decoder = LtcDecoder(48_000, rate)
    found = decoder.feed(ltc_span(start, 48_000 * 2, 48_000, rate)) + decoder.finish()
    assert len(found) >= int(2 * rate.pair.fps) - 2
    for entry in found:
        assert entry.sample + start == pytest.approx(float(samples_of_timecode(entry.timecode, 48_000)), abs=0.03)


def test_swapped_wires_and_offset() -> None:
    straight, swapped = encode_ltc(TEN, 5, 48_000), encode_ltc(TEN, 5, 48_000, inverted=True)
    assert np.array_equal(straight, -swapped)
    later = encode_ltc(TEN, 5, 48_000, offset_samples=Fraction(1, 3))
    assert later.size == straight.size + 1


def test_refusals() -> None:
    with pytest.raises(InputError, match="above full scale"):
        encode_ltc(TEN, 5, 48_000, 1.0)
    with pytest.raises(InputError, match="whole number of words"):
        encode_ltc(Timecode(0, 0, 0, 0, Rate.parse("50")), 3, 48_000)
    with pytest.raises(InputError, match="start on an even frame"):
        encode_ltc(Timecode(0, 0, 0, 1, Rate.parse("50")), 4, 48_000)
    with pytest.raises(InputError, match="give 0 or more, and less than 1"):
        encode_ltc(TEN, 5, 48_000, offset_samples=1)
    with pytest.raises(InputError, match="four bytes"):
        encode_ltc(TEN, 5, 48_000, user_bits=b"abc")

"""Labels and samples since midnight, exactly."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.timecode import RATES, Rate, Timecode, played_rate, pulled, samples_of_timecode, timecode_of_samples
from rollsound.timecode.samples import FILM_FROM_25, FILM_TO_25, PULL_DOWN, PULL_UP

SAMPLE_RATES = st.sampled_from([44_100, 47_952, 48_000, 48_048, 88_200, 96_000, 192_000, Fraction(48_000_000, 1001)])


@given(st.sampled_from(RATES), SAMPLE_RATES, st.integers(0, 2**33))
def test_every_sample_lies_in_its_frame(rate: Rate, sample_rate_hz: int | Fraction, sample: int) -> None:
    label, past = timecode_of_samples(sample, sample_rate_hz, rate)
    frame = rate.samples_per_frame(sample_rate_hz)
    assert 0 <= past < frame
    day = frame * rate.frames_per_day
    assert (samples_of_timecode(label, sample_rate_hz) + past - sample) % day == 0


@given(st.sampled_from(RATES), SAMPLE_RATES, st.integers(0, 5_000_000))
def test_label_starts_in_its_own_frame(rate: Rate, sample_rate_hz: int | Fraction, frames: int) -> None:
    label = Timecode.from_frames(frames, rate)
    start = samples_of_timecode(label, sample_rate_hz)
    first_whole = -(-start.numerator // start.denominator)
    assert timecode_of_samples(first_whole, sample_rate_hz, rate) == (label, first_whole - start)


def test_known_places() -> None:
    film = Rate.parse("23.976")
    assert samples_of_timecode(Timecode(23, 59, 59, 23, film), 48_000) == 2_073_599 * 2002 == 4_151_345_198
    assert timecode_of_samples(4_151_345_198, 48_000, film) == (Timecode(23, 59, 59, 23, film), 0)
    assert str(timecode_of_samples(4_151_345_197, 48_000, film)[0]) == "23:59:59:22"
    assert str(timecode_of_samples(4_151_347_200, 48_000, film)[0]) == "00:00:00:00"
    drop = Rate.parse("29.97DF")
    assert samples_of_timecode(Timecode(1, 0, 0, 0, drop), 48_000) == Fraction("3599.9964") * 48_000
    assert timecode_of_samples(-1, 48_000, Rate.parse("25"))[0] == Timecode(23, 59, 59, 24, Rate.parse("25"))


@pytest.mark.source(
    "0.1 % pull is exactly 1000/1001: 48000 to 47952.048 and 48048 Hz, common practice", kind="practice"
)
def test_pulls() -> None:
    assert pulled(48_000, PULL_UP) == 48_048
    assert pulled(48_000, PULL_DOWN) == Fraction(48_000_000, 1001)
    assert float(pulled(48_000, PULL_DOWN)) == pytest.approx(47_952.048, abs=0.0005)
    assert pulled(48_000, FILM_TO_25) == 50_000
    assert pulled(48_000, FILM_FROM_25) == 46_080


@pytest.mark.source(
    "recording at 48048 with 24 frames and stamping 48000 gives 23.976, common practice", kind="practice"
)
def test_stamped_down() -> None:
    assert str(played_rate(Rate.parse("24"), 48_048, 48_000)) == "23.976"
    assert str(played_rate(Rate.parse("30DF"), 48_048, 48_000)) == "29.97 DF"
    assert str(played_rate(Rate.parse("23.976"), 48_000, 48_048)) == "24"
    assert str(played_rate(Rate.parse("59.94DF"), 48_000, 48_000)) == "59.94 DF"
    with pytest.raises(InputError, match="check both sample rates"):
        played_rate(Rate.parse("24"), 44_100, 48_000)

"""Between labels and sample counts, exactly, at any sample rate; pull-ups, pull-downs and mis-stamped files."""

from __future__ import annotations

from fractions import Fraction

from rollsound.errors import InputError
from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import RATES, Rate, exact_sample_rate

PULL_DOWN = Fraction(1000, 1001)
PULL_UP = Fraction(1001, 1000)
FILM_TO_25 = Fraction(25, 24)
FILM_FROM_25 = Fraction(24, 25)


def timecode_of_samples(
    samples_since_midnight: int, sample_rate_hz: int | Fraction, rate: Rate
) -> tuple[Timecode, Fraction]:
    """The label that holds a sample, and how many samples lie between the label's start and that sample.

    Counts outside one day of labels, negative ones included, wrap: a take that rolls over midnight goes on at 00:00.

    Returns
    -------
    timecode : Timecode
    past : Fraction
        samples past the start of that frame, at least 0 and below one frame's length
    """
    per_frame = rate.samples_per_frame(sample_rate_hz)
    frames = samples_since_midnight // per_frame
    return Timecode.from_frames(frames, rate), samples_since_midnight - frames * per_frame


def samples_of_timecode(timecode: Timecode, sample_rate_hz: int | Fraction) -> Fraction:
    """Samples since midnight at which a label starts, exact; at 29.97 only every fifth falls on a sample."""
    return timecode.to_frames() * timecode.rate.samples_per_frame(sample_rate_hz)


def pulled(sample_rate_hz: int | Fraction, ratio: Fraction) -> Fraction:
    """A sample rate after a speed change: 48000 pulled down is 48000000/1001, pulled up 48048."""
    return exact_sample_rate(sample_rate_hz) * ratio


def played_rate(rate: Rate, recorded_hz: int | Fraction, stamped_hz: int | Fraction) -> Rate:
    """The frame rate of a recording once it plays at the sample rate its file claims.

    Recorded at 48048 Hz with 24 frames per second and stamped 48000, a file plays as 23.976.

    Raises
    ------
    InputError
        when the result is no rate of the trade
    """
    fps = rate.fps * exact_sample_rate(stamped_hz) / exact_sample_rate(recorded_hz)
    for known in RATES:
        if known.fps == fps and known.nominal == rate.nominal and known.drop == rate.drop:
            return known
    raise InputError(
        f"{rate} recorded at {recorded_hz} Hz and played at {stamped_hz} Hz gives {float(fps):.3f} frames per second,"
        " which is no rate that labels are made for; check both sample rates"
    )

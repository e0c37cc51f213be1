"""What a recording of a place is, where nobody says: a calibrator's tone, claps, or the place itself.

A sweep is only ever one when it is said to be, for nothing tells which sweep was played.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from rollsound.errors import InputError
from rollsound.measure.place.calibration import USUAL_HZ, by_tone
from rollsound.measure.place.impulses import BurstFinder

Kind = Literal["noise", "clap", "sweep", "tone"]
_TONE_S = 30
_CLAP_EVERY_S = 30.0
_CLAP_OVER_DB = 30.0


def guess(blocks: Iterable[ArrayLike], sample_rate_hz: int) -> Kind:
    """The kind of a recording from its blocks of one track, shape (frames,) each.

    Claps stand 30 dB over the quieter fifth of the recording and come twice a minute or more often: a door that slams
    in a quarter of an hour of noise is part of the noise. A tone is pure, steady and at 1 kHz or 250 Hz.
    """
    finder = BurstFinder(sample_rate_hz)
    start: list[np.ndarray] = []
    kept = length = 0
    for block in blocks:
        samples = np.asarray(block, np.float64)
        if kept < _TONE_S * sample_rate_hz:
            start.append(samples)
            kept += samples.size
        length += samples.size
        finder.feed(samples)
    if _is_tone(np.concatenate(start) if start else np.zeros(0), sample_rate_hz):
        return "tone"
    try:
        often = len(finder.segments()) * _CLAP_EVERY_S * sample_rate_hz >= length
    except InputError:
        return "noise"
    return "clap" if often and finder.stands_out_db() >= _CLAP_OVER_DB else "noise"


def _is_tone(samples: np.ndarray, sample_rate_hz: int) -> bool:
    try:
        found = by_tone(samples, sample_rate_hz)
    except InputError:
        return False
    return any(abs(found.freq_hz - each) <= 0.03 * each for each in USUAL_HZ)

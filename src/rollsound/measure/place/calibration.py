"""How a recording's numbers are tied to sound pressure: by a calibrator's tone, or by what is stated of the microphone.

The answer is one figure: the sound pressure level at which the mean square of the samples would be 1.0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from rollsound.errors import InputError
from rollsound.measure.place.noise import refuse_not_numbers
from rollsound.measure.place.tables import limit
from rollsound.quantities import show_time

F64 = NDArray[np.float64]

USUAL_DB_SPL = 94.0
USUAL_HZ = (1000.0, 250.0)
DBU_AT_1_V = 20.0 * math.log10(1.0 / 0.7745966692414834)
SINE_DB = 10.0 * math.log10(2.0)
"""A sine that reaches full scale has a mean square of a half: 0 dBFS by AES17, -3.01 dB against 1.0."""
_PIECE_S = 0.125
_LEAST_S = 1.0


@dataclass(frozen=True)
class Calibration:
    """``full_scale_db_spl`` is added to levels of mean squares; ``told`` says in words where it comes from."""

    full_scale_db_spl: float
    told: str
    freq_hz: float = 0.0
    steady_db: float = 0.0


def by_tone(samples: ArrayLike, sample_rate_hz: int, level_db_spl: float = USUAL_DB_SPL) -> Calibration:
    """From the recording of a calibrator's tone; what lies before and after the tone does no harm.

    Parameters
    ----------
    samples
        one track, shape (frames,)
    level_db_spl
        what the calibrator makes, 94 dB SPL or as engraved on it

    Raises
    ------
    InputError
        when it is silent, clipped, too short, or no steady tone
    """
    x = np.asarray(samples, np.float64)
    refuse_not_numbers(x, 0, sample_rate_hz)
    piece = max(1, round(_PIECE_S * sample_rate_hz))
    count = x.size // piece
    if count < _LEAST_S / _PIECE_S:
        raise InputError(f"lasts {show_time(x.size / sample_rate_hz)}; record the calibrator for 5 s or more")
    powers = (x[: count * piece].reshape(count, piece) ** 2).mean(axis=1)
    if powers.max() < 1e-12:
        raise InputError("holds no tone, only silence; check the input and its gain")
    first, stop = _steady(10.0 * np.log10(np.maximum(powers, 1e-20)))
    if (stop - first) * _PIECE_S < _LEAST_S:
        raise InputError("holds no level that stays for a second; a calibrator's tone is steady, record it again")
    tone = x[first * piece : stop * piece]
    if np.count_nonzero(np.abs(tone) >= 1.0 - 2.0**-15) > 2:
        raise InputError("is clipped; lower the gain, record the calibrator again and leave the gain there")
    freq, share = _line(tone, sample_rate_hz)
    if 10.0 * math.log10(max(share, 1e-9) / max(1.0 - share, 1e-9)) < limit("calibration-purity"):
        raise InputError("holds no pure tone; push the calibrator well onto the microphone and record it again")
    mean = float(np.var(tone)) * share  # without what a converter adds as direct current
    spread = 10.0 * math.log10(powers[first:stop].max() / powers[first:stop].min())
    usual = any(abs(freq - each) <= 0.03 * each for each in USUAL_HZ)
    remark = "" if usual else "; calibrators make 1 kHz or 250 Hz"
    told = f"by a tone of {freq:.0f} Hz at {level_db_spl:g} dB SPL, steady within {spread:.2f} dB{remark}"
    return Calibration(level_db_spl - 10.0 * math.log10(mean), told, freq, spread)


def _steady(levels_db: F64) -> tuple[int, int]:
    """The longest run of pieces that stays within the bound, among the louder half of the recording."""
    bound, best = limit("calibration-steady"), (0, 0)
    loud = levels_db >= float(levels_db.max()) - 10.0
    first = 0
    low = high = math.inf
    for at, level in enumerate(levels_db):
        if not loud[at]:
            first, low, high = at + 1, math.inf, math.inf
            continue
        low, high = (level, level) if first == at else (min(low, level), max(high, level))
        while high - low > bound:
            first += 1
            low, high = float(levels_db[first : at + 1].min()), float(levels_db[first : at + 1].max())
        if at + 1 - first > best[1] - best[0]:
            best = (first, at + 1)
    # the first and last piece of a run may hold the tone's own beginning and end
    return (best[0] + 1, best[1] - 1) if best[1] - best[0] > 2 else best


def _line(tone: F64, sample_rate_hz: int) -> tuple[float, float]:
    """Frequency of the strongest line, and its share of all power."""
    x = tone[: min(tone.size, 10 * sample_rate_hz)]
    power = np.abs(fft.rfft((x - x.mean()) * np.hanning(x.size))) ** 2
    power[0] = 0.0
    at = int(np.argmax(power))
    total = float(power.sum())
    width = max(3, round(2.0 * x.size / sample_rate_hz))  # 2 Hz to either side, for what wanders
    share = float(power[max(0, at - width) : at + width + 1].sum()) / total if total > 0.0 else 0.0
    return at * sample_rate_hz / x.size, share


def by_sensitivity(sensitivity_mv_pa: float, gain_db: float = 0.0, full_scale_dbu: float = 24.0) -> Calibration:
    """From what is stated: the microphone, the gain behind it, and the level that reaches full scale.

    Parameters
    ----------
    sensitivity_mv_pa
        millivolts for one pascal (94 dB SPL)
    gain_db
        from the microphone to the converter
    full_scale_dbu
        level at the converter that a full-scale sine has

    Raises
    ------
    InputError
        when the sensitivity is none
    """
    if not sensitivity_mv_pa > 0.0:
        raise InputError("a sensitivity is more than nothing; write it as for example '20 mV/Pa'")
    at_94_dbu = 20.0 * math.log10(sensitivity_mv_pa / 1000.0) + DBU_AT_1_V + gain_db
    told = (
        f"by a stated sensitivity of {sensitivity_mv_pa:g} mV/Pa, {gain_db:g} dB of gain and full scale at "
        f"{full_scale_dbu:+g} dBu"
    )
    return by_reading(at_94_dbu - full_scale_dbu, told)


def by_reading(at_94_dbfs: float, told: str = "") -> Calibration:
    """From the level that a sine of 94 dB SPL reads, as for a digital microphone; 0 dBFS is a full-scale sine."""
    full_scale = USUAL_DB_SPL - at_94_dbfs + SINE_DB
    return Calibration(full_scale, told or f"by the statement that 94 dB SPL reads {at_94_dbfs:g} dBFS")

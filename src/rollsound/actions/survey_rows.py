"""Noise and reverberation as rows of the answer, rounded to what is worth telling."""

from __future__ import annotations

from rollsound.actions.survey_model import DecayRow, NoiseTold, OctaveRow, ToneRow
from rollsound.measure.place.calibration import Calibration
from rollsound.measure.place.decay import Decay
from rollsound.measure.place.noise import NoiseFigures
from rollsound.measure.place.octaves import nominal
from rollsound.measure.place.ratings import nc, nr, speech_interference_db


def noise_told(figures: NoiseFigures, calibration: Calibration | None) -> NoiseTold:
    """Levels in sound pressure where they were calibrated, and against full scale where not."""
    add = calibration.full_scale_db_spl if calibration else 0.0
    levels = [level + add for level in figures.octaves_db]
    return NoiseTold(
        seconds=round(figures.seconds, 3),
        calibrated=calibration is not None,
        laeq_db=round(figures.laeq_db + add, 2),
        la10_db=round(figures.exceeded_db(10) + add, 2),
        la50_db=round(figures.exceeded_db(50) + add, 2),
        la90_db=round(figures.exceeded_db(90) + add, 2),
        highest_db=round(figures.highest_db + add, 2),
        octaves=tuple(OctaveRow(octave=nominal(at), level_db=round(level, 2)) for at, level in enumerate(levels)),
        nc=str(nc(levels) or "") if calibration else "",
        nr=str(nr(levels) or "") if calibration else "",
        speech_interference_db=round(speech_interference_db(levels), 2),
        tones=tuple(
            ToneRow(
                freq_hz=round(tone.freq_hz, 2),
                level_db=round(tone.level_db + add, 2),
                over_db=round(tone.over_db, 2),
                audible_db=round(tone.audible_db, 2),
                what=tone.what,
            )
            for tone in figures.tones
        ),
        clipped_samples=figures.clipped,
    )


def decay_row(each: Decay) -> DecayRow:
    """One octave's reverberation."""
    used = each.t30 if each.holds == "T30" else each.t20
    return DecayRow(
        octave=nominal(each.octave),
        edt_s=round(each.edt.time_s, 3),
        t20_s=round(each.t20.time_s, 3),
        t30_s=round(each.t30.time_s, 3),
        holds=each.holds,
        t_s=round(each.t_s, 3),
        range_db=round(each.range_db, 1),
        curvature_percent=round(each.curvature_percent, 1),
        nonlinearity_permille=round(used.nonlinearity_permille, 2),
        impulses=each.impulses,
        spread_s=round(each.spread_s, 3),
        why=each.why,
    )

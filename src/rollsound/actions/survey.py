"""A technical visit to a site: what its recordings say of speech, booms, days and hum.

What was measured is put together with what the plan keeps of the site already, so that a second visit with claps adds
to a first one with noise. Nothing is written unless ``save`` is asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollsound.actions.survey_files import Measured
from rollsound.actions.survey_model import BoomRow, HoursRow, PlaceSurvey, SpeechRow
from rollsound.actions.survey_read import AskedSite
from rollsound.actions.survey_rows import decay_row, noise_told
from rollsound.actions.survey_save import decays_written, hours_written, merged, noise_written, save_sound
from rollsound.errors import InputError
from rollsound.measure.place.decay import middle_t_s
from rollsound.measure.place.hours import clock, overlaps
from rollsound.measure.place.model import SiteSound
from rollsound.measure.place.octaves import nominal
from rollsound.measure.place.proofs import WorkingDay, boom_m, octave_levels, proofs
from rollsound.measure.place.proofs import middle_t_s as kept_t_s
from rollsound.measure.place.speech import critical_distance_m, farthest_boom_m, speech_at
from rollsound.measure.place.tables import LIMITS, NOISE, SPEECH, burst_caution, efforts, nc_curves
from rollsound.measure.place.tables import notes as table_notes
from rollsound.quantities import count, show_time

if TYPE_CHECKING:
    from rollsound.report.charts import Chart
    from rollsound.show.model import Plan

DISTANCES_M = (0.3, 0.6, 1.0, 1.5, 2.0, 3.0)
NEAR_M = 0.25


@dataclass(frozen=True)
class Surveyed:
    """The answer, and what it was made of: for pictures and for saving."""

    result: PlaceSurvey
    measured: Measured
    written: Mapping[str, Any] = field(default_factory=dict)


def survey(
    asked: AskedSite,
    measured: Measured,
    *,
    boom: str = "",
    effort: str = "",
    volume: str = "",
    noisy: Sequence[str] = (),
) -> Surveyed:
    """What the recordings and the plan say of a site together.

    Parameters
    ----------
    boom, volume
        planned distance of the boom and volume of the room as people write them, such as ``0.8 m`` and ``900 m³``
    effort
        how loud the scene is spoken
    noisy
        hours as people write them, such as ``07:45-08:30 school run``

    Raises
    ------
    InputError
        when one of these is written otherwise
    """
    written = _written(asked, measured, boom, effort, volume, noisy)
    sound = _checked(written)
    uncalibrated = measured.noise is not None and measured.calibration is None
    days = working_days(asked.plan, asked.site.id)
    known_t = kept_t_s(sound)
    critical = critical_distance_m(known_t, float(sound.volume_m3)) if known_t and sound.volume_m3 else None
    asked_of = farthest_boom_m(**_place(sound), effort=sound.effort)
    speech = tuple(_speech(asked, sound)) if asked_of.distance_m is not None else ()
    t = middle_t_s(measured.decays)
    result = PlaceSurvey(
        path=str(asked.path),
        name=asked.plan.show.title,
        site=asked.site.id,
        site_name=asked.site.name,
        files=measured.files,
        calibration=measured.calibration.told if measured.calibration else "",
        noise=None if measured.noise is None else noise_told(measured.noise, measured.calibration),
        reverberation=tuple(decay_row(each) for each in measured.decays),
        t_s=None if math.isnan(t) else round(t, 3),
        judged_laeq_dba=None if sound.laeq_dba is None else float(sound.laeq_dba),
        judged_nc=sound.nc,
        judged_t_s=_rounded(known_t),
        critical_distance_m=None if critical is None else round(critical, 3),
        boom_m=boom_m(sound),
        boom_planned=sound.boom_m is not None,
        criterion=asked_of.criterion if asked_of.distance_m is not None else "",
        criterion_source=asked_of.source,
        speech=speech,
        booms=tuple(_booms(sound)) if asked_of.distance_m is not None else (),
        hours=tuple(_hours(sound, days)),
        findings=tuple(proofs(asked.site.id, asked.site.name, sound, days, uncalibrated=uncalibrated)),
        notes=_notes(measured, sound, speech),
        table_notes=_table_notes(measured),
        cautions=_cautions(measured),
    )
    return Surveyed(result, measured, written)


def save(asked: AskedSite, surveyed: Surveyed, *, name: str = "") -> Surveyed:
    """Save the sound of the site in its plan; raises as ``save_sound``."""
    sentence = f"Surveyed the sound of {asked.site.name}"
    saved = save_sound(asked, surveyed.written, sentence, name)
    return replace(surveyed, result=surveyed.result.model_copy(update={"saved": saved}))


def chart(surveyed: Surveyed, *, narrow: bool = False) -> Chart:
    """Octaves against the curves, and decays; whichever was measured.

    Raises
    ------
    InputError
        when nothing was
    """
    from rollsound.report.place_charts import DecayCurve, NoiseBar, place_chart

    result, measured = surveyed.result, surveyed.measured
    noise = result.noise
    bars = [NoiseBar(row.octave, row.level_db) for row in noise.octaves] if noise is not None else []
    curves = [
        DecayCurve(nominal(each.octave), tuple(each.curve_db[::10]), 0.01, each.t_s, each.holds)
        for each in measured.decays
        if each.curve_db.size
    ]
    if not bars and not curves:
        raise InputError("nothing was measured that could be drawn; name recordings of noise, claps or sweeps")
    nc_told = noise.nc if noise is not None else ""
    calibrated = noise is not None and noise.calibrated
    return place_chart(
        result.site_name, bars, curves, curves=nc_curves(), calibrated=calibrated, nc=nc_told, narrow=narrow
    )


def write_chart(surveyed: Surveyed, path: Path) -> Surveyed:
    """Draw what was measured; raises InputError for a name that is no picture's, StorageError when the disk fails."""
    from rollsound.actions.reach import write_chart as write

    write(chart(surveyed), path)
    return replace(surveyed, result=surveyed.result.model_copy(update={"chart_file": str(path)}))


def _written(
    asked: AskedSite, measured: Measured, boom: str, effort: str, volume: str, noisy: Sequence[str]
) -> dict[str, Any]:
    before = asked.written
    new: dict[str, Any] = {}
    if measured.noise is not None:
        full_scale = measured.calibration.full_scale_db_spl if measured.calibration else None
        new |= noise_written(measured.noise, full_scale, measured.calibration.told if measured.calibration else "")
    if measured.decays:
        new |= decays_written(measured.decays)
    if boom:
        new["boom"] = boom
    if volume:
        new["volume"] = volume.replace("m3", "m³").replace("m^3", "m³")
    if effort:
        new["effort"] = effort.replace("-", " ")
    if noisy:
        new["noisy_hours"] = hours_written(noisy, before.get("noisy_hours", ()))
    used = [each for each in measured.files if not each.problem and each.kind != "tone"]
    recorded = max((each.recorded for each in used), default="")
    return merged(before, new, [Path(each.path).name for each in used], recorded)


def _checked(written: Mapping[str, Any]) -> SiteSound:
    from pydantic import ValidationError

    from rollsound.mistakes import sentence_of

    try:
        return SiteSound.model_validate(dict(written))
    except ValidationError as error:
        first = error.errors()[0]
        place = " ".join(str(step) for step in first["loc"])
        raise InputError(f"--{place} {sentence_of(first)}") from error


def _place(sound: SiteSound) -> dict[str, Any]:
    """What is known of a place, as the pure functions take it."""
    return {
        "noise_dba": None if sound.laeq_dba is None else float(sound.laeq_dba),
        "reverberation_s": kept_t_s(sound),
        "volume_m3": None if sound.volume_m3 is None else float(sound.volume_m3),
    }


def _speech(asked: AskedSite, sound: SiteSound) -> Iterator[SpeechRow]:
    place = {**_place(sound), "noise_octaves_db": octave_levels(sound)}
    distances: dict[float, list[str]] = {each: [] for each in DISTANCES_M}
    distances.setdefault(round(boom_m(sound), 3), []).append("boom as planned" if sound.boom_m is not None else "")
    for source in asked.plan.rig.sources:
        if source.distance_m and source.kind in ("voice", "song") and float(source.distance_m) >= 0.02:
            distances.setdefault(round(float(source.distance_m), 3), []).append(source.name or source.id)
    for distance in sorted(distances):
        names = [name for name in distances[distance] if name]
        what = ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
        for effort in efforts():
            heard = speech_at(distance, effort, **place)
            yield SpeechRow(
                what=what,
                distance_m=distance,
                effort=effort,
                speech_dba=round(heard.speech_dba, 2),
                speech_to_noise_db=_rounded(heard.speech_to_noise_db),
                direct_to_reverberant_db=_rounded(heard.direct_to_reverberant_db),
                intelligibility=heard.intelligibility,
                serves=heard.serves,
            )


def _booms(sound: SiteSound) -> Iterator[BoomRow]:
    for effort in efforts():
        found = farthest_boom_m(effort, **_place(sound))
        yield BoomRow(effort=effort, farthest_m=_rounded(found.distance_m), limited_by=found.limited_by)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def working_days(plan: Plan, site_id: str) -> list[WorkingDay]:
    """The days of a plan that work at a site, as its proofs take them."""
    return [
        WorkingDay(
            day.id,
            f"Day {day.number}" if day.number is not None else day.id,
            day.call,
            day.wrap,
            day.date.isoformat() if day.date else "",
        )
        for day in plan.schedule.days
        if site_id in day.sites
    ]


def _hours(sound: SiteSound, days: Sequence[WorkingDay]) -> Iterator[HoursRow]:
    for day in days:
        if day.call and day.wrap:
            for each in overlaps(sound.noisy_hours, day.call, day.wrap, day.date):
                yield HoursRow(
                    day=day.id,
                    what=each.noisy.what or each.noisy.id,
                    from_time=clock(each.from_min),
                    to_time=clock(each.to_min),
                    minutes=each.minutes,
                )


def _notes(measured: Measured, sound: SiteSound, speech: Sequence[SpeechRow]) -> tuple[str, ...]:
    told: list[str] = []
    noise = measured.noise
    if noise is not None and noise.clipped:
        told.append(f"{count(noise.clipped, 'sample')} of the noise reach full scale: its levels are too low.")
    if noise is not None and noise.seconds < 60:
        told.append(f"{show_time(noise.seconds)} tell little of what comes and goes; a quarter of an hour tells more.")
    if noise is not None and any(math.isnan(level) for level in noise.octaves_db):
        told.append("The sample rate does not reach the highest octave; ratings are of the others.")
    if noise is not None and measured.calibration is None and sound.laeq_dba is not None:
        told.append("The levels that are judged are those of an earlier visit, which was calibrated.")
    rates = {each.sample_rate_hz for each in measured.files if each.kind in ("clap", "sweep") and not each.problem}
    if len(rates) > 1:
        told.append("Bursts were recorded at different sample rates; only those of the most frequent one were used.")
    if measured.decays and kept_t_s(sound) and sound.volume_m3 is None:
        told.append("Tell the volume of the room with --volume to know how a boom stands over its reverberation.")
    if any(row.distance_m < NEAR_M for row in speech):
        told.append(
            "At the chest or under clothing sound does not follow its distance: take such rows as a rough guide."
        )
    return tuple(told)


def _table_notes(measured: Measured) -> tuple[str, ...]:
    files = [SPEECH] if measured.noise is not None or measured.decays else []
    files += [NOISE] if measured.noise is not None else []
    files += [LIMITS] if measured.decays or measured.noise is not None else []
    return table_notes(*files)


def _cautions(measured: Measured) -> tuple[str, ...]:
    from rollsound.facts import cautions

    if not measured.files:
        return ()
    hearing = [each.text for each in cautions("hearing")]
    return tuple(hearing + ([burst_caution().text] if any(f.kind != "noise" for f in measured.files) else []))

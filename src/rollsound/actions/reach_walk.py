"""A walk test fitted to the reach of a site, and what was fitted saved where the ground stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollsound.actions.gather import read_text_file
from rollsound.actions.ground_image import GroundImage, image_or_note
from rollsound.actions.radio_model import Saved
from rollsound.actions.radio_read import Asked
from rollsound.actions.radio_writing import write_changes
from rollsound.actions.reach import COMPARED_POINTS, POINTS, each_once, ground_chart, write_chart, write_over
from rollsound.actions.reach_model import FittedRow, ResidualRow, SetAsideRow, WalkResult
from rollsound.actions.reach_readings import read_readings
from rollsound.errors import InputError
from rollsound.log.changes import Change, join, value_at
from rollsound.radio.model import Ground, RadioPart, Reading
from rollsound.radio.reach.answer import WANTED_SHARE, ReachMap, WalkFit

if TYPE_CHECKING:
    from rollsound.report.charts import Chart


@dataclass(frozen=True)
class Walked:
    """The answer, the fit behind it, and the maps before and after."""

    result: WalkResult
    fit: WalkFit
    maps: tuple[ReachMap, ReachMap]
    image: GroundImage | None = None
    """What lies under the ground."""


def walk(asked: Asked, file: Path, *, site: str = "", drawn: bool = False) -> Walked:
    """Fit the reach of a site to readings.

    Parameters
    ----------
    file
        a CSV sheet of readings
    site
        whose ground was walked; the only one that the readings fit when empty
    drawn
        whether the maps are to be drawn, and so are made as finely as for ``reach``

    Raises
    ------
    InputError, MistakesError
        when a reading is none, the site is not known, or too few readings are left
    """
    from rollsound.facts import cautions
    from rollsound.radio.reach.reach_map import reach_map
    from rollsound.radio.reach.walk import fit

    readings = read_readings(read_text_file(file), file.name)
    ground = _ground(asked, site, readings)
    found = fit(asked.radio, ground.id, readings)
    of = tuple(dict.fromkeys(each.transmitter for each in found.residuals))
    points = POINTS if drawn else COMPARED_POINTS
    before, after = (reach_map(radio, ground.id, of, points=points) for radio in (asked.radio, found.radio_after))
    image, unread = image_or_note(asked.folder, ground)
    result = WalkResult(
        path=str(asked.path),
        name=asked.name,
        site=ground.id,
        file=str(file),
        readings=len(readings),
        fitted=tuple(
            FittedRow(
                id=each.id,
                name=each.name,
                unit=each.unit,
                before=_rounded(each.before),
                after=_rounded(each.after),
                sigma=_rounded(each.sigma),
                told=each.told,
                why=each.why,
                readings=each.readings,
            )
            for each in found.fitted
        ),
        residuals=tuple(
            ResidualRow(
                id=each.id,
                at_m=each.at_m,
                antenna=each.antenna,
                transmitter=each.transmitter,
                distance_m=round(each.distance_m, 2),
                level_dbm=round(each.level_dbm, 2),
                before_db=round(each.before_db, 2),
                after_db=round(each.after_db, 2),
                outlier=each.outlier,
            )
            for each in found.residuals
        ),
        set_aside=tuple(SetAsideRow(id=each.id, why=each.why) for each in found.set_aside),
        rms_before_db=round(found.rms_before_db, 2),
        rms_after_db=round(found.rms_after_db, 2),
        wanted_share=WANTED_SHARE,
        covered_before=before.covered(),
        covered_after=after.covered(),
        sentence=f"{found.sentence[:1].upper()}{found.sentence[1:].removesuffix('.')}.",
        notes=each_once((*found.notes, *after.notes, *((unread,) if unread else ()))),
        cautions=tuple(each.text for each in cautions("radio-licence", "radio-exposure", "masts-cables")),
    )
    return Walked(result, found, (before, after), image)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def residuals_chart(walked: Walked, *, narrow: bool = False) -> Chart:
    """The readings over what is computed, before the fit and after."""
    from rollsound.report.radio_walk_chart import WalkPoint, walk_residuals

    points = [
        WalkPoint(each.id, each.distance_m, each.before_db, each.after_db, each.outlier)
        for each in walked.result.residuals
    ]
    return walk_residuals(walked.result.site, points, narrow=narrow)


def write_pictures(walked: Walked, *, chart: Path | None = None, maps: Path | None = None) -> Walked:
    """Write the residuals, and the maps before and after, with ``before`` and ``after`` in their names.

    Raises
    ------
    InputError
        when a name does not end in .png, .svg or .pdf
    StorageError
        when the disk fails
    """
    result = walked.result
    if chart is not None:
        write_chart(residuals_chart(walked), chart)
        result = result.model_copy(update={"chart_file": str(chart)})
    if maps is not None:
        files: list[str] = []
        notes: list[str] = []
        for word, found in zip(("before", "after"), walked.maps, strict=True):
            path = maps.with_name(f"{maps.stem} {word}{maps.suffix}")
            without = write_over(partial(_map, walked.fit.radio_after, found, word), path, walked.image)
            notes += [without] if without else []
            files.append(str(path))
        result = result.model_copy(update={"map_files": tuple(files), "notes": (*result.notes, *notes)})
    return replace(walked, result=result)


def _map(radio: RadioPart, found: ReachMap, word: str, image: GroundImage | None) -> Chart:
    return ground_chart(radio, found, f"the walk test, {word}", image=image)


def save_walk(asked: Asked, walked: Walked, *, name: str = "") -> Walked:
    """Save the fitted exponent, body loss and wall losses at the ground.

    Raises
    ------
    InputError
        for a bare request, which has no ground
    ClashError
        when somebody changed the ground since it was read
    StorageError
        when the disk fails
    """
    if asked.form == "request":
        raise InputError(f"{asked.path.name} is a request for carriers and has no ground; nothing can be saved there")
    before, after = (_ground_of(radio, walked.result.site) for radio in (asked.radio, walked.fit.radio_after))
    values = fitted_values(before, after)
    told = f"Fitted the walk test {Path(walked.result.file).name} on {walked.result.site}"
    if not values:
        sentence = "The readings tell nothing that the ground does not say already; nothing was to change."
        saved = Saved(path=str(asked.path), sentence=sentence, revision=asked.revision)
    else:
        changes = []
        for way, value in values.items():
            path = join(["radio", "grounds", walked.result.site, *way])
            changes.append(Change(path, value_at(asked.document, path), value))
        saved = write_changes(asked, changes, told, name, count=len(values))
    return replace(walked, result=walked.result.model_copy(update={"saved": saved}))


Values = dict[tuple[str, ...], Any]
"""What is to be written, by the way from the ground to it."""


def fitted_values(before: Ground, after: Ground) -> Values:
    """What a fit found that is not written at the ground yet."""
    values: Values = {}
    if after.exponent is not None and after.exponent != before.exponent:
        values["exponent",] = round(float(after.exponent), 3)
    if after.body_loss_db is not None and after.body_loss_db != before.body_loss_db:
        values["body_loss",] = str(after.body_loss_db)
    old = {wall.id: wall.loss_db for wall in before.walls}
    for wall in after.walls:
        if wall.loss_db is not None and wall.loss_db != old.get(wall.id):
            values["walls", wall.id, "loss"] = str(wall.loss_db)
    return values


def _ground_of(radio: RadioPart, site: str) -> Ground:
    return next(each for each in radio.grounds if each.id == site)


def _ground(asked: Asked, site: str, readings: Sequence[Reading]) -> Ground:
    """The ground named, or the only one that has the antennas and stands of the readings."""
    from rollsound.radio.reach.ground import ground_of

    if site:
        return ground_of(asked.radio, site)
    antennas = {each.antenna for each in readings if each.antenna}
    stands = {each.stand for each in readings if each.stand}
    fitting = [
        ground
        for ground in asked.radio.grounds
        if antennas <= {each.id for each in ground.antennas} and stands <= {each.id for each in ground.stands}
    ]
    if len(fitting) == 1:
        return fitting[0]
    known = ", ".join(each.id for each in asked.radio.grounds) or "none yet"
    if not asked.radio.grounds:
        raise InputError(f"{asked.path} has no ground to walk on; draw one, with its width and depth in metres")
    raise InputError(f"it cannot be told on which ground these readings were taken; name it with --site: {known}")

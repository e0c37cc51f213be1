"""A walk test fitted: the readings bend the model to the place, as far as they can tell."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from rollsound.errors import InputError
from rollsound.quantities import count, true_minus
from rollsound.radio.model import Ground, RadioPart, Reading
from rollsound.radio.reach.answer import Array, Fitted, Residual, WalkFit
from rollsound.radio.reach.ground import ground_of
from rollsound.radio.reach.link import links, senders
from rollsound.radio.reach.walk_model import BODY, EXPONENT, Model, Whole, model_of
from rollsound.radio.reach.walk_readings import usable
from rollsound.radio.reach.walk_told import Told, tell
from rollsound.written import Written

_TURNS = 4
"""How often readings without an antenna are given anew to the antenna that is strongest there."""


def fit(radio: RadioPart, ground: str, readings: Sequence[Reading] | None = None) -> WalkFit:
    """Fit loss with distance, loss of each kind of wall and body loss to the readings of a walk test.

    Parameters
    ----------
    ground
        its id
    readings
        those of the ground when None

    Raises
    ------
    InputError
        when fewer than four readings can be used, or nothing sends or hears

    Notes
    -----
    Least squares with soft residuals (soft_l1); outliers are named and left out. What the readings cannot tell, or
    cannot tell from something else, stays as it was. A reading without an antenna counts for the one that is strongest
    there. Readings are the level at the receiver's input, or the share of time that sound was good.
    """
    drawn = ground_of(radio, ground)
    given = drawn.readings if readings is None else tuple(readings)
    if not given:
        raise InputError(f"the ground '{drawn.id}' has no readings of a walk test; enter some, or name their file")
    used, aside = usable(drawn, links(radio, drawn, _carried(radio, drawn, given)), given)
    model = model_of(drawn, used)
    before = model.levels_dbm(model.start, np.zeros(len(model.parameters), bool))
    rows = model.strongest(before)
    told = tell(model, rows)
    for _ in range(_TURNS):
        again = model.strongest(model.levels_dbm(told.values, told.free))
        if np.array_equal(again, rows):
            break
        rows = again
        told = tell(model, rows)
    residuals = _residuals(model, rows, before, model.levels_dbm(told.values, told.free), told)
    fitted = tuple(_fitted(model, rows, number, told) for number in range(len(model.parameters)))
    kept = [one for one in residuals if not one.outlier]
    rms_before = float(np.sqrt(np.mean([one.before_db**2 for one in kept])))
    rms_after = float(np.sqrt(np.mean([one.after_db**2 for one in kept])))
    numbers = {
        "readings": float(len(given)),
        "used": float(len(used)),
        "outliers": float(len(residuals) - len(kept)),
        "scatter_db": told.fit.scatter_db,
    }
    return WalkFit(
        ground=drawn.id,
        fitted=fitted,
        residuals=residuals,
        set_aside=aside,
        rms_before_db=rms_before,
        rms_after_db=rms_after,
        radio_after=_after(radio, drawn, model, told),
        sentence=_sentence(drawn, fitted, residuals, rms_before, rms_after),
        notes=_notes(residuals, told.fit.scatter_db),
        numbers=numbers,
    )


def _carried(radio: RadioPart, ground: Ground, readings: Sequence[Reading]) -> list[str] | None:
    """Ids of the transmitters that the readings may be of."""
    named = {reading.transmitter for reading in readings}
    here = [one.id for one in senders(radio, ground)] if "" in named else []
    return [one.id for one in radio.transmitters if one.id in named or one.id in here] or None


def _residuals(model: Model, rows: Whole, before: Array, after: Array, told: Told) -> tuple[Residual, ...]:
    return tuple(
        Residual(
            id=one.id,
            at_m=one.at_m,
            antenna=one.link.paths[int(model.path[row])].antenna.id,
            transmitter=one.link.transmitter,
            distance_m=float(model.distance_m[row]),
            level_dbm=one.level_dbm,
            before_dbm=float(before[row]),
            after_dbm=float(after[row]),
            outlier=bool(out),
            from_quality=one.from_quality,
        )
        for one, row, out in zip(model.readings, rows.tolist(), told.fit.outlier, strict=True)
    )


def _fitted(model: Model, rows: Whole, number: int, told: Told) -> Fitted:
    one = model.parameters[number]
    free = bool(told.free[number])
    place = int(told.free[:number].sum())
    return Fitted(
        id=one.id,
        name=one.name,
        unit=one.unit,
        before=one.before,
        after=float(told.values[number]) if free else one.before,
        sigma=float(told.fit.sigmas[place]) if free else None,
        told=free,
        why=told.why.get(number, ""),
        readings=int(np.count_nonzero(model.slopes[rows, number])),
    )


def _after(radio: RadioPart, ground: Ground, model: Model, told: Told) -> RadioPart:
    """The radio part with what was told written at the ground."""
    changes: dict[str, Any] = {}
    losses: dict[str, Written] = {}
    for number in np.flatnonzero(told.free).tolist():
        value, one = float(told.values[number]), model.parameters[number]
        if number == EXPONENT:
            changes["exponent"] = value
        elif number == BODY:
            changes["body_loss_db"] = Written(value, f"{value:.2f} dB")
        else:
            losses |= {wall: Written(value, f"{value:.2f} dB") for wall in one.walls}
    changes["walls"] = tuple(
        wall.model_copy(update={"loss_db": losses[wall.id]}) if wall.id in losses else wall for wall in ground.walls
    )
    after = ground.model_copy(update=changes)
    return radio.model_copy(update={"grounds": tuple(after if one.id == ground.id else one for one in radio.grounds)})


def _sentence(
    ground: Ground, fitted: Sequence[Fitted], residuals: Sequence[Residual], rms_before: float, rms_after: float
) -> str:
    told = [_figure(one) for one in fitted if one.told]
    left = [one.name for one in fitted if not one.told]
    out = [one.id for one in residuals if one.outlier]
    parts = [f"{count(len(residuals), 'reading')} on '{ground.id}'"]
    parts.append(", ".join(told) if told else "they tell nothing new")
    if left:
        parts.append(f"as it was: {', '.join(left)}")
    if out:
        parts.append(f"{count(len(out), 'outlier')} left out: {', '.join(out)}")
    parts.append(f"readings lie {rms_after:.1f} dB off what is computed, before the fit {rms_before:.1f} dB")
    return "; ".join(parts)


def _figure(one: Fitted) -> str:
    digits, unit = (1, " dB") if one.unit else (2, "")
    was = "" if one.before is None else f" (was {true_minus(f'{one.before:.{digits}f}')})"
    return f"{one.name} {true_minus(f'{one.after:.{digits}f}')} ± {one.sigma:.{digits}f}{unit}{was}"


def _notes(residuals: Sequence[Residual], scatter_db: float) -> tuple[str, ...]:
    told = []
    out = sum(1 for one in residuals if one.outlier)
    if out * 4 > len(residuals):
        told.append(
            f"{out} of {len(residuals)} readings do not fit the rest: look at the drawing's scale, and at which "
            "antenna and transmitter they name, before you believe the fit."
        )
    if scatter_db > 8:
        told.append(
            f"Readings scatter by {scatter_db:.0f} dB around the fit: something that is not drawn takes part, or each "
            "was read at one moment of a fading signal; read the mean over a few steps."
        )
    if any(one.from_quality for one in residuals):
        told.append("Readings of quality count as levels by the fading of the ground, with half the weight.")
    return tuple(told)

"""What the readings of a walk test can tell: what they cannot tell, or not from something else, stays as it was."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollsound.quantities import count
from rollsound.radio.reach.answer import Array
from rollsound.radio.reach.walk_model import BODY, EXPONENT, Mask, Model, Whole
from rollsound.radio.reach.walk_robust import LEAST_SCATTER_DB, Robust, robust, uncertainty

LEAST_BEHIND = 2
"""Readings behind walls of a kind: one alone would be fitted exactly, and might be the wrong one."""
_ALIKE = 0.8
_SOONER = {EXPONENT: 1.2, BODY: 1.0}
_SOONER_WALL = 1.1
"""Of two numbers that the readings cannot tell from each other the body loss is fitted: it shifts everything."""


@dataclass(frozen=True)
class Told:
    """Which parameters are free, all their values (rounded as they are written), and why the others are not free."""

    free: Mask
    values: Array
    fit: Robust
    why: dict[int, str]


def tell(model: Model, rows: Whole) -> Told:
    """Fit as many parameters as the chosen rows, one a reading, can tell.

    All that some readings speak of are fitted first. While one of them is known less well than it must be, or runs
    into its bounds, the worst of them goes back to what it was, and the rest is fitted again.
    """
    behind = np.count_nonzero(model.slopes[rows], axis=0)
    free = behind >= np.where(np.arange(len(behind)) <= BODY, 1, LEAST_BEHIND)
    why = {number: _unspoken(model, number, int(behind[number])) for number in np.flatnonzero(~free).tolist()}
    while int(free.sum()) > len(rows) - 2:
        number = int(np.flatnonzero(free)[np.argmin(behind[free])])
        free[number] = False
        why[number] = f"{count(len(rows), 'reading')} are too few for it"
    weights = np.array([one.weight for one in model.readings])
    kept, scatter_db = np.ones(len(rows), bool), LEAST_SCATTER_DB
    while True:
        # what even readings without any scatter could not tell need not be fitted first
        _give_back(model, model.slopes[rows][kept] * weights[kept, None], scatter_db, free, why)
        fit = _fit(model, rows, weights, free)
        kept, scatter_db = ~fit.outlier, fit.scatter_db
        numbers = np.flatnonzero(free).tolist()
        if _doubts(model, numbers, fit.sigmas).max(initial=0.0) > 1:
            continue
        outside = [
            number for number, value in zip(numbers, fit.values, strict=True) if _is_outside(model, number, value)
        ]
        if not outside:
            break
        free[outside[0]] = False
        why[outside[0]] = _outside(model, outside[0])
    values = model.start.copy()
    values[free] = np.round(fit.values, 2)
    return Told(free, values, fit, why)


def _fit(model: Model, rows: Whole, weights: Array, free: Mask) -> Robust:
    slopes, targets = model.targets(rows, free)
    chosen = [one for one, is_free in zip(model.parameters, free, strict=True) if is_free]
    low, high = np.array([one.low for one in chosen]), np.array([one.high for one in chosen])
    return robust(slopes, targets, weights, low, high, model.start[free])


def _give_back(model: Model, slopes: Array, scatter_db: float, free: Mask, why: dict[int, str]) -> None:
    """Take what rows of such a scatter cannot tell out of what is free, the worst first, until they tell the rest."""
    while free.any():
        numbers = np.flatnonzero(free).tolist()
        sigmas, alike = uncertainty(slopes[:, free], scatter_db)
        doubts = _doubts(model, numbers, sigmas)
        sooner = np.where(doubts > 1, doubts * [_SOONER.get(number, _SOONER_WALL) for number in numbers], 0.0)
        place = int(sooner.argmax())
        if not sooner[place] > 1:
            return
        free[numbers[place]] = False
        why[numbers[place]] = _doubtful(model, numbers, place, float(sigmas[place]), alike[place])


def _doubts(model: Model, numbers: list[int], sigmas: Array) -> Array:
    """How uncertain each is, over how uncertain it may be."""
    doubts: Array = sigmas / np.array([model.parameters[number].most_sigma for number in numbers])
    return doubts


def _is_outside(model: Model, number: int, value: float) -> bool:
    """Whether a figure ran into its bounds; that a wall takes nothing may well be."""
    one = model.parameters[number]
    return value >= one.high - 1e-3 or (value <= one.low + 1e-3 and number <= BODY)


def _unspoken(model: Model, number: int, behind: int) -> str:
    if number == BODY:
        return "no reading is of a transmitter worn on the body"
    if number == EXPONENT:
        return "every reading lies within a metre of its antenna; walk away from it"
    if behind == 0:
        return "no reading lies behind it; walk behind it, and beside it as far away"
    return "only one reading lies behind it, and may be the wrong one; take more there"


def _outside(model: Model, number: int) -> str:
    one = model.parameters[number]
    return (
        f"the readings ask for a figure beyond {one.low:g} to {one.high:g}{' dB' if one.unit else ''}, which cannot "
        "be; look at the drawing's scale and at the level's unit"
    )


def _doubtful(model: Model, numbers: list[int], place: int, sigma: float, alike: Array) -> str:
    others = np.abs(alike)
    others[place] = 0.0
    other = int(others.argmax())
    if others[other] >= _ALIKE:
        name = model.parameters[numbers[other]].name
        return f"the readings cannot tell it from {name}; {_remedy(numbers[place])}"
    digits = 1 if model.parameters[numbers[place]].unit else 2
    return f"the readings leave it open by ± {sigma:.{digits}f}; {_remedy(numbers[place])}"


def _remedy(number: int) -> str:
    if number == EXPONENT:
        return "take readings much nearer and much further away"
    if number == BODY:
        return "take readings in plain view at several distances"
    return "take more readings behind it, and beside it as far away"

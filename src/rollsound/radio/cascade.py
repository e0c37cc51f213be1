"""Amplifiers, cables and receivers one behind the other: gain, noise figure, third order intercept, and what they make.

A loss is a stage of negative gain whose noise figure is the loss and which makes no products.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.errors import InputError
from rollsound.radio.elementwise import Array, Values, above_zero, elementwise

NOISE_DBM_HZ = -173.975
"""k·T0 at 290 K, in dBm in one hertz."""
THREE_OVER_TWO_DB = 20 * math.log10(2)
"""A product of three equal signals over one of two: twice the coefficient, 6.02 dB."""


@dataclass(frozen=True)
class Stage:
    """One stage. ``intercept_dbm`` is the third order intercept at its input; infinite when it makes no products."""

    name: str
    gain_db: float
    noise_figure_db: float
    intercept_dbm: float = math.inf


def passive(name: str, loss_db: float) -> Stage:
    """A cable, splitter or connector that takes ``loss_db``."""
    return Stage(name, -loss_db, loss_db)


def gain_db(stages: Sequence[Stage]) -> float:
    """Gain of all stages together."""
    return sum(stage.gain_db for stage in stages)


def noise_figure_db(stages: Sequence[Stage]) -> float:
    """Noise figure of stages one behind the other, the antenna's side first.

    Raises
    ------
    InputError
        when there is no stage

    Source: Friis 1944, from memory: F1 + (F2 − 1)/G1 + (F3 − 1)/(G1·G2) + …
    """
    _some(stages)
    factor, before = 1.0, 1.0
    for stage in stages:
        factor += (_ratio(stage.noise_figure_db) - 1) / before
        before *= _ratio(stage.gain_db)
    return 10 * math.log10(factor)


def intercept_dbm(stages: Sequence[Stage]) -> float:
    """Third order intercept at the input of stages one behind the other; infinite when none makes products.

    Raises
    ------
    InputError
        when there is no stage

    Source: standard form, from memory: 1/IIP3 = Σ gain before / IIP3 of the stage, all as ratios.
    """
    _some(stages)
    inverse, before = 0.0, 1.0
    for stage in stages:
        inverse += before / _ratio(stage.intercept_dbm)
        before *= _ratio(stage.gain_db)
    return -10 * math.log10(inverse) if inverse > 0 else math.inf


def _some(stages: Sequence[Stage]) -> None:
    if not stages:
        raise InputError("nothing stands between the antenna and the ear; name at least the receiver")


def _ratio(db: float) -> float:
    return math.inf if db == math.inf else float(10.0 ** (db / 10))


@elementwise
def two_product_dbm(twice_dbm: Array, once_dbm: Array, intercept_dbm: Array) -> Values:
    """Level of 2A−B at the input, from the levels of A and B there.

    Source: cubic law; 3P − 2·IIP3 for equal signals.
    """
    return 2 * twice_dbm + once_dbm - 2 * intercept_dbm


@elementwise
def three_product_dbm(a_dbm: Array, b_dbm: Array, c_dbm: Array, intercept_dbm: Array) -> Values:
    """Level of A+B−C at the input, from the levels of A, B and C there.

    Source: cubic law: twice the coefficient of 2A−B, 6.02 dB more. (A tutorial on the web prints 3.5 dB: wrong.)
    """
    return a_dbm + b_dbm + c_dbm - 2 * intercept_dbm + THREE_OVER_TWO_DB


@elementwise
def thermal_noise_dbm(width_hz: Array, noise_figure_db: Array | float = 0.0) -> Values:
    """Noise at 290 K in a width, with a receiver's noise figure, in dBm.

    Source: k·T0·B.
    """
    return NOISE_DBM_HZ + 10 * np.log10(above_zero(width_hz, "a width")) + noise_figure_db


@elementwise
def sensitivity_dbm(width_hz: Array, noise_figure_db: Array, needed_db: Array) -> Values:
    """The level at which the carrier stands ``needed_db`` over the noise: −174 + 10 log B + NF + C/N."""
    return np.asarray(thermal_noise_dbm(width_hz, noise_figure_db)) + needed_db


@elementwise
def fm_width_hz(deviation_hz: Array, highest_hz: Array) -> Values:
    """Width that frequency modulation occupies: 2·(deviation + highest modulating frequency).

    Source: Carson's rule.
    """
    return 2 * (deviation_hz + highest_hz)


@elementwise
def carrier_to_noise_db(bit_over_noise_db: Array, bits_per_second: Array, width_hz: Array) -> Values:
    """Carrier over noise from energy of a bit over noise density: Eb/N0 + 10 log(Rb/B)."""
    ratio = above_zero(bits_per_second, "a bit rate") / above_zero(width_hz, "a width")
    return np.asarray(bit_over_noise_db + 10 * np.log10(ratio))

"""Amplitudes and powers as decibels, with silence as minus infinity."""

from __future__ import annotations

import math


def dbfs_of_amplitude(amplitude: float) -> float:
    """Level of an amplitude against full scale 1.0; ``-inf`` for zero."""
    return 20.0 * math.log10(amplitude) if amplitude > 0.0 else -math.inf


def db_of_power(power: float) -> float:
    """Level of a mean square; ``-inf`` for zero."""
    return 10.0 * math.log10(power) if power > 0.0 else -math.inf

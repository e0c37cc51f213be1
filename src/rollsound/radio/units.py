"""Powers and field strengths in the units that licences and receivers use."""

from __future__ import annotations

import math

import numpy as np

from rollsound.errors import InputError
from rollsound.radio.elementwise import Array, Values, above_zero, elementwise
from rollsound.radio.model import Unit

LIGHT_M_S = 299_792_458.0
DIPOLE_DBI = 2.15
"""Gain of a half-wave dipole over a source that sends everywhere alike: e.i.r.p. over e.r.p. (ratio 1.64)."""
DIPOLE_RATIO = 1.64


@elementwise
def dbm_of_mw(power_mw: Array) -> Values:
    """Milliwatts as dBm.

    Raises
    ------
    InputError
        when a power is not above 0
    """
    return 10 * np.log10(above_zero(power_mw, "a power"))


@elementwise
def mw_of_dbm(power_dbm: Array) -> Values:
    """Power in dBm as milliwatts."""
    return 10.0 ** (power_dbm / 10)


@elementwise
def eirp_of_erp_mw(erp_mw: Array) -> Values:
    """E.r.p. (over a dipole) as e.i.r.p. (over a source that sends everywhere alike), both in mW.

    Source: ratio 1.64, 2.15 dB.
    """
    return erp_mw * DIPOLE_RATIO


@elementwise
def wavelength_m(freq_hz: Array) -> Values:
    """Wavelength in metres.

    Raises
    ------
    InputError
        when a frequency is not above 0
    """
    return LIGHT_M_S / above_zero(freq_hz, "a frequency")


@elementwise
def dbm_of_field(field_dbuv_m: Array, freq_hz: Array) -> Values:
    """What an antenna of 0 dBi takes from a field in dBµV/m, in dBm.

    Source: effective area λ²/4π and 120π Ω of free space: E − 20 log f(MHz) − 77.22.
    """
    return np.asarray(field_dbuv_m - 20 * np.log10(above_zero(freq_hz, "a frequency") / 1e6) - 77.2155)


def in_unit_dbm(power_dbm: float, unit: Unit, wanted: Unit, gain_dbi: float = 0.0) -> float:
    """A power in one licence unit as another, in dBm.

    Parameters
    ----------
    gain_dbi
        of the transmitter's antenna: what conducted power and radiated power differ by

    Raises
    ------
    InputError
        when a unit is not known, or the power is no number
    """
    eirp_over = {"e.i.r.p.": 0.0, "e.r.p.": DIPOLE_DBI, "conducted": gain_dbi}
    if unit not in eirp_over or wanted not in eirp_over:
        raise InputError(f"'{unit}' or '{wanted}' is no unit of power; write e.r.p., e.i.r.p. or conducted")
    if not math.isfinite(power_dbm):
        raise InputError("a power is no number; write it as '50 mW'")
    return power_dbm + eirp_over[unit] - eirp_over[wanted]

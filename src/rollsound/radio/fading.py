"""How often a signal that fades falls under what is needed, with one antenna or the better of several.

``margin_db`` is the mean of the fading signal's power over what is needed. With a direct path the fading is Rician with
K, the direct path's power over that of all others; without, Rayleigh.
"""

from __future__ import annotations

import numpy as np

from rollsound.errors import InputError
from rollsound.radio.elementwise import Array, Values, elementwise

MOST_K_DB = 30.0
"""From here on a direct path hardly fades; larger K are taken as this."""


@elementwise
def outage(margin_db: Array, branches: Array | float = 1, k_db: Array | None = None) -> Values:
    """Share of the time, 0 to 1, under what is needed: selection between branches that fade independently.

    Parameters
    ----------
    margin_db
        mean power over what is needed, the same on each branch
    branches
        of diversity, 1 or more
    k_db
        of Rician fading; Rayleigh when None

    Notes
    -----
    Branches that fade together, or are unequal, do worse; a body shadows all of them at once.

    Source: Jakes, and Rappaport (selection diversity), from memory; Rice's distribution as noncentral chi-square.
    """
    many = np.asarray(branches, float)
    if not np.all(many >= 1):
        raise InputError("a receiver has one branch or more; write how many antennas it chooses from")
    return np.asarray(_one(np.asarray(margin_db, float), k_db) ** many)


def outage_of(margins_db: Array, k_db: float | None = None, axis: int = 0) -> Array:
    """The same for branches with a margin each, which lie along ``axis``."""
    return np.asarray(np.prod(_one(np.asarray(margins_db, float), k_db), axis=axis))


def _one(margin_db: Array, k_db: Array | float | None) -> Array:
    under = 10.0 ** (-margin_db / 10)
    if k_db is None:
        return np.asarray(-np.expm1(-under))
    from scipy.special import chndtr  # takes longer to load than Rayleigh to reckon, which most plans stay with

    k = 10.0 ** (np.minimum(k_db, MOST_K_DB) / 10)
    return np.asarray(chndtr(2 * (k + 1) * under, 2.0, 2 * k))


@elementwise
def margin_for_db(share: Array, branches: Array | float = 1, k_db: Array | None = None) -> Values:
    """The margin of the mean that leaves so much of the time, 0 to 1, under what is needed.

    Raises
    ------
    InputError
        when the share is not between 0 and 1

    Source: ``outage``, turned round.
    """
    if not np.all((share > 0) & (share < 1)):
        raise InputError("a share of time lies between 0 and 1, such as 0.01")
    one = np.power(share, 1 / np.asarray(branches, float))
    if k_db is None:
        return -10 * np.log10(-np.log1p(-one))
    from scipy.special import chndtrix

    k = 10.0 ** (np.minimum(k_db, MOST_K_DB) / 10)
    return -10 * np.log10(chndtrix(one, 2.0, 2 * k) / (2 * (k + 1)))


@elementwise
def mean_over_median_db(k_db: Array | None = None) -> Values:
    """How far the mean of a fading power lies over its median: 1.59 dB for Rayleigh, less with a direct path."""
    return margin_for_db(0.5, 1.0, k_db)


@elementwise
def selection_gain_db(branches: Array) -> Values:
    """How far the mean of the best of so many branches lies over that of one: 10 log Σ 1/k (Rayleigh).

    Source: Jakes, from memory.
    """
    most = int(np.max(branches))
    if most < 1 or np.min(branches) < 1:
        raise InputError("a receiver has one branch or more; write how many antennas it chooses from")
    sums = np.cumsum(1 / np.arange(1, most + 1))
    return np.asarray(10 * np.log10(sums[np.asarray(branches, int) - 1]))

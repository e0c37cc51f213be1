"""Why a reading of a walk test is an outlier at 3.5 times the scatter of the rest, and not under 6 dB.

Prints, over seeded walks of 40 readings with five of them wrong by so many dB: wrong ones missed and honest ones named
in a hundred walks, and how far the exponent then lies from the truth, for several choices.
Run: ``python design/walk_outliers.py``
"""

from __future__ import annotations

import numpy as np

from rollsound.radio.reach import walk_robust

WALKS, READINGS, WRONG = 100, 40, 5
TRUTH = np.array([2.7, 21.0, 9.0])
"""Exponent, body loss, loss of one kind of wall."""


def walk(seed: int, scatter_db: float, wrong_db: float, fading: bool) -> tuple[walk_robust.Array, walk_robust.Array]:
    """Slopes and levels: distances of 3 to 60 m, none to two walls; fading adds the level of one moment of Rayleigh."""
    chance = np.random.default_rng(seed)
    far_m = 10 ** chance.uniform(np.log10(3), np.log10(60), READINGS)
    slopes = np.stack(
        [-10 * np.log10(far_m), -np.ones(READINGS), -chance.integers(0, 3, READINGS).astype(float)], axis=1
    )
    levels = slopes @ TRUTH + scatter_db * chance.standard_normal(READINGS)
    if fading:
        # the mean of four moments, as one takes who turns on the spot
        levels += 10 * np.log10(chance.exponential(1.0, (4, READINGS)).mean(axis=0))
    levels[:WRONG] += wrong_db * np.where(np.arange(WRONG) % 2, 1, -1)
    return slopes, levels


def main() -> None:
    """Print the table."""
    bounds = np.array([1.0, -10.0, 0.0]), np.array([8.0, 60.0, 80.0])
    print("scatters  at least  scatter  wrong by   missed  named falsely  exponent off (rms)")
    for scatters, least_db in ((2.5, 0.0), (2.5, 6.0), (3.5, 0.0), (3.5, 6.0), (3.5, 10.0), (5.0, 6.0)):
        walk_robust.OUTLIER_SCATTERS, walk_robust.OUTLIER_DB = scatters, least_db
        for scatter_db, fading, wrong_db in (
            (1.0, False, 12.0),
            (2.0, False, 12.0),
            (2.0, False, 25.0),
            (2.0, True, 25.0),
        ):
            missed, falsely, off = 0, 0, []
            for seed in range(WALKS):
                slopes, levels = walk(seed, scatter_db, wrong_db, fading)
                found = walk_robust.robust(slopes, levels, np.ones(READINGS), *bounds, np.array([2.0, 16.0, 5.0]))
                missed += WRONG - int(found.outlier[:WRONG].sum())
                falsely += int(found.outlier[WRONG:].sum())
                off.append(float(found.values[0]) - TRUTH[0])
            kind = f"{scatter_db:.0f} dB{' + fading' if fading else ''}"
            print(
                f"{scatters:8.1f} {least_db:6.0f} dB  {kind:14s} {wrong_db:4.0f} dB {missed:8d} {falsely:10d}"
                f" {np.sqrt(np.mean(np.square(off))):14.3f}"
            )


if __name__ == "__main__":
    main()

"""A clock in two figures, offset and rate, as screens and lists show it; and whether stated figures fit the knots."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rollsound.conform.model import ClockMap

OFFSET_TOLERANCE_SAMPLES = 0.01
RATE_TOLERANCE_PPM = 0.001
"""Planning takes the figures from the very knots, so they agree but for the last bits of a double. Screens and lists
round them to 0.01 sample and 0.001 ppm at the coarsest: figures copied from there still hold, and an edit worth making
does not."""
_STEEP = 0.01
"""Samples a sample: no clock is off by so much, so a stretch that is steeper than the others is a jump."""


def figures_of(clock: ClockMap, ratio: float) -> tuple[float, float]:
    """Offset in card samples at take frame 0, and rate in ppm against ``ratio`` (nominal card samples per take sample).

    They are the least-squares line through the knots. Where the card jumped no one line fits: then they are the place
    of frame 0 itself, and the mean rate of what lies between the jumps.
    """
    runs = np.diff(clock.take_frames).astype(np.float64)
    rises = np.diff(clock.card_positions)
    plain = np.abs(rises / runs - np.median(rises / runs)) <= _STEEP
    if plain.all():
        offset, ppm = clock.line
        slope = 1.0 + ppm * 1e-6
    else:
        offset, slope = float(clock.at(0.0)), float(np.sum(rises[plain]) / np.sum(runs[plain]))
    return offset, (slope / ratio - 1.0) * 1e6


def contradicted(
    which: str, clock: ClockMap, ratio: float, offset_samples: float | None, rate_ppm: float | None
) -> Iterator[str]:
    """A sentence for each stated figure (not None) that is not the knots'; ``which`` names take and track."""
    offset, rate = figures_of(clock, ratio)
    told = (
        ("offset_samples", offset_samples, offset, OFFSET_TOLERANCE_SAMPLES, "samples"),
        ("rate_ppm", rate_ppm, rate, RATE_TOLERANCE_PPM, "ppm"),
    )
    for name, stated, own, tolerance, unit in told:
        if stated is not None and not abs(stated - own) <= tolerance:
            yield (
                f"{which} states {name} {stated:.3f}, and card_positions of its longest piece give {own:.3f} {unit}; "
                f"the sound follows card_positions, so edit those and write the same in {name}, or null"
            )

"""The map of reach over a ground: for one transmitter, or for the worst of several at every point."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rollsound.radio.model import RadioPart
from rollsound.radio.reach.answer import ReachMap
from rollsound.radio.reach.ground import grid, ground_of
from rollsound.radio.reach.link import antennas_of, links, notes_of
from rollsound.radio.reach.over import over


def reach_map(
    radio: RadioPart,
    ground: str,
    transmitters: Sequence[str] | None = None,
    *,
    layout: str | None = None,
    points: tuple[int, int] = (200, 200),
    height_m: float = 1.2,
) -> ReachMap:
    """Level, margin and share of time at the middles of a grid's cells.

    Parameters
    ----------
    ground
        its id
    transmitters
        ids; all that send on this site when None
    layout
        antennas of this layout only; all antennas when None
    points
        columns and rows
    height_m
        of the transmitters over the floor

    Raises
    ------
    InputError
        when an id is unknown, nothing sends or nothing hears
    """
    drawn = ground_of(radio, ground)
    x_m, y_m = grid(drawn, points)
    heard = links(radio, drawn, transmitters, layout)
    at_m = np.stack(np.meshgrid(x_m, y_m), axis=-1).reshape(-1, 2)
    found = over(drawn, heard, at_m, height_m)
    shape = (len(y_m), len(x_m))
    return ReachMap(
        ground=drawn.id,
        layout=layout or "",
        transmitters=tuple(one.transmitter for one in heard),
        antennas=antennas_of(heard),
        height_m=height_m,
        x_m=x_m,
        y_m=y_m,
        level_dbm=found.level_dbm.reshape(shape),
        margin_db=found.margin_db.reshape(shape),
        share_of_time=found.share_of_time.reshape(shape),
        worst=found.worst.reshape(shape),
        notes=notes_of(drawn, heard),
    )

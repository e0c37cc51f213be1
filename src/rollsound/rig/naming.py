"""What sources, tracks, listeners and lists of them are called in sentences, and where they stand in the plan."""

from __future__ import annotations

from collections.abc import Sequence

from rollsound.rig.built import Rig, Spot
from rollsound.rig.combining import Combination


def source_name(rig: Rig, source: str) -> str:
    """What people call a source."""
    return rig.source_rows[source].name or source


def target_in_words(rig: Rig, target: str) -> str:
    """A track or listener for people: ``track 3 Boom 1`` or ``the Director``."""
    what, _, id = target.partition(":")
    if what == "track":
        row = rig.track_rows[id]
        return f"track {row.number} {row.name}"
    listener = rig.feed_rows[id].listener
    return f"the {listener[:1].lower()}{listener[1:]}"


def place_of(target: str) -> tuple[str, ...]:
    """Where a track or listener stands in the plan."""
    what, _, id = target.partition(":")
    return ("rig", "tracks" if what == "track" else "feeds", id)


def place_of_gain(rig: Rig, spot: Spot, combination: Combination) -> tuple[str, ...]:
    """Where the gain of a spot is to be set in the plan: in a position that sets it, else at its piece."""
    for changeover, position in combination.items():
        if spot in rig.position_gains_db.get((changeover, position), {}):
            return ("rig", "changeovers", changeover, "positions", position, "gains")
    return ("rig", "pieces", spot.piece)


def listed(names: Sequence[str]) -> str:
    """Names in a sentence: ``Bram``, ``Bram and Idris``, ``Bram, Idris and 9 more``."""
    some = list(dict.fromkeys(names))
    if len(some) > 3:
        return f"{some[0]}, {some[1]} and {len(some) - 2} more"
    return " and ".join(filter(None, (", ".join(some[:-1]), some[-1])))

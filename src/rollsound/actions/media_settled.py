"""Which findings still stand once cards were used: a fault that a rebuilt file does not have stops nothing any more."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from rollsound.actions.conform_result import ConformTake
from rollsound.finding import Finding, Weight
from rollsound.measure import RADIO_FAULTS
from rollsound.turnover.model import Rebuilt


def made_of(take: ConformTake, mode: str) -> dict[str, Rebuilt]:
    """The tracks of a take that a file was made for, by name."""
    if not take.output:
        return {}
    return {
        track.name: Rebuilt(track=track.name, kind=mode, card=track.card, file=Path(output_of(take, track.index)))
        for track in take.tracks
        if track.action in ("replace", "mend")
    }


def output_of(take: ConformTake, index: int) -> str:
    """The file that holds a rebuilt track: the one poly file, or the track's own in a set of monos."""
    return take.output[0 if len(take.output) == 1 else min(index, len(take.output)) - 1]


def settled(finding: Finding, tracks: Collection[str], made: Mapping[str, Rebuilt]) -> Finding:
    """A finding as it weighs beside what was rebuilt.

    Parameters
    ----------
    tracks
        names of the tracks that the finding is about
    made
        rebuilt tracks of the take, by name
    """
    if not made or finding.weight is Weight.FINE:
        return finding
    if finding.kind == "file-not-whole":
        kind = next(iter(made.values())).kind
        remedy = f"Its {kind} is whole as far as the recorder wrote."
        return finding.model_copy(update={"weight": Weight.WATCH, "remedy": remedy})
    if finding.kind not in RADIO_FAULTS or not tracks or not set(tracks) <= made.keys():
        return finding
    item = made[next(iter(tracks))]
    done = "rebuilt" if item.kind == "mirror" else "mended"
    remedy = f"The {item.kind} has this {done} from card {item.card}; the recorder's file is as it was."
    return finding.model_copy(update={"weight": Weight.WATCH, "remedy": remedy})

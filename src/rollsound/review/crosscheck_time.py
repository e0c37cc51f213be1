"""Time code over the day: gaps in a take, files that lie over each other, a clock that runs back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from rollsound.finding import Area, Finding, Weight
from rollsound.review.crosscheck_match import apart_s
from rollsound.review.crosscheck_model import Pair, PlannedDay, TakeOnDisk
from rollsound.review.crosscheck_telling import about_takes, begun


def gaps_inside(pair: Pair, planned: PlannedDay) -> Iterator[Finding]:
    """A take that was split into several files must go on from one to the next, sample by sample."""
    for one, other in pairwise(pair.on_disk):
        gap_s = apart_s(other.start_s, one.end_s, planned.rate)
        samples = round(gap_s * other.sample_rate_hz)
        if samples == 0 or not (one.has_timecode and other.has_timecode):
            continue
        what = f"{samples:,} samples are missing" if samples > 0 else f"{-samples:,} samples lie in both"
        yield about_takes(
            Weight.STOP if samples > 0 else Weight.WATCH,
            Area.SYNC,
            "gap in a take" if samples > 0 else "overlap in a take",
            pair.written.name,
            f"{begun(pair.written.name)}: between {one.name} and {other.name} {what}.",
            remedy="Look for a file in between; if there is none, tell post where the sound is gone."
            if samples > 0
            else "Tell post to join them by time code, not end to end.",
            lines=[pair.written],
            takes=[one, other],
            numbers={"gap_samples": samples},
        )


def overlaps(pairs: Sequence[Pair]) -> Iterator[Finding]:
    """Files of different takes that lie at the same time of day: one recorder cannot have made both."""
    everything = [(take, pair.written) for pair in pairs for take in pair.on_disk if take.has_timecode]
    everything.sort(key=lambda each: each[0].start_s)
    for place, (one, line) in enumerate(everything):
        for other, line_of_other in everything[place + 1 :]:
            if other.start_s >= one.end_s:
                break
            if line is line_of_other:  # told as a gap or an overlap inside of a take
                continue
            both_s = min(one.end_s, other.end_s) - other.start_s
            yield about_takes(
                Weight.WATCH,
                Area.SYNC,
                "time code overlap",
                other.name,
                f"{one.name} and {other.name} lie over each other for {both_s:.1f} s of time code.",
                why="Picture of that time finds two sounds; one of the two carries a wrong time code.",
                remedy="If two recorders ran, put their files apart; else find out when the clock was set, and log it.",
                lines=[line, line_of_other],
                takes=[one, other],
                numbers={"overlap_s": both_s},
            )


def backwards(pairs: Sequence[Pair], planned: PlannedDay) -> tuple[list[Finding], set[frozenset[str]]]:
    """Files that begin before those of the take that was rolled before them."""
    found, lines = [], set()
    for before, pair in pairwise(pairs):
        one, other = before.on_disk[-1], pair.on_disk[0]
        if not (one.has_timecode and other.has_timecode):
            continue
        if _overlap(one, other):  # told as such
            lines.add(frozenset((before.written.id, pair.written.id)))
            continue
        if apart_s(other.start_s, one.start_s, planned.rate) >= 0:
            continue
        lines.add(frozenset((before.written.id, pair.written.id)))
        found.append(
            about_takes(
                Weight.WATCH,
                Area.SYNC,
                "time code running backwards",
                pair.written.name,
                f"{begun(pair.written.name)} was rolled after {before.written.name}, and its file begins earlier.",
                why="Takes of one day are matched by time code; one that runs back finds the wrong sound.",
                remedy="Look when the recorder's clock was set, and log the jam; or put the lines of the log in order.",
                lines=[pair.written, before.written],
                takes=[other, one],
            )
        )
    return found, lines


def _overlap(one: TakeOnDisk, other: TakeOnDisk) -> bool:
    return one.start_s < other.end_s and other.start_s < one.end_s

"""One finding about takes of the log and files of the day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.review.crosscheck_model import TakeOnDisk, WrittenTake

SOURCE = "log, files and plan held against each other"


def about_takes(
    weight: Weight,
    area: Area,
    kind: str,
    subject: str,
    what: str,
    *,
    why: str = "",
    remedy: str = "",
    lines: Iterable[WrittenTake] = (),
    takes: Iterable[TakeOnDisk] = (),
    numbers: Mapping[str, float] | None = None,
) -> Finding:
    """A finding whose references are the lines and the first file of each take."""
    refs = [Ref(path=f"log#{each.id}", timecode=each.timecode_in) for each in lines]
    refs += [Ref(path=file.path or file.name) for take in takes for file in take.files[:1]]
    return Finding(
        area=area, weight=weight, subject=subject, kind=kind, what=what, why=why, remedy=remedy, source=SOURCE,
        refs=tuple(refs), numbers=dict(numbers or {}),
    )  # fmt: skip


def begun(words: str) -> str:
    """Words at the head of a sentence."""
    return words[:1].upper() + words[1:]

"""The plan's document: one that is handed in is refused where what else was given says other than it, and one that lies
there already is never lost to a new one."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from rollsound.actions.conform_result import EARLIER_PLAN_NAME, PLAN_NAME
from rollsound.actions.gather import read_text_file
from rollsound.conform.agreeing import check_files
from rollsound.conform.plan import ConformPlan
from rollsound.errors import InputError
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.whole import write_whole


def refuse_settled(options: Sequence[str], plan: Path) -> None:
    """Raise InputError for options that would have no effect, since the plan has settled what they are for."""
    if options:
        named = " and ".join(options)
        has = "has" if len(options) == 1 else "have"
        raise InputError(
            f"{named} {has} no effect where {plan} is carried out, which settles it already; leave {named} out, or "
            "leave --plan out to plan anew"
        )


def plan_given(plan: Path, *, recorder: Path, cards: Path, out: Path, mode: str | None) -> ConformPlan:
    """Read a plan that is to be carried out.

    Parameters
    ----------
    recorder, cards, out
        where all that the plan reads and writes must lie
    mode
        what the plan's mode must be, if it was said

    Raises
    ------
    InputError, StorageError
        when the plan has mistakes, or the files or anything given here say other than it
    """
    made = ConformPlan.from_json(read_text_file(plan), str(plan))
    if mode is not None and mode != made.mode:
        raise InputError(
            f"--mode {mode} was asked for, and {plan} is a plan to {made.mode}; leave --mode out to carry it out, or "
            f"leave --plan out to plan a {mode}"
        )
    members = [member for take in made.takes for member in take.members]
    pieces = [piece for take in made.takes for track in take.tracks for piece in track.pieces]
    _lie_in(
        recorder, (member.file.path for member in members), plan, "reads", "name the recorder's folder that holds it"
    )
    _lie_in(cards, (piece.file.path for piece in pieces), plan, "reads", "name with --cards the folder that holds it")
    outputs = [member.output for member in members if member.output]
    folder = os.path.commonpath([os.path.abspath(Path(name).parent) for name in outputs]) if outputs else ""
    _lie_in(out, outputs, plan, "writes", f"run it with --out {folder}, or change the outputs in the plan")
    twice = next((name for name, times in Counter(map(_real, outputs)).items() if times > 1), None)
    if twice is not None:
        raise InputError(f"{plan} writes {twice} more than once; name another output for one of them")
    check_files(made, str(plan))
    return made


def _lie_in(place: Path, names: Iterable[str], plan: Path, does: str, remedy: str) -> None:
    root = place.resolve()
    for name in names:
        path = _real(name)
        if path != root and root not in path.parents:
            raise InputError(f"{plan} {does} {name}, which does not lie in {place}; {remedy}")


def _real(name: str) -> Path:
    return Path(name).resolve()


def write_plan(out: Path, plan: ConformPlan) -> list[Finding]:
    """Write the plan; another one that lies there, which somebody may have edited, is kept beside it."""
    path, text = out / PLAN_NAME, plan.to_json()
    kept: list[Finding] = []
    if path.is_file():
        earlier = read_text_file(path)
        if earlier != text:
            write_whole(out / EARLIER_PLAN_NAME, earlier)
            kept.append(_kept(path))
    write_whole(path, text)
    return kept


def _kept(path: Path) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.WATCH,
        subject=PLAN_NAME,
        kind="plan made anew",
        what=f"Another plan lay in {path.parent}; it is kept as {EARLIER_PLAN_NAME}.",
        remedy="If it was edited, name it with --plan to carry it out.",
        source="common practice, no source",
        refs=(Ref(path=str(path)),),
    )

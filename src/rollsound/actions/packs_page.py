"""What the page *Packs* shows: the pack plan that is kept, told as it stands, and one that is worked out anew."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rollsound.errors import InputError

if TYPE_CHECKING:
    from rollsound.actions.packs import PacksAnswer
    from rollsound.actions.plan_read import PlanRead
    from rollsound.finding import Finding
    from rollsound.show.folder import Show
    from rollsound.show.model import Plan

_KEPT = 8
LONGEST_S = 8.0
"""After so long the page answers with the best found until then; the command may look longer."""
_one = threading.Lock()
_states: OrderedDict[tuple[str, int], PacksState] = OrderedDict()


@dataclass(frozen=True)
class PacksState:
    """The pack plan as the plan stands.

    ``kept`` is none where no pack plan is kept, or it cannot be told; ``scenes`` are those of the schedule in which
    somebody is heard, 0 where ``why_not`` says what is missing before a pack plan can be.
    """

    revision: int
    plan: Plan
    findings: tuple[Finding, ...]
    scenes: int = 0
    characters: int = 0
    packs: int = 0
    booms: int = 0
    why_not: str = ""
    kept: PacksAnswer | None = None


def state_of(show: Show) -> PacksState:
    """The pack plan that is kept; told anew when the plan changes."""
    head = show.store.head()
    key = (str(show.folder), head.revision)
    with _one:
        found = _states.get(key)
        if found is None:
            found = _states[key] = _state(read_of(show))
            while len(_states) > _KEPT:
                _states.popitem(last=False)
    return found


def known(show: Show) -> PacksState | None:
    """The same, where somebody has looked since the plan was changed; nothing is worked out."""
    with _one:
        return _states.get((str(show.folder), show.store.head().revision))


def read_of(show: Show) -> PlanRead:
    """The open show as the pack plan wants it."""
    from rollsound.actions.plan_read import PlanRead

    head = show.store.head()
    return PlanRead(show.folder, "show", show.plan(), head.document, lambda _place: 0, {}, head.revision)


def _state(read: PlanRead) -> PacksState:
    from rollsound.actions.packs import kept_findings, kept_plan
    from rollsound.actions.packs_gather import PacksOfShow

    findings = tuple(kept_findings(read.plan))
    revision = read.revision or 0
    try:
        task = PacksOfShow(read.plan).task
    except InputError as error:
        return PacksState(revision, read.plan, findings, why_not=error.sentence)
    return PacksState(
        revision,
        read.plan,
        findings,
        scenes=len(task.slots),
        characters=len(task.characters),
        packs=len(task.packs),
        booms=len(task.booms),
        kept=kept_plan(read) if read.plan.packs.assigned else None,
    )


def worked_out(show: Show, *, near: bool, seed: int = 0) -> PacksAnswer:
    """A pack plan found within seconds, not yet saved; ``near`` to the one that is kept where there is one.

    Raises
    ------
    InputError
        when the plan has no script, or no scenes on its days
    """
    from rollsound.actions.packs import packs

    read = read_of(show)
    until = time.monotonic() + LONGEST_S
    return packs(
        read,
        near=near and bool(read.plan.packs.assigned),
        seed=seed,
        stop=lambda: time.monotonic() >= until,
    )


def with_plan(document: Mapping[str, Any], answer: PacksAnswer) -> dict[str, Any]:
    """A document that keeps what was worked out."""
    from rollsound.actions.packs import assigned_rows

    part = dict(document.get("packs") or {})
    return {**document, "packs": {**part, "assigned": assigned_rows(answer.gathered.task, answer.worn)}}

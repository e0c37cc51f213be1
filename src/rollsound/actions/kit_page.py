"""What the page *Kit* shows: how the kit travels, and the list for customs; kept while the plan stays as it is."""

from __future__ import annotations

import datetime as dt
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rollsound.errors import MistakesError

if TYPE_CHECKING:
    from rollsound.actions.kit_model import KitResult
    from rollsound.actions.plan_read import PlanRead
    from rollsound.kit.model import Kind
    from rollsound.show.folder import Show
    from rollsound.show.model import Plan

_KEPT = 12
_FIRST = 8
"""Of the demo's items, so many are an example."""
_one = threading.Lock()
_states: OrderedDict[tuple[str, int, dt.date | None], KitState] = OrderedDict()


@dataclass(frozen=True)
class KitState:
    """The kit as the plan stands.

    ``travels`` is how it goes, ``listed`` the same with the list for customs, whether the kit has begun one or not;
    both are none where the kit is empty or names what is not there, which ``mistakes`` tell.
    """

    revision: int
    plan: Plan
    kinds: dict[str, Kind]
    """What each item is, by the item's id: its own word before its kind's."""
    travels: KitResult | None = None
    listed: KitResult | None = None
    mistakes: tuple[tuple[str, str], ...] = ()


def state_of(show: Show, date: dt.date | None = None) -> KitState:
    """The kit, with the rules of a date of travel; kept until the plan changes."""
    head, plan = show.store.head(), show.plan()
    key = (str(show.folder), head.revision, date)
    with _one:
        kept = _states.get(key)
        if kept is None:
            kept = _state(read_of(show), head.revision, date, plan)
            _states[key] = kept
            while len(_states) > _KEPT:
                _states.popitem(last=False)
    return kept


def known(show: Show) -> KitState | None:
    """The kit without a date, where somebody has looked since the plan was changed; nothing is worked out."""
    with _one:
        return _states.get((str(show.folder), show.store.head().revision, None))


def read_of(show: Show) -> PlanRead:
    """The open show as the kit's papers want it."""
    from rollsound.actions.plan_read import PlanRead

    head = show.store.head()
    return PlanRead(show.folder, "show", show.plan(), head.document, lambda _place: 0, {}, head.revision)


def _state(read: PlanRead, revision: int, date: dt.date | None, plan: Plan) -> KitState:
    from rollsound.actions.kit import kit
    from rollsound.kit.kinds import kinds_of, resolved

    known_kinds = kinds_of(plan.kit)
    of_items = {item.id: resolved(item, known_kinds) for item in plan.kit.items}
    if not plan.kit.items:
        return KitState(revision, plan, of_items)
    try:
        travels, listed = kit(read, date=date), kit(read, date=date, listed=True)
    except MistakesError as error:
        told = tuple((each.place, each.sentence) for each in error.mistakes)
        return KitState(revision, plan, of_items, mistakes=told)
    return KitState(revision, plan, of_items, travels, listed)


def with_example(document: Mapping[str, Any]) -> dict[str, Any]:
    """A document with what stands first in the demo's kit: recorders, cart and what belongs to them."""
    from importlib import resources

    from rollsound.show.text import read_text

    text = resources.files("rollsound.demo").joinpath("northbound.yaml").read_text(encoding="utf-8")
    items = read_text(text).document["kit"]["items"][:_FIRST]
    return {**document, "kit": {**(document.get("kit") or {}), "items": items}}

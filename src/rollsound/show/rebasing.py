"""Changes made ready for a document that is not quite the one they were made on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from rollsound.log.changes import ABSENT, ORDER, Absent, Change, Clash, ClashError, apply, join, same, split, value_at
from rollsound.show.model import Plan
from rollsound.show.ordering import model_in


def as_seen(document: Any, changes: Sequence[Change]) -> Any:
    """The document as the maker of these changes saw it: with each ``before`` in its place.

    Raises
    ------
    ClashError
        when what a change is a part of is no longer there
    InputError
        when a path leads nowhere
    """
    touched: list[str] = []
    lost: list[Clash] = []
    for change in changes:
        above = join(split(change.path)[:-1])
        own = any(change.path == path or change.path.startswith(f"{path}/") for path in touched)
        touched.append(change.path)
        if own or same(value_at(document, change.path), change.before):
            continue
        if change.path.endswith(f"/{ORDER}") and change.before is ABSENT:
            continue
        if value_at(document, above) is ABSENT:
            lost.append(Clash(change.path, change.before, change.after, ABSENT))
            continue
        document = apply(document, [Change(change.path, ABSENT, change.before)], check=False)
    if lost:
        raise ClashError(lost)
    return document


def with_room(document: Any, changes: Sequence[Change]) -> list[Change]:
    """The changes, where those that add to a part of the plan that is not written yet begin that part."""
    result: list[Change] = []
    for change in changes:
        steps = split(change.path)
        depth = next((n for n in range(1, len(steps)) if value_at(document, join(steps[:n])) is ABSENT), None)
        # An item that is not there cannot be begun by one of its fields: it may have been taken out.
        if depth is not None and change.before is ABSENT and not _is_list(steps[: depth - 1]):
            change = Change(join(steps[:depth]), ABSENT, _nested(steps, depth, change.after))
        result.append(change)
        if value_at(document, join(split(change.path)[:-1])) is not ABSENT:
            document = apply(document, [change], check=False)
    return result


def _nested(steps: Sequence[str], depth: int, value: Any | Absent) -> Any:
    for at in range(len(steps) - 1, depth - 1, -1):
        step = steps[at]
        if not _is_list(steps[:at]):
            value = {step: value}
        elif isinstance(value, dict):
            value = [{"id": step, **value}]
        else:
            value = [value]
    return value


def _is_list(steps: Sequence[str]) -> bool:
    """Whether the plan's model has a list of items there."""
    model: type[BaseModel] | None = Plan
    listed = False
    for step in steps:
        if listed:
            listed = False
            continue
        fields = model.model_fields if model is not None else {}
        found = next((field for name, field in fields.items() if step == (field.alias or name)), None)
        if found is None:
            return False
        model = model_in(found.annotation)
        listed = model is not None and get_origin(found.annotation) is tuple and len(get_args(found.annotation)) == 2
    return listed

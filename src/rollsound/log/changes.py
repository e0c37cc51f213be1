"""What differs between two documents, field by field: changes that can be kept, undone and merged.

A document is nested dicts, as JSON has them. A list whose items are dicts with an ``id`` is a *keyed list*: its items
are told apart by their ids and its order is a value of its own, at ``<path>/#order``. Any other list is one value.
A path is a JSON Pointer with the item's id in place of an index: ``/people/mina/name``; the whole document is ``""``.

Nothing here knows what a document is about.

Source: RFC 6901 (2013), sections 3 and 4, for the pointer and its escapes ``~0`` and ``~1``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, Final, Literal, TypeAlias

from rollsound.errors import InputError

ORDER = "#order"


class Absent(Enum):
    """The one sign that no value stands at a path; null is a value."""

    ABSENT = "absent"

    def __repr__(self) -> str:
        return "ABSENT"


ABSENT: Final = Absent.ABSENT
Json: TypeAlias = Any  # None, bool, int, float, str, list or dict of these; a recursive alias would forbid every cast
Document: TypeAlias = dict[str, Any]
Side: TypeAlias = Literal["mine", "theirs"]


@dataclass(frozen=True)
class Change:
    """One value at one path, before and after; either may be ``ABSENT``."""

    path: str
    before: Json | Absent
    after: Json | Absent

    def as_json(self) -> dict[str, Json]:
        """For keeping: a side that is absent is left out, so that null stays a value."""
        sides = {"before": self.before, "after": self.after}
        return {"path": self.path, **{name: value for name, value in sides.items() if value is not ABSENT}}

    @classmethod
    def from_json(cls, kept: Mapping[str, Json]) -> Change:
        """Read what ``as_json`` kept."""
        return cls(str(kept["path"]), kept.get("before", ABSENT), kept.get("after", ABSENT))


@dataclass(frozen=True)
class Clash:
    """One path that two people changed differently since ``base``."""

    path: str
    base: Json | Absent
    mine: Json | Absent
    theirs: Json | Absent


class ClashError(InputError):
    """Changes that do not fit the document as it is now; every one of them is in ``clashes``."""

    def __init__(self, clashes: Iterable[Clash], sentence: str = "") -> None:
        self.clashes: tuple[Clash, ...] = tuple(clashes)
        places = ", ".join(clash.path or "the whole document" for clash in self.clashes)
        super().__init__(
            sentence or f"somebody else changed {places} in the meantime; look at both values and choose",
            paths=[clash.path for clash in self.clashes],
        )


@dataclass(frozen=True)
class Merge:
    """Both edits in one document. ``changes`` lead from theirs to it; a clash that nobody settled keeps theirs."""

    document: Json
    changes: list[Change]
    clashes: list[Clash]


def split(path: str) -> list[str]:
    """The steps of a path.

    Raises
    ------
    InputError
        when it is neither empty nor begins with a slash
    """
    if path and not path.startswith("/"):
        raise InputError(f"'{path}' is not a place in a document; write it as /people/mina/name")
    return [step.replace("~1", "/").replace("~0", "~") for step in path.split("/")[1:]]


def join(steps: Iterable[str]) -> str:
    """The path of these steps."""
    return "".join("/" + step.replace("~", "~0").replace("/", "~1") for step in steps)


def same(one: Json, other: Json) -> bool:
    """Whether two values are the same in JSON, where true is not 1 and 1 is not 1.0."""
    if one is other:
        return True
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


def items_of(value: Json | Absent) -> dict[str, Document] | None:
    """The items of a keyed list by their ids, in order; none when it is not one. An empty list counts as one."""
    if not isinstance(value, list):
        return None
    items: dict[str, Document] = {}
    for item in value:
        key = item.get("id") if isinstance(item, dict) else None
        if not isinstance(key, str) or not key or key == ORDER or key in items:
            return None
        items[key] = item
    return items


def value_at(document: Json, path: str) -> Json | Absent:
    """What stands at a path; ``ABSENT`` when nothing does."""
    value: Json | Absent = document
    for step in split(path):
        items = items_of(value)
        if items is not None and step == ORDER:
            value = list(items)
        elif items is not None:
            value = items.get(step, ABSENT)
        else:
            value = value.get(step, ABSENT) if isinstance(value, dict) else ABSENT
    return value


def changes_between(old: Json | Absent, new: Json | Absent) -> list[Change]:
    """The fewest changes that lead from one document to another, in the order of the old document's fields."""
    return _between(old, new, "")


def _between(old: Json | Absent, new: Json | Absent, path: str) -> list[Change]:
    if old is new or same(old, new):
        return []
    if isinstance(old, dict) and isinstance(new, dict):
        return _between_fields(old, new, path)
    before, after = items_of(old), items_of(new)
    if before is None or after is None:
        return [Change(path, old, new)]
    # The last is taken away first, so that undoing puts the first back first.
    gone = [key for key in reversed(before) if key not in after]
    kept = [key for key in before if key in after]
    changes = _between_fields(before, after, path, [*kept, *gone, *(key for key in after if key not in before)])
    # Added items go to the end, both on the way there and back; any other order has to be told.
    there = [key for key in before if key in after] + [key for key in after if key not in before]
    back = [key for key in after if key in before] + [key for key in before if key not in after]
    if there != list(after) or back != list(before):
        changes.append(Change(f"{path}/{ORDER}", list(before), list(after)))
    return changes


def _between_fields(
    old: Mapping[str, Json], new: Mapping[str, Json], path: str, keys: Iterable[str] = ()
) -> list[Change]:
    return [
        change
        for key in keys or dict.fromkeys([*old, *new])
        for change in _between(old.get(key, ABSENT), new.get(key, ABSENT), path + join([key]))
    ]


def invert(changes: Sequence[Change]) -> list[Change]:
    """The changes that undo these."""
    return [Change(change.path, change.after, change.before) for change in reversed(changes)]


def apply(document: Json, changes: Sequence[Change], *, check: bool = True) -> Json:
    """The document after these changes, one after the other; the one given stays as it is.

    Orders of lists come last, whatever their place among the changes, when all items are there.

    Raises
    ------
    ClashError
        with ``check``, when a ``before`` does not hold; all such paths are told
    InputError
        when a path leads nowhere, or through a value that has no parts
    """
    writing = _Writing(document)
    clashes = []
    orders = [change for change in changes if _is_order(document, change.path)]
    for change in orders:
        found = value_at(document, change.path)
        if check and not same(found, change.before):
            clashes.append(Clash(change.path, change.before, change.after, found))
    for change in changes:
        if change in orders:
            continue
        found = value_at(writing.document, change.path)
        if check and not same(found, change.before):
            clashes.append(Clash(change.path, change.before, change.after, found))
        elif not clashes:
            writing.put(change.path, change.after)
    if clashes:
        raise ClashError(clashes)
    for change in orders:
        writing.order(change.path.removesuffix(f"/{ORDER}"), change.after)
    return writing.document


def _is_order(document: Json, path: str) -> bool:
    """Whether a path means the order of a keyed list, and not a field of that name."""
    parent = path.removesuffix(f"/{ORDER}")
    return parent != path and items_of(value_at(document, parent)) is not None


class _Writing:
    """A document being changed: only the dicts and lists on the way to a change are copied, and each of them once."""

    def __init__(self, document: Json) -> None:
        self.document = document
        self._ours: dict[int, Json] = {}

    def _own(self, value: Json) -> Json:
        if id(value) in self._ours:
            return value
        copy = dict(value) if isinstance(value, dict) else list(value)
        # Held, so that its identity is not given to another object.
        self._ours[id(copy)] = copy
        return copy

    def _parent(self, steps: list[str], path: str) -> Json:
        """The dict or keyed list at these steps, ours to change."""
        if not isinstance(self.document, dict | list):
            raise _nowhere(path, [])
        here = self.document = self._own(self.document)
        for depth, step in enumerate(steps, 1):
            key = _key_in(here, step)
            if key is None or not isinstance(here[key], dict | list):
                raise _nowhere(path, steps[:depth])
            here[key] = self._own(here[key])
            here = here[key]
        return here

    def put(self, path: str, value: Json | Absent) -> None:
        """Set or take away what stands at a path."""
        if not path:
            self.document = {} if value is ABSENT else value
            return
        *steps, last = split(path)
        parent = self._parent(steps, path)
        if isinstance(parent, dict):
            if last == "id" and steps and isinstance(value_at(self.document, join(steps[:-1])), list):
                raise InputError(f"{path} is what an item is known by and cannot change; add a new item instead")
            if value is ABSENT:
                parent.pop(last, None)
            else:
                parent[last] = value
            return
        if items_of(parent) is None:
            raise InputError(f"{join(steps)} is a list without ids; change it as a whole")
        if last == ORDER:
            self.order(join(steps), value)
            return
        if value is not ABSENT and (items_of([value]) is None or value["id"] != last):
            raise InputError(f"{path} needs an item whose id is '{last}'; give it that id")
        at = _key_in(parent, last)
        if value is ABSENT:
            if at is not None:
                del parent[at]
        elif at is None:
            parent.append(value)
        else:
            parent[at] = value

    def order(self, path: str, wanted: Json | Absent) -> None:
        """Bring a keyed list into an order; an item that is not named stays behind the one it stood behind."""
        steps = split(path)
        items = items_of(value_at(self.document, path))
        if items is None or not isinstance(wanted, list):
            # The whole list is gone, or it came as a whole and has its order.
            return
        parent = self._parent(steps, path)
        parent[:] = [items[key] for key in _threaded([key for key in wanted if key in items], list(items))]


def _key_in(here: Json, step: str) -> Any:
    """What a step is in a dict or a list: a name or an index; none when it is not there."""
    if isinstance(here, dict):
        return step if step in here else None
    found = (at for at, item in enumerate(here) if isinstance(item, dict) and item.get("id") == step)
    return next(found, None)


def _nowhere(path: str, steps: list[str]) -> InputError:
    return InputError(f"there is no place for {path}: {join(steps) or 'the document'} has no parts; add it first")


def merge(base: Json, mine: Json, theirs: Json, *, take: Mapping[str, Side] | None = None) -> Merge:
    """Both edits of ``base`` in one document, field by field.

    Parameters
    ----------
    take
        which side holds at a path that both changed
    """
    merging = _Merging(take or {})
    document = merging.of(base, mine, theirs, "")
    document = {} if document is ABSENT else document
    return Merge(document, changes_between(theirs, document), merging.clashes)


class _Merging:
    def __init__(self, take: Mapping[str, Side]) -> None:
        self.take = take
        self.clashes: list[Clash] = []

    def of(self, base: Json | Absent, mine: Json | Absent, theirs: Json | Absent, path: str) -> Json | Absent:
        if same(base, mine) or same(mine, theirs):
            return theirs
        if same(base, theirs):
            return mine
        if isinstance(mine, dict) and isinstance(theirs, dict):
            # Both may have added it: then nothing was there before.
            return self._fields(base if isinstance(base, dict) else {}, mine, theirs, path)
        ours, yours = items_of(mine), items_of(theirs)
        before = {} if base is ABSENT else items_of(base)
        if ours is not None and yours is not None and before is not None:
            items = self._fields(before, ours, yours, path)
            return [items[key] for key in self._order(before, ours, yours, items, path)]
        return self._choose(Clash(path, base, mine, theirs))

    def _choose(self, clash: Clash) -> Json | Absent:
        side = self.take.get(clash.path)
        if side is None:
            self.clashes.append(clash)
        return clash.mine if side == "mine" else clash.theirs

    def _fields(
        self, base: Mapping[str, Json], mine: Mapping[str, Json], theirs: Mapping[str, Json], path: str
    ) -> dict[str, Json]:
        merged = {
            key: self.of(base.get(key, ABSENT), mine.get(key, ABSENT), theirs.get(key, ABSENT), path + join([key]))
            for key in dict.fromkeys([*theirs, *mine])
        }
        return {key: value for key, value in merged.items() if value is not ABSENT}

    def _order(
        self,
        base: Mapping[str, Json],
        mine: Mapping[str, Json],
        theirs: Mapping[str, Json],
        there: Mapping[str, Json],
        path: str,
    ) -> list[str]:
        """The order of the items that are ``there``: whoever moved none of those that all know follows the other."""
        known = [key for key in base if key in mine and key in theirs and key in there]
        my_order, their_order = ([key for key in side if key in there] for side in (mine, theirs))
        my_known, their_known = ([key for key in side if key in known] for side in (my_order, their_order))
        if my_known in (known, their_known):
            leading, following = their_order, my_order
        elif their_known == known:
            leading, following = my_order, their_order
        else:
            chosen = self._choose(Clash(f"{path}/{ORDER}", list(base), my_order, their_order))
            leading, following = (my_order, their_order) if chosen is my_order else (their_order, my_order)
        return _threaded(leading, following)


def _threaded(leading: list[str], following: list[str]) -> list[str]:
    """``leading``, with what only ``following`` has put in behind its neighbour there."""
    result = list(leading)
    known = set(leading)
    last = None
    for key in following:
        if key not in known:
            result.insert(0 if last is None else result.index(last) + 1, key)
        last = key
    return result

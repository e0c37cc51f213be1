"""Kinds of equipment, ``facts/kit_kinds.toml`` and the show's own before it, and what an item comes to be of its kind.

An item's own words go before its kind's: a figure before a figure, a port before the port of the same id, a list of
ways, rates or radio powers before the kind's whole list.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

from rollsound.facts.rows import notes_of, read_rows, with_own
from rollsound.kit.model import Described, Kind, KitItem, KitPart, Port
from rollsound.wrong import Wrong, not_there

_TABLE = "kit_kinds"
_FIELDS = tuple(Described.model_fields)


@functools.cache
def table() -> dict[str, Kind]:
    """The table's kinds by id, in its order; not to be changed."""
    return read_rows(_TABLE, "kind", Kind)


def kinds_of(kit: KitPart) -> Mapping[str, Kind]:
    """All kinds by id; one of the show goes before the table's with its id."""
    return with_own(table(), kit.kinds) if kit.kinds else table()


def resolved(item: KitItem, kinds: Mapping[str, Kind]) -> Kind:
    """What an item is: its own words, and its kind's where it has none.

    The answer has the kind's id, or an empty one where the item names no kind, or one that is not there (which
    ``models_wrong`` tells). Its name is the item's.
    """
    kind = kinds.get(item.model) if item.model else None
    own = _own(item)
    if kind is not None and not own:
        return kind.model_copy(update={"name": item.name})
    words: dict[str, Any] = {name: getattr(kind if kind is not None else item, name) for name in _FIELDS}
    words |= own
    if (
        "draw_w" in own and "draw_by_power" not in own
    ):  # measured on this very item: the kind's figures do not follow it
        words["draw_by_power"] = ()
    if kind is not None and item.ports:
        words["ports"] = _joined(kind.ports, item.ports)
    return Kind.model_construct(
        id=kind.id if kind is not None else "",
        name=item.name,
        category=item.kind or (kind.category if kind is not None else ""),
        note=item.note or (kind.note if kind is not None else ""),
        source=kind.source if kind is not None else "",
        status=kind.status if kind is not None else "own",
        **words,
    )


def models_wrong(kit: KitPart) -> list[Wrong]:
    """Items whose kind is neither in the table nor in the show."""
    kinds = kinds_of(kit)
    return [
        Wrong(("kit", "items", item.id, "model"), not_there(item.model, "the kind", kinds))
        for item in kit.items
        if item.model and item.model not in kinds
    ]


def notes() -> tuple[str, ...]:
    """What the reader of the table must be told."""
    return notes_of(_TABLE)


def _own(item: KitItem) -> dict[str, Any]:
    """What the item says itself."""
    said = {name: getattr(item, name) for name in _FIELDS}
    return {name: value for name, value in said.items() if value is not None and value != ()}


def _joined(of_kind: tuple[Port, ...], of_item: tuple[Port, ...]) -> tuple[Port, ...]:
    """The kind's ports in their order, the item's in place of those with its ids, and what only the item has."""
    own = {port.id: port for port in of_item}
    return (*(own.pop(port.id, port) for port in of_kind), *own.values())

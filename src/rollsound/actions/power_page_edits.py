"""Edits of parts of the plan that the pages *Power* and *Kit* make: fields of one item, items added and taken out.

Values are written as people write them; a value of None, or an empty text, takes its field out.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from rollsound.actions.radio_page_edits import new_id
from rollsound.errors import InputError

Document = dict[str, Any]


def put(document: Document, steps: Sequence[str], values: Mapping[str, Any]) -> Document:
    """The document with fields of a part, or of an item in it, set.

    Parameters
    ----------
    steps
        the part, then names of lists and ids of items in turn: ``("power", "supplies", "cart", "feeds", "recorder")``

    Raises
    ------
    InputError
        when there is no such item
    """
    made = copy.deepcopy(document)
    _set(_at(made, steps), values)
    return made


def add(document: Document, steps: Sequence[str], name: str, values: Mapping[str, Any]) -> Document:
    """The document with an item added at the end of a list, under a new id made of its name."""
    made = copy.deepcopy(document)
    listed = _at(made, steps[:-1]).setdefault(steps[-1], [])
    item: Document = {"id": new_id(name, [str(each.get("id")) for each in listed])}
    _set(item, values)
    listed.append(item)
    return made


def take_out(document: Document, steps: Sequence[str]) -> Document:
    """The document without one item.

    Raises
    ------
    InputError
        when there is no such item, or something else of the plan needs it
    """
    made = copy.deepcopy(document)
    item = _at(made, steps)
    users = _users(made, steps)
    if users:
        raise InputError(f"'{steps[-1]}' is used by {', '.join(users[:6])}; change that first, then take it out")
    listed = _at(made, steps[:-2])[steps[-2]]
    listed.remove(item)
    return made


def _set(item: Document, values: Mapping[str, Any]) -> None:
    for name, value in values.items():
        if value is None or value == "" or value == []:
            item.pop(name, None)
        elif isinstance(value, Mapping):
            inner = item.setdefault(name, {})
            _set(inner, value)
            if not inner:
                item.pop(name)
        else:
            item[name] = value


def _at(document: Document, steps: Sequence[str]) -> Document:
    here: Any = document.setdefault(steps[0], {})
    for name, id in zip(steps[1::2], steps[2::2], strict=True):
        found = [each for each in here.get(name) or [] if isinstance(each, dict) and str(each.get("id")) == id]
        if not found:
            raise InputError(f"the plan has no '{id}' there any more; look at the page again")
        here = found[0]
    item: Document = here
    return item


def _users(document: Document, steps: Sequence[str]) -> list[str]:
    """Names of what needs an item that is to be taken out."""
    part, where, id = steps[0], steps[-2], steps[-1]
    power: Document = document.get("power") or {}
    supplies: list[Document] = power.get("supplies") or []
    found: list[Document] = []
    if (part, where) == ("power", "batteries"):
        found = [each for each in supplies if each.get("battery") == id]
    elif (part, where) == ("power", "supplies"):
        found = [each for each in supplies if each.get("from_supply") == id]
        found += [each for each in power.get("phases") or [] if id in (each.get("supplies") or ())]
    elif (part, where) == ("kit", "items"):
        pieces = (document.get("rig") or {}).get("pieces") or []
        found = [each for each in pieces if (each.get("item") or each.get("id")) == id]
        for supply in supplies:
            if supply.get("item") == id or any(feed.get("item") == id for feed in supply.get("feeds") or ()):
                found.append(supply)
        kit: Document = document.get("kit") or {}
        found += [each for each in kit.get("moves") or [] if each.get("load") == id]
        found += [each for each in kit.get("raised") or [] if id in (each.get("item"), *(each.get("carries") or ()))]
    return [str(each.get("name") or each.get("id")) for each in found]

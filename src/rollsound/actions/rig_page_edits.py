"""Edits of the plan's rig that its page makes: fields of an item set, items added and taken out.

Every one becomes the smallest set of journalled changes. An edit that would leave an end or a name without its other
side is refused with what is wrong, so that the rig on the page can always be put together as far as before.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

from rollsound.errors import InputError
from rollsound.wrong import raise_all

if TYPE_CHECKING:
    from rollsound.show.model import Plan

Document = dict[str, Any]
Listed = Literal["pieces", "links", "streams", "routes"]


def put(document: Document, listed: Listed, id: str, values: Mapping[str, Any]) -> Document:
    """The document with fields of one item of the rig set; an empty value takes the field out.

    Raises
    ------
    InputError
        when there is no such item
    """
    made = _copied(document)
    item = _item(made, listed, id)
    for name, value in values.items():
        if value in (None, ""):
            item.pop(name, None)
        else:
            item[name] = value
    return made


def add(document: Document, listed: Listed, item: Document) -> Document:
    """The document with an item at the end of one of the rig's lists.

    Raises
    ------
    InputError
        when there is one of that id
    """
    made = _copied(document)
    rows = _list(made, listed)
    if any(_id(each) == item["id"] for each in rows):
        raise InputError(f"there is already one called '{item['id']}'; give it another name")
    rows.append({name: value for name, value in item.items() if value not in (None, "")})
    return made


def take_out(document: Document, listed: Listed, id: str) -> Document:
    """The document without one item of the rig, and without its name in the positions of changeovers.

    Raises
    ------
    InputError
        when there is no such item
    """
    made = _copied(document)
    _list(made, listed).remove(_item(made, listed, id))
    for changeover in _rig(made).get("changeovers") or []:
        for position in changeover.get("positions") or []:
            if id in (position.get(listed) or []):
                position[listed] = [each for each in position[listed] if each != id]
                if not position[listed]:
                    del position[listed]
    return made


def refuse_worse(before: Document, made: Document, plan: Plan | None = None) -> None:
    """Tell what an edit would break in the rig; what was wrong before it is not its fault.

    Parameters
    ----------
    plan
        what ``before`` is, where that is known already

    Raises
    ------
    MistakesError
        with every new mistake
    """
    from rollsound.actions.rig import rig_of
    from rollsound.show.checked import checked

    stood = plan or checked(before)
    wrong = rig_of(checked(made, known=(before, stood))).wrong
    if wrong:
        known = set(rig_of(stood).wrong)
        raise_all([each for each in wrong if each not in known], "the rig")


def ids_in(document: Document, listed: Listed) -> list[str]:
    """The ids of one of the rig's lists."""
    return [_id(each) for each in _list(_copied(document), listed)]


def _copied(document: Document) -> Document:
    """The document with a rig of its own; its other parts are the very same, so that they are not read again."""
    return {**document, "rig": copy.deepcopy(document.get("rig") or {})}


def _rig(document: Document) -> Document:
    if not isinstance(document.get("rig"), dict):
        document["rig"] = {}
    rig: Document = document["rig"]
    return rig


def _list(document: Document, listed: Listed) -> list[Any]:
    rig = _rig(document)
    if not isinstance(rig.get(listed), list):
        rig[listed] = []
    rows: list[Any] = rig[listed]
    return rows


def _id(item: Any) -> str:
    return str(item.get("id")) if isinstance(item, dict) else ""


def _item(document: Document, listed: Listed, id: str) -> Document:
    for each in _list(document, listed):
        if _id(each) == id:
            found: Document = each
            return found
    raise InputError(f"the rig has no '{id}' in its {listed} any more; look at the page again")


def with_example(document: Document, example: Document) -> Document:
    """The document with the rig of another and the kit that it needs; items of the same id stay as they are.

    Raises
    ------
    InputError
        when there is a rig already
    """
    if any((document.get("rig") or {}).get(name) for name in ("pieces", "links", "routes", "tracks", "feeds")):
        raise InputError("the plan has a rig already; the example is for an empty one")
    made = {**document, "rig": {**(document.get("rig") or {}), **copy.deepcopy(example["rig"])}}
    kit = copy.deepcopy(document.get("kit") or {})
    for name in ("kinds", "items"):
        rows = [*(kit.get(name) or [])]
        there = {_id(each) for each in rows}
        rows += [each for each in example["kit"].get(name) or [] if _id(each) not in there]
        if rows:
            kit[name] = rows
    senders = {_id(each) for each in (document.get("radio") or {}).get("transmitters") or []}
    for piece in made["rig"]["pieces"]:
        if piece.get("transmitter") not in senders:
            piece.pop("transmitter", None)
    return {**made, "kit": kit}

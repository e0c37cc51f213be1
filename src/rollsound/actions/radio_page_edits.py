"""Edits of the plan's radio part that the pages *Radio* and *Reach* make: single fields, items added and taken out.

Every one becomes the smallest set of journalled changes. Frequencies, powers and places are written as people write
them.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rollsound.errors import InputError
from rollsound.log.changes import changes_between

if TYPE_CHECKING:
    from rollsound.log.model import Author, Head
    from rollsound.show.folder import Guard, Saved, Show

Document = dict[str, Any]


def frequency_text(hz: int) -> str:
    """A carrier as the plan has it: ``614.250 MHz``, with more digits only where they say something."""
    whole, rest = divmod(hz, 1_000_000)
    digits = f"{rest:06d}"
    return f"{whole}.{digits[:3] + digits[3:].rstrip('0')} MHz"


def power_text(power_mw: float) -> str:
    """A power as the plan has it."""
    return f"{power_mw:g} mW"


def place_text(x_m: float, y_m: float) -> str:
    """A place on a drawing as the plan has it, to the centimetre."""
    return f"{round(x_m, 2):g}, {round(y_m, 2):g} m"


def put(document: Document, steps: Sequence[str], values: Mapping[str, Any]) -> Document:
    """The document with fields of one item of the radio part set; a value of None takes the field out.

    Parameters
    ----------
    steps
        names of lists and ids of items in turn: ``("grounds", "car-deck", "antennas", "left")``

    Raises
    ------
    InputError
        when there is no such item
    """
    made = copy.deepcopy(document)
    item = _item(made, steps)
    for name, value in values.items():
        if value is None:
            item.pop(name, None)
        else:
            item[name] = value
    return made


def add(document: Document, steps: Sequence[str], item: Document) -> Document:
    """The document with an item added at the end of a list of the radio part; ``steps`` ends with the list's name."""
    made = copy.deepcopy(document)
    parent = _item(made, steps[:-1])
    listed = parent.setdefault(steps[-1], [])
    if any(each.get("id") == item["id"] for each in listed):
        raise InputError(f"there is already one called '{item['id']}'; give it another name")
    listed.append(item)
    return made


def take_out(document: Document, steps: Sequence[str]) -> Document:
    """The document without one item of the radio part."""
    made = copy.deepcopy(document)
    item = _item(made, steps)
    _item(made, steps[:-2])[steps[-2]].remove(item)
    return made


def new_id(name: str, taken: Sequence[str]) -> str:
    """An id for an item of this name that no other has."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:48] or "one"
    number, made = 1, plain
    while made in taken:
        number += 1
        made = f"{plain}-{number}"
    return made


def ids_in(document: Document, steps: Sequence[str]) -> list[str]:
    """The ids of a list of the radio part."""
    return [str(each.get("id")) for each in _item(document, steps[:-1]).get(steps[-1]) or []]


def save(
    show: Show, head: Head, made: Document, author: Author, key: str, guard: Guard | None, sentence: str = ""
) -> Saved | None:
    """Save what an edit made of the plan as it was at ``head``; none when it changes nothing.

    Raises
    ------
    ClashError
        when somebody else changed the same since
    MistakesError
        when the plan would have mistakes
    """
    changes = changes_between(head.document, made)
    if not changes:
        return None
    return show.edit(changes, author, sentence=sentence, key=key, base_revision=head.revision, guard=guard)


def _item(document: Document, steps: Sequence[str]) -> Document:
    here: Any = document.setdefault("radio", {})
    for name, id in zip(steps[::2], steps[1::2], strict=True):
        found = [each for each in here.get(name) or [] if isinstance(each, dict) and str(each.get("id")) == id]
        if not found:
            raise InputError(f"the plan has no '{id}' there any more; look at the page again")
        here = found[0]
    item: Document = here
    return item

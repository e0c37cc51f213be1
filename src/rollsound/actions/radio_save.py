"""Frequencies saved where they were asked for: journalled in a show, or in the text itself, its comments kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rollsound.actions.radio_model import Saved
from rollsound.actions.radio_page_edits import frequency_text
from rollsound.actions.radio_read import Asked
from rollsound.actions.radio_writing import write_changes
from rollsound.errors import InputError
from rollsound.log.changes import ABSENT, Change, join, value_at
from rollsound.quantities import count


def save_frequencies(
    asked: Asked,
    carriers_hz: Mapping[str, int],
    spares_hz: Mapping[str, tuple[int, ...]],
    sentence: str,
    name: str,
    *,
    wanted: Mapping[str, int] | None = None,
) -> Saved:
    """Write carriers and spares into the radio part, and how many spares are ``wanted``, of those that are named.

    A transmitter without a carrier keeps what is written: nothing is lost because no room was found.

    Raises
    ------
    InputError
        for a bare request, which has no place for them
    ClashError
        when somebody changed the same frequencies since they were read
    StorageError
        when the disk fails
    """
    refuse_request(asked)
    values = {
        each.id: {
            "frequency": frequency_text(carriers_hz[each.id]) if each.id in carriers_hz else None,
            "spare_frequencies": [frequency_text(hz) for hz in spares_hz[each.id]] if each.id in spares_hz else None,
            "spares_wanted": (wanted or {}).get(each.id),
        }
        for each in asked.task.wanted
    }
    changed = _changed(asked, values)
    if not changed:
        told = f"{asked.path} has these frequencies already; nothing was to change."
        saved = Saved(path=str(asked.path), sentence=told, revision=asked.revision)
    else:
        told = f"{sentence}: {count(len(changed), 'transmitter')} changed"
        saved = write_changes(asked, _changes(asked, changed), told, name, count=len(changed))
    old = [
        t.name
        for t in asked.radio.transmitters
        if carriers_hz and t.frequency_hz and t.id in values and t.id not in carriers_hz
    ]
    return saved.model_copy(update={"sentence": saved.sentence + _left(old)}) if old else saved


def refuse_request(asked: Asked) -> None:
    """Raise InputError for a bare request, which has no place for frequencies."""
    if asked.form == "request":
        raise InputError(
            f"{asked.path.name} is a request, with no place for frequencies; write them beside it with --csv, or take "
            "them from --json"
        )


def _left(names: Sequence[str]) -> str:
    """What is to be done with those that have no room, and an old frequency that nothing was cleared of."""
    first = f"{', '.join(names[:3])}{f' and {len(names) - 3} more' if len(names) > 3 else ''}"
    one = len(names) == 1
    return (
        f" {first} {'keeps its old frequency, which is' if one else 'keep their old frequencies, which are'} not clear "
        f"of these: leave {'it' if one else 'them'} switched off."
    )


def _changed(asked: Asked, values: Mapping[str, Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    """By transmitter what is to be written otherwise: a frequency that is only written in other words stays."""
    changed: dict[str, dict[str, Any]] = {}
    for transmitter in asked.radio.transmitters:
        wished = values.get(transmitter.id, {})
        freq, spares = wished.get("frequency"), wished.get("spare_frequencies")
        has = transmitter.frequency_hz
        new: dict[str, Any] = {}
        if freq is not None and (has is None or frequency_text(round(has)) != freq):
            new["frequency"] = freq
        if spares is not None and [frequency_text(round(hz)) for hz in transmitter.spare_frequencies] != spares:
            new["spare_frequencies"] = spares
        number = wished.get("spares_wanted")
        if number is not None and number != transmitter.spares_wanted:
            new["spares_wanted"] = number
        if new:
            changed[transmitter.id] = new
    return changed


def _changes(asked: Asked, changed: Mapping[str, Mapping[str, Any]]) -> list[Change]:
    changes = []
    for id, fields in changed.items():
        for field, value in fields.items():
            path = join(["radio", "transmitters", id, field])
            changes.append(Change(path, value_at(asked.document, path), value if value != [] else ABSENT))
    return changes

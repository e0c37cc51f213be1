"""The same field changed by two people: who, when, and both values, so that a person can choose."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from rollsound.log.changes import ORDER, Clash
from rollsound.log.changes import ClashError as PlainClashError
from rollsound.log.model import Entry
from rollsound.log.store import Store
from rollsound.show.sentences import place_in_words, value_in_words

_MOST = 3


@dataclass(frozen=True)
class NamedClash(Clash):
    """A clash, with who made the other change and when, and the field's name for people."""

    their_person: str = ""
    their_time: datetime | None = None
    field: str = ""


class ClashError(PlainClashError):
    """Fields that somebody else changed in the meantime; nothing was saved. All of them are in ``clashes``."""

    clashes: tuple[NamedClash, ...]

    def __init__(self, clashes: Sequence[NamedClash], mine: str) -> None:
        told = "; ".join(_told(clash, mine) for clash in clashes[:_MOST])
        more = f"; and {len(clashes) - _MOST} more" if len(clashes) > _MOST else ""
        super().__init__(clashes, f"{told}{more}. Nothing was saved; choose which holds")


def _told(clash: NamedClash, mine: str) -> str:
    who = clash.their_person or "somebody else"
    return (
        f"{clash.field or clash.path}: {who} has made it {value_in_words(clash.theirs)}, "
        f"{mine or 'you'} would make it {value_in_words(clash.mine)}"
    )


def named(clashes: Iterable[Clash], store: Store, document: Any, mine: str) -> ClashError:
    """The error that tells of these clashes.

    Parameters
    ----------
    document
        as it is now
    mine
        the name of the person whose edit it is
    """
    told = []
    for clash in clashes:
        entry = _last_change(store, clash.path)
        told.append(
            NamedClash(
                clash.path,
                clash.base,
                clash.mine,
                clash.theirs,
                entry.author.person if entry else "",
                entry.at if entry else None,
                place_in_words(clash.path, document),
            )
        )
    return ClashError(told, mine)


def _last_change(store: Store, path: str) -> Entry | None:
    """The newest entry that touched a path; for an order, whatever touched the list."""
    found = store.journal(path=path, limit=1) or store.journal(path=path.removesuffix(f"/{ORDER}"), limit=1)
    return found[0] if found else None

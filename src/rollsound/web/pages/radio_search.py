"""A search for carriers as the page shows it: how far it is, what it found, what taking it would change."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from rollsound.actions import radio_page
from rollsound.actions.radio_page_search import Search, searches_of
from rollsound.errors import RollsoundError
from rollsound.web.desk import Desk
from rollsound.web.pages.radio_rows import margin_text, megahertz
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w


@dataclass(frozen=True)
class FoundChange:
    """What a search changes of one transmitter."""

    name: str
    now: str
    found: str
    spares: str


@dataclass(frozen=True)
class NotPlaced:
    """A transmitter without a carrier, and what would let it in."""

    name: str
    why: str
    relaxations: tuple[str, ...]


@dataclass(frozen=True)
class SearchShown:
    """A search in words."""

    id: str
    under_way: bool
    percent: int
    sentence: str
    changes: tuple[FoundChange, ...] = ()
    unplaced: tuple[NotPlaced, ...] = ()
    may_take: bool = False
    person: str = ""
    old: bool = False


def search_values(desk: Desk, visitor: Visitor) -> dict[str, Any]:
    """What templates need; only who plans sees a search."""
    if not visitor.may(Right.PLAN):
        return {"search": None}
    searches = searches_of(desk.show)
    plan = desk.plan()
    if plan is not None and plan.radio.transmitters and not desk.show.read_only:
        searches.get_ready()
    now = searches.now
    return {"search": replace(shown(desk, now), person=now.person) if now is not None else None}


def shown(desk: Desk, search: Search) -> SearchShown:
    """A search as it is now."""
    if search.under_way:
        key = "search_stopping" if search.state == "stopping" else "search_under_way"
        sentence = w("radio.search_begins") if not search.placed else w(f"radio.{key}", **_figures(search))
        return SearchShown(search.id, True, _percent(search), sentence)
    if search.result is None:
        return SearchShown(search.id, False, 100, w("radio.search_failed", why=search.problem))
    try:
        state = radio_page.state_of(desk.show, search.site)
    except RollsoundError as error:
        return SearchShown(search.id, False, 100, w("radio.search_failed", why=error.sentence))
    names = {each.id: each.wearer or each.name for each in state.question.radio.transmitters}
    changes = tuple(_changes(state, search.result, names))
    parts = [w("radio.search_found", **_figures(search)) if search.placed else w("radio.verdict_none", n=search.wanted)]
    moved = len(search.result["moved"])
    parts.append(w("radio.search_moved", n=moved) if moved else w("radio.search_moved_none"))
    if search.result["proved"]:
        parts.append(w("radio.search_most" if search.result["unplaced"] else "radio.search_proved"))
    if search.result["stopped"]:
        parts.append(w("radio.search_stopped"))
    if search.result["bound"]:
        parts.append(f"{search.result['bound'][:1].upper()}{search.result['bound'][1:].rstrip('.')}.")
    old = search.revision != state.question.revision
    return SearchShown(
        search.id,
        False,
        100,
        " ".join(parts),
        changes,
        tuple(_unplaced(search.result, names)),
        may_take=bool(changes) and not old,
        old=old,
    )


def _figures(search: Search) -> dict[str, object]:
    return {"placed": search.placed, "n": search.wanted, "margin": margin_text(search.margin_hz)}


def _percent(search: Search) -> int:
    return min(99, round(100 * search.elapsed_s / max(search.seconds, 0.1)))


def _changes(state: radio_page.State, result: dict[str, Any], names: dict[str, str]) -> list[FoundChange]:
    now = {each.id: each for each in state.question.transmitters}
    found = []
    for id, hz in result["carriers_hz"].items():
        each = now.get(id)
        before = round(each.frequency_hz) if each is not None and each.frequency_hz is not None else None
        had = [round(spare) for spare in each.spare_frequencies] if each is not None else []
        spares = result["spares_hz"].get(id, had)
        if before == hz and spares == had:
            continue
        told = ", ".join(megahertz(spare) for spare in spares)
        found.append(FoundChange(names.get(id, id), megahertz(before) if before else "", megahertz(hz), told))
    return found


def _unplaced(result: dict[str, Any], names: dict[str, str]) -> list[NotPlaced]:
    return [
        NotPlaced(
            names.get(each["id"], each["id"]),
            each["why"],
            tuple(
                w("radio.relax", what=r["what"], frequency=w("radio.mhz", n=megahertz(r["freq_hz"])))
                for r in each["relaxations"]
            ),
        )
        for each in result["unplaced"]
    ]

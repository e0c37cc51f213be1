"""Rig: does everything arrive, what a changeover asks of hands, where a source runs, and what a failure costs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from markupsafe import Markup

from rollsound.actions import rig_page
from rollsound.errors import RollsoundError
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.folders import mistakes_told
from rollsound.web.page import Badge
from rollsound.web.pages import page_of
from rollsound.web.problems import missing
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.rig_model import ChangeRow
    from rollsound.rig.combining import Combination
    from rollsound.rig.model import RigPart

SHOWN_LOSSES = 12
PAGE = page_of("rig")
router = APIRouter(include_in_schema=False)
Part = Literal["answer", "tools", "change", "choose", "now", "arrives", "proofs", "lists"]
Text = Annotated[str, Query(max_length=2000)]
With = Annotated[str, Query(alias="with", max_length=4000)]
LISTS = ("pieces", "links", "streams", "routes")
_SLOW = ("answer", "proofs")


def badge(desk: Desk) -> Badge | None:
    """What would stop the roll; none while nobody has looked, since the proofs take a moment."""
    state = rig_page.kept_state(desk.show)
    if state is None or not state.proven:
        return None
    stops = sum(each.weight.value == "stop" for each in state.findings)
    return Badge(stops, "stop") if stops else None


@router.get(PAGE.path)
def page(
    request: Request,
    desk: TheDesk,
    visitor: TheVisitor,
    combination: With = "",
    flip: Text = "",
    source: Text = "",
    failed: Text = "",
) -> Response:
    """The whole page; what the proofs say comes after it where they have not run yet."""
    values = _values(desk, visitor, combination, flip, source, failed)
    return render(request, "rig.html", page=PAGE, **values)


@router.get("/pages/rig/part/form", dependencies=[needs(Right.PLAN)])
def form_part(
    request: Request,
    desk: TheDesk,
    visitor: TheVisitor,
    listed: Literal["pieces", "links", "streams", "routes"] = "links",
    id: Text = "",
) -> Response:
    """The form of one item of the rig, or of a new one."""
    revision, plan = desk.show.store.head().revision, desk.show.plan()
    rows = getattr(plan.rig, listed)
    written = _written(desk, listed, id)
    if id and not written:
        raise missing(w("rig.gone", name=id))
    return render(
        request,
        "parts/rig_form.html",
        listed=listed,
        item=next((each for each in rows if each.id == id), None),
        written=written,
        revision=revision,
        **_completions(rig_page.state_of(desk.show), listed, written),
    )


@router.get("/pages/rig/part/{part}")
def part(
    request: Request,
    desk: TheDesk,
    visitor: TheVisitor,
    part: Part,
    combination: With = "",
    flip: Text = "",
    source: Text = "",
    failed: Text = "",
    all: Text = "",
) -> Response:
    """One part as it is now; the proofs are waited for where it tells of them."""
    state = _state(desk)
    if part != "answer" and (state is None or (part != "lists" and not state.rig.pieces)):
        return Response(status_code=204)  # the rig was taken out while the page was open: the answer tells
    if part in _SLOW and state is not None and state.rig.pieces:
        state.prove()
    values = _values(desk, visitor, combination, flip, source, failed, all_losses=bool(all), only=part)
    return render(request, f"parts/rig_{part}.html", **values)


def _state(desk: Desk) -> rig_page.State | None:
    return rig_page.state_of(desk.show) if desk.plan() is not None else None


def _values(
    desk: Desk,
    visitor: Visitor,
    combination: str,
    flip: str,
    source: str,
    failed: str,
    *,
    all_losses: bool = False,
    only: Part | Literal[""] = "",
) -> dict[str, Any]:
    """What the page or one of its parts shows."""
    from rollsound.web.pages import rig_rows

    revision = desk.show.store.head().revision  # first: a change meanwhile is then a clash, never lost
    state = _state(desk)
    values: dict[str, Any] = {
        "revision": revision,
        "readable": state is not None,
        "may_plan": visitor.may(Right.PLAN) and not desk.show.read_only and state is not None,
        "state": state,
        "proven": state is not None and state.proven,
        "wired": state is not None and bool(state.rig.pieces),
        "verdict": rig_rows.verdict_of(state) if state is not None else w("frame.unreadable"),
        "lede": rig_rows.lede_of(state) if state is not None else w("frame.unreadable_lede"),
        "mistakes": (),
    }
    if state is None:
        return values
    wrong = [(each.place, f"{each.sentence[:1].upper()}{each.sentence[1:].rstrip('.')}.") for each in state.rig.wrong]
    values["mistakes"] = mistakes_told(visitor, wrong, desk.show.folder)
    if not state.rig.pieces:
        return values
    chosen = combination_of(state.rig.part, combination)
    source = source if source in state.rig.sources else ""
    failed = failed if failed and state.is_there(failed) else ""
    values |= {
        "combination": chosen,
        "with_text": ", ".join(f"{name}={position}" for name, position in chosen.items()),
        "flip": flip,
        "source": source,
        "failed": failed,
        "changeovers": state.rig.part.changeovers,
    }
    if only in ("", "choose"):
        values |= _choices(state)
    if only in ("", "change"):
        values["change"] = _change(state, flip)
    if only in ("", "now"):
        values |= _now(state, chosen, source, failed)
    if only in ("", "arrives"):
        values |= {
            "tracks": rig_rows.tracks_of(state, chosen),
            "listeners": rig_rows.listeners_of(state, chosen),
            "combination_in_words": _in_words(state, chosen),
        }
    if only in ("", "proofs"):
        values |= _proofs(state, all_losses)
    return values


def combination_of(part: RigPart, text: str) -> Combination:
    """A combination as the page writes it. What the plan no longer has is left out: its first position is shown."""
    chosen = {each.id: each.positions[0].id for each in part.changeovers}
    there = {each.id: {position.id for position in each.positions} for each in part.changeovers}
    for each in text.split(","):
        name, _, position = (one.strip() for one in each.partition("="))
        if position in there.get(name, ()):
            chosen[name] = position
    return chosen


def _in_words(state: rig_page.State, chosen: Combination) -> str:
    from rollsound.rig.combining import in_words

    return in_words(chosen, state.rig.part.changeovers)


def _choices(state: rig_page.State) -> dict[str, Any]:
    from rollsound.actions.rig import supplies_of
    from rollsound.web.pages.rig_rows import source_name

    rig = state.rig
    at: dict[str, list[str]] = {}
    for id, spots in rig.sources.items():
        for piece in dict.fromkeys(rig.spots[spot].piece for spot in spots):
            at.setdefault(piece, []).append(id)
    names = {supply.id: supply.name or supply.id for supply in state.plan.power.supplies}
    return {
        "sources": [(id, source_name(state, id)) for id in rig.sources],
        "pieces": [(id, rig.name_of(id)) for id in rig.pieces],
        "links": [(each.id, _link_words(state, each.from_, each.to)) for each in rig.part.links],
        "streams": [(each.id, each.name or each.id) for each in rig.part.streams],
        "supplies": [(id, names[id]) for id in supplies_of(state.plan)],
        "sources_at": at,
    }


def _link_words(state: rig_page.State, *ends: str) -> str:
    one, other = (state.rig.name_of(end.partition(":")[0].strip()) for end in ends)
    return w("rig.from_to", one=one, other=other)


def _change(state: rig_page.State, flip: str) -> ChangeRow | None:
    from rollsound.web.pages import rig_rows

    try:
        return rig_rows.change_of(state, flip)
    except RollsoundError:  # the plan has changed since: there is nothing to tell any more
        return None


def _now(state: rig_page.State, chosen: Combination, source: str, failed: str) -> dict[str, Any]:
    from rollsound.web.pages import rig_rows

    return {
        "drawing": Markup(without_style(state.drawing(rig_page.Asked(chosen, source, failed)))),
        "paths": rig_rows.paths_of(state, source, chosen) if source else [],
        "source_name": rig_rows.source_name(state, source) if source else "",
        "loss": rig_rows.loss_of(state, failed) if failed else None,
        "names": _names(state),
        "combination_in_words": _in_words(state, chosen),
    }


def _names(state: rig_page.State) -> dict[str, dict[str, str]]:
    """What tracks and listeners are called, by ``track`` and ``feed``."""
    rig = state.rig
    return {
        "track": {id: f"{row.number} {row.name}" for id, row in rig.track_rows.items()},
        "feed": {id: row.listener for id, row in rig.feed_rows.items()},
    }


def _proofs(state: rig_page.State, all_losses: bool) -> dict[str, Any]:
    from rollsound.web.pages import rig_rows

    if not state.proven:
        return {"changes": [], "losses": [], "more_losses": 0, "findings": [], "holds": [], "names": _names(state)}
    losses = rig_rows.losses_of(state)
    shown = losses if all_losses else losses[:SHOWN_LOSSES]
    return {
        "changes": rig_rows.changes_of(state),
        "losses": shown,
        "more_losses": len(losses) - len(shown),
        "findings": rig_rows.weighing(state.findings),
        "holds": rig_rows.holding(state.findings),
        "names": _names(state),
    }


def without_style(svg: str) -> str:
    """The drawing without its own style sheet, which a page's rules refuse; the page's css has the same rules."""
    before, opened, rest = svg.partition("<style>")
    _, closed, after = rest.partition("</style>")
    return f"{before}{after}" if opened and closed else svg


def _completions(state: rig_page.State, listed: str, written: dict[str, Any]) -> dict[str, Any]:
    """Ends, items and pieces that fields are completed with."""
    from rollsound.rig.ends import TRACK

    rig = state.rig
    if listed == "routes":
        inside = rig.pieces.get(str(written.get("piece", "")))
        of = [inside] if inside is not None else list(rig.pieces.values())
        ends = list(dict.fromkeys([*(port for piece in of for port in piece.ports), TRACK]))
    else:
        ends = [f"{piece.id}:{port}" for piece in rig.pieces.values() for port in piece.ports]
    return {
        "ends": ends,
        "items": [(each.id, each.name) for each in state.plan.kit.items],
        "pieces": [(id, rig.name_of(id)) for id in rig.pieces],
    }


def _written(desk: Desk, listed: str, id: str) -> dict[str, Any]:
    """An item as it is written, with its units."""
    rows: Iterable[Any] = (desk.show.document().get("rig") or {}).get(listed) or ()
    return next((each for each in rows if isinstance(each, dict) and each.get("id") == id), {})

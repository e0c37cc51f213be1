"""Power: does it carry the day, when batteries are changed, what a change would do, and the rows that say so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import power_page
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.page import Badge
from rollsound.web.pages import page_of, power_forms
from rollsound.web.pages.power_rows import (
    charges_of,
    day_words,
    ends_of,
    lanes_of,
    lede_of,
    verdict_of,
    weighing_of,
)
from rollsound.web.problems import missing
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.power_model import PowerResult
    from rollsound.show.model import Plan

PAGE = page_of("power")
router = APIRouter(include_in_schema=False)
Which = Literal["batteries", "supplies", "feeds", "phases", "sockets"]
Part = Literal["answer", "tables", "try"]
_FIELDS: Mapping[Which, Sequence[power_forms.Field]] = {
    "batteries": power_forms.BATTERY,
    "supplies": power_forms.SUPPLY,
    "feeds": power_forms.FEED,
    "phases": power_forms.PHASE,
    "sockets": power_forms.SOCKET,
}


def badge(desk: Desk) -> Badge | None:
    """Stops of the hardest day; none while nobody has looked."""
    result = power_page.known(desk.show) if desk.plan() is not None else None
    stops = sum(each.weight is Weight.STOP for each in result.findings) if result is not None else 0
    return Badge(stops, "stop") if stops else None


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, day: str = "") -> Response:
    """The whole page, on one day or on the hardest."""
    return render(request, "power.html", page=PAGE, **_values(desk, visitor, day))


@router.get("/pages/power/part/{part}")
def part(request: Request, desk: TheDesk, visitor: TheVisitor, part: Part, day: str = "") -> Response:
    """The answer, the rows that can be changed, or what can be tried, as they are now."""
    return render(request, f"parts/power_{part}.html", **_values(desk, visitor, day))


@router.get("/pages/power/form/{which}")
def form(request: Request, desk: TheDesk, visitor: TheVisitor, which: Which, id: str = "", of: str = "") -> Response:
    """The form of one row; of a new one without an id. ``of`` is the supply that feeds."""
    if not visitor.may(Right.PLAN) or desk.show.read_only:
        raise missing(w("power.reading_only"))
    head, plan = desk.show.store.head(), desk.show.plan()
    power = head.document.get("power") or {}
    listed = power.get(which)
    address = f"/api/v1/power/{which}"
    if which == "feeds":
        supply = next((each for each in power.get("supplies") or [] if each.get("id") == of), None)
        if supply is None:
            raise missing(w("power.no_such_row", id=of))
        listed, address = supply.get("feeds"), f"/api/v1/power/supplies/{of}/feeds"
    item = next((each for each in listed or [] if str(each.get("id")) == id), None)
    if id and item is None:
        raise missing(w("power.no_such_row", id=id))
    return render(
        request,
        "parts/power_form.html",
        area="power",
        title=_title(which, item, of, plan),
        fields=power_forms.filled(_FIELDS[which], item or {}, _choices(plan, id), w("power.none_of_them")),
        revision=head.revision,
        address=f"{address}/{id}" if id else address,
        key=f"power-{which}-{of}-{id or 'new'}",
        is_new=not id,
    )


def _title(which: Which, item: Mapping[str, Any] | None, of: str, plan: Plan) -> str:
    if which == "feeds":
        name = next((each.name or each.id for each in plan.power.supplies if each.id == of), of)
        told = (item or {}).get("piece") or (item or {}).get("item") or (item or {}).get("id")
        return w("power.form_feed", name=name, fed=told) if item else w("power.form_new_feeds", name=name)
    if item is None:
        return w(f"power.form_new_{which}")
    return w("power.form", name=item.get("name") or item.get("id"))


def _choices(plan: Plan, own: str) -> dict[str, list[tuple[str, str]]]:
    return {
        "batteries": [(each.id, each.name) for each in plan.power.batteries],
        "supplies": [(each.id, each.name or each.id) for each in plan.power.supplies if each.id != own],
        "pieces": [(each.id, each.name or each.id) for each in plan.rig.pieces],
        "items": [(each.id, each.name) for each in plan.kit.items],
        "days": [(each.id, _day_name(each.id, each.number)) for each in plan.schedule.days],
    }


def _day_name(id: str, number: int | None) -> str:
    return w("frame.day", number=number) if number is not None else id


def _values(desk: Desk, visitor: Visitor, day: str) -> dict[str, Any]:
    plan = desk.plan()
    may_plan = visitor.may(Right.PLAN) and not desk.show.read_only and plan is not None
    if plan is None:
        return {
            "readable": False, "may_plan": False, "verdict": w("frame.unreadable"), "lede": w("frame.unreadable_lede"),
            "result": None, "power": None, "query": "", "revision": 0, "said": False,
        }  # fmt: skip
    try:
        state = power_page.state_of(desk.show, day)
    except InputError:  # a day that is gone from the schedule
        state = power_page.state_of(desk.show)
        day = ""
    result = state.result
    return {
        "readable": True,
        "may_plan": may_plan,
        "said": power_page.said(state.plan),
        "revision": state.revision,
        "power": state.plan.power,
        "plan_days": {each.id: _day_name(each.id, each.number) for each in state.plan.schedule.days},
        "fed_names": _fed_names(state.plan),
        "query": f"?day={day}" if day else "",
        "day": day,
        "result": result,
        "verdict": verdict_of(result),
        "lede": lede_of(result) if result is not None else w("power.empty"),
        **(_told(result) if result is not None else {}),
    }


def _told(result: PowerResult) -> dict[str, Any]:
    return {
        "days": [(each.id, day_words(each)) for each in result.days if each.id],
        "lanes": lanes_of(result),
        "ends": ends_of(result),
        "charges": charges_of(result),
        "changes": power_page.changes_of(result),
        "weighing": weighing_of(result.findings),
        "fine": [each.what for each in result.findings if each.weight is Weight.FINE],
        "stock": result.stock,
        "charts": _pictures(result),
    }


def _fed_names(plan: Plan) -> dict[str, str]:
    """What pieces and items are called, by id."""
    items = {each.id: each.name for each in plan.kit.items}
    pieces = {each.id: each.name or items.get(each.item or each.id, each.id) for each in plan.rig.pieces}
    return {**items, **pieces}


def _pictures(result: PowerResult) -> list[dict[str, str]]:
    """Where the lanes are fetched by day and by night, named by their content so that browsers keep them."""
    from rollsound.report.charts import ThemeName, content_key

    if not result.batteries:
        return []
    chart = power_page.chart_of(result)
    themes: tuple[ThemeName, ...] = ("day", "night")
    return [
        {
            "theme": theme,
            "alt": chart.alt,
            "src": f"/api/v1/power/chart?day={result.day}&theme={theme}&v={content_key(chart, 'svg', theme)}",
        }
        for theme in themes
    ]

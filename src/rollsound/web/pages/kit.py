"""Kit: the equipment list, how it is carried, which batteries may fly, what customs are given, and its labels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import kit_page
from rollsound.actions.kit_model import KitResult, LoadRow
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.folders import mistakes_told
from rollsound.web.page import Badge
from rollsound.web.pages import page_of, power_forms
from rollsound.web.pages.power_rows import weighing_of
from rollsound.web.problems import missing
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from datetime import date as Date

    from rollsound.kit.model import Kind, KitItem
    from rollsound.show.model import Plan

PAGE = page_of("kit")
router = APIRouter(include_in_schema=False)
Which = Literal["items", "moves"]
Part = Literal["answer", "list"]
CUSTOMS = frozenset({"customs list"})
_HANDLING = frozenset({"lifting", "rolling", "steps", "wind"})
_FIELDS: Mapping[Which, Sequence[power_forms.Field]] = {"items": power_forms.ITEM, "moves": power_forms.MOVE}


@dataclass(frozen=True)
class ItemRow:
    """One line of the list, in words. What its kind says, and not the item itself, is in ``of_kind``."""

    id: str
    name: str
    kind: str
    count: int
    mass: str
    rack_units: str
    draw: str
    serials: str
    value: str
    origin: str
    where: str
    note: str
    of_kind: frozenset[str]


def badge(desk: Desk) -> Badge | None:
    """What would stop the kit; none while nobody has looked."""
    state = kit_page.known(desk.show) if desk.plan() is not None else None
    stops = _stops(state.travels) if state is not None and state.travels is not None else 0
    return Badge(stops, "stop") if stops else None


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, date: str = "") -> Response:
    """The whole page, with the rules of a date of travel."""
    return render(request, "kit.html", page=PAGE, **_values(desk, visitor, date))


@router.get("/pages/kit/part/{part}")
def part(request: Request, desk: TheDesk, visitor: TheVisitor, part: Part, date: str = "") -> Response:
    """The answer, or the list, as it is now."""
    return render(request, f"parts/kit_{part}.html", **_values(desk, visitor, date))


@router.get("/pages/kit/form/{which}")
def form(request: Request, desk: TheDesk, visitor: TheVisitor, which: Which, id: str = "") -> Response:
    """The form of one item or move; of a new one without an id."""
    if not visitor.may(Right.PLAN) or desk.show.read_only:
        raise missing(w("kit.reading_only"))
    head, plan = desk.show.store.head(), desk.show.plan()
    listed = (head.document.get("kit") or {}).get(which) or []
    item = next((each for each in listed if str(each.get("id")) == id), None)
    if id and item is None:
        raise missing(w("power.no_such_row", id=id))
    named = (item or {}).get("name") or (item or {}).get("id")
    return render(
        request,
        "parts/power_form.html",
        area="kit",
        title=w("kit.form", name=named) if item else w(f"kit.form_new_{which}"),
        fields=power_forms.filled(_FIELDS[which], item or {}, _choices(plan), w("kit.none_of_them")),
        revision=head.revision,
        address=f"/api/v1/kit/{which}/{id}" if id else f"/api/v1/kit/{which}",
        key=f"kit-{which}-{id or 'new'}",
        is_new=not id,
    )


def verdict_of(result: KitResult | None) -> str:
    """The answer in one sentence."""
    if result is None:
        return w("kit.verdict_empty")
    stops = _stops(result)
    if stops:
        return w("kit.verdict_stop", n=stops)
    watches = sum(each.weight is Weight.WATCH for each in result.findings)
    return w("kit.verdict_watch", n=watches) if watches else w("kit.verdict_fine")


def lede_of(result: KitResult) -> str:
    """What the kit comes to."""
    content_wh = sum(row.capacity_wh * row.pieces for row in result.batteries)
    holds = w("kit.lede_batteries", kwh=f"{content_wh / 1000:.1f}") if content_wh else ""
    told = w("kit.lede", pieces=f"{result.whole.pieces:,}", mass=f"{result.whole.mass_kg:,.0f}", batteries=holds)
    dated = w("kit.lede_date", date=result.travel_date) if result.travel_date else w("kit.lede_no_date")
    return f"{told} {dated}"


def _stops(result: KitResult) -> int:
    return sum(each.weight is Weight.STOP for each in result.findings)


def _values(desk: Desk, visitor: Visitor, date: str) -> dict[str, Any]:
    plan = desk.plan()
    may_plan = visitor.may(Right.PLAN) and not desk.show.read_only and plan is not None
    if plan is None:
        return {
            "readable": False, "may_plan": False, "verdict": w("frame.unreadable"), "lede": w("frame.unreadable_lede"),
            "result": None, "items": (), "moves": (), "query": "", "mistakes": (), "listed": None, "wrong_date": "",
        }  # fmt: skip
    asked, wrong_date = _date(date)
    state = kit_page.state_of(desk.show, asked)
    result, listed = state.travels, state.listed
    verdict = w("kit.verdict_mistakes", n=len(state.mistakes)) if state.mistakes else verdict_of(result)
    return {
        "readable": True,
        "may_plan": may_plan,
        "revision": state.revision,
        "query": f"?date={asked.isoformat()}" if asked else "",
        "date": asked.isoformat() if asked else "",
        "date_query": f"&date={asked.isoformat()}" if asked else "",
        "wrong_date": wrong_date,
        "items": [_item(each, state.kinds[each.id], plan.kit.currency) for each in plan.kit.items],
        "moves": plan.kit.moves,
        "kit": plan.kit,
        "mistakes": mistakes_told(visitor, state.mistakes, desk.show.folder),
        "result": result,
        "listed": listed,
        "verdict": verdict,
        "lede": lede_of(result) if result is not None else w("kit.empty") if not plan.kit.items else "",
        **(_told(result) if result is not None else {}),
        **_customs(listed),
    }


def _told(result: KitResult) -> dict[str, Any]:
    loads = [(each.name or w("kit.in_none"), each) for each in result.loads] if len(result.loads) > 1 else []
    return {
        "weighing": weighing_of(result.findings, CUSTOMS),
        "handling": [each for each in result.findings if each.kind in _HANDLING and each.weight is Weight.FINE],
        "fine": [
            each.what for each in result.findings if each.weight is Weight.FINE and each.kind not in _HANDLING | CUSTOMS
        ],
        "loads": [
            *((name, each, _load(each)) for name, each in loads),
            (w("kit.whole"), result.whole, _load(result.whole)),
        ],
    }


def _customs(listed: KitResult | None) -> dict[str, Any]:
    if listed is None:
        return {"flaws": [], "refused": 0}
    flaws = [each for each in listed.findings if each.kind in CUSTOMS]
    refused = sum(each.weight is Weight.STOP for each in flaws)
    return {"flaws": weighing_of(flaws), "refused": refused}


def _load(row: LoadRow) -> dict[str, str]:
    """Figures of a load, empty where there is nothing to tell."""
    short = w("kit.without_mass", n=len(row.without_mass)) if row.without_mass else ""
    return {
        "mass": f"{row.mass_kg:,.1f} kg",
        "rack": f"{row.rack_units:g}" if row.rack_units else "",
        "batteries": f"{row.battery_wh:,.0f} Wh" if row.battery_wh else "",
        "value": f"{row.value:,.2f}" if row.value else "",
        "short": short,
    }


def _item(item: KitItem, kind: Kind, currency: str) -> ItemRow:
    pairs = (("mass", item.mass_kg, kind.mass_kg), ("draw", item.draw_w, kind.draw_w))
    of_kind = {name for name, own, said in pairs if own is None and said is not None}
    if item.rack_units is None and kind.rack_units is not None:
        of_kind.add("rack_units")
    return ItemRow(
        id=item.id,
        name=item.name,
        kind=item.kind or kind.category,
        count=item.count,
        mass=_mass(kind.mass_kg),
        rack_units=f"{kind.rack_units:g}" if kind.rack_units else "",
        draw=f"{kind.draw_w:g} W" if kind.draw_w else "",
        serials=", ".join(item.serials),
        value=f"{item.value:,.2f} {currency}" if item.value is not None else "",
        origin=item.origin,
        where=item.travels_in,
        note=item.note,
        of_kind=frozenset(of_kind),
    )


def _mass(mass_kg: float | None) -> str:
    if not mass_kg:
        return ""
    return f"{1000 * mass_kg:g} g" if mass_kg < 1 else f"{mass_kg:g} kg"


def _date(text: str) -> tuple[Date | None, str]:
    """A date as it was given; a sentence where it is none."""
    from rollsound.actions.kit import travel_date

    try:
        return travel_date(text), ""
    except InputError as error:
        return None, f"{error.sentence[:1].upper()}{error.sentence[1:]}."


def _choices(plan: Plan) -> dict[str, list[tuple[str, str]]]:
    from rollsound.kit.kinds import kinds_of

    cases = dict.fromkeys(item.travels_in for item in plan.kit.items if item.travels_in)
    return {
        "models": [(id, kind.name) for id, kind in kinds_of(plan.kit).items()],
        "loads": [*((case, case) for case in cases), *((item.id, item.name) for item in plan.kit.items)],
    }

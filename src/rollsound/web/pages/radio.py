"""Radio: do the carriers hold, what is closest, and the acts that change the carrier plan."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import radio_page
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.folders import mistakes_told
from rollsound.web.page import Badge
from rollsound.web.pages import page_of, radio_ahead
from rollsound.web.pages.radio_rows import lede_of, rows_of, verdict_of
from rollsound.web.pages.radio_search import search_values
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

PRODUCTS = 20
"""Ranked on the page; more are told by the command line."""
USES = ("body pack", "boom", "plant", "monitor", "talkback")


def badge(desk: Desk) -> Badge | None:
    """Carriers that do not hold; none while nobody has looked, since the first check takes a moment."""
    plan = desk.plan()
    if plan is None or not plan.radio.transmitters or not radio_ahead.there():
        return None
    audit = radio_page.state_of(desk.show).audit
    broken = len({each.hit for each in audit.broken}) if audit is not None else 0
    return Badge(broken, "stop") if broken else None


PAGE = page_of("radio")
router = APIRouter(include_in_schema=False)


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "") -> Response:
    """The whole page, of one site or of all together."""
    plan = desk.plan()
    return render(
        request,
        "radio.html",
        page=PAGE,
        uses=USES,
        scans=plan.radio.scans if plan else (),
        products=None,  # they follow by themselves
        **_values(desk, visitor, site, checked=radio_ahead.loaded()),
        **search_values(desk, visitor),
    )


@router.get("/pages/radio/part/answer")
def answer_part(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "") -> Response:
    """The answer as it is now."""
    return render(request, "parts/radio_answer.html", **_values(desk, visitor, site))


@router.get("/pages/radio/part/table")
def table_part(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "") -> Response:
    """The table as it is now."""
    return render(request, "parts/radio_table.html", **_values(desk, visitor, site))


@router.get("/pages/radio/part/products")
def products_part(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "") -> Response:
    """Products ranked by what they would do; asked for by itself, since the page need not wait for it."""
    from rollsound.actions.radio_products import product_rows

    values = _values(desk, visitor, site)
    state = values["state"]
    question = state.question if state is not None else None
    products = product_rows(question.radio, question.task, question.carriers_hz, PRODUCTS) if question else None
    return render(request, "parts/radio_products.html", **values, products=products or ())


@router.get("/pages/radio/part/scans")
def scans_part(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "") -> Response:
    """The list of scans as it is now."""
    revision, plan = desk.show.store.head().revision, desk.plan()
    return render(
        request,
        "parts/radio_scans.html",
        scans=plan.radio.scans if plan else (),
        revision=revision,
        **_rights(desk, visitor),
    )


@router.get("/pages/radio/part/search")
def search_part(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """How far the search is, or what it found."""
    return render(request, "parts/radio_search.html", **_rights(desk, visitor), **search_values(desk, visitor))


def _values(desk: Desk, visitor: Visitor, site: str, *, checked: bool = True) -> dict[str, Any]:
    """What the parts show; without the check, frequencies stand there at once and the rest follows."""
    if checked:
        radio_ahead.wait()
    plan = desk.plan()
    sites = plan.sites if plan is not None else ()
    site = site if site in {each.id for each in sites} else ""
    ask = radio_page.state_of if checked else radio_page.unchecked
    state = ask(desk.show, site) if plan is not None else None
    told = verdict_of(state, state.audit) if state else w("frame.unreadable")
    if state and not checked and state.question.carriers_hz and not state.question.mistakes:
        told = w("radio.verdict_checking")
    return {
        "state": state,
        "revision": state.question.revision if state else 0,
        "site": site,
        "query": f"?site={site}" if site else "",
        "sites": sites,
        "verdict": told,
        "checked": checked,
        "readable": state is not None,
        "planned": bool(state and state.question.radio.transmitters),
        "lede": _lede(state),
        "rows": rows_of(state) if state else [],
        "mistakes": mistakes_told(visitor, state.question.mistakes, desk.show.folder) if state else (),
        **_rights(desk, visitor),
    }


def _lede(state: radio_page.State | None) -> str:
    if state is None:
        return w("frame.unreadable_lede")
    if state.question.transmitters:
        return lede_of(state)
    return w("radio.empty_site" if state.question.radio.transmitters else "radio.empty")


def _rights(desk: Desk, visitor: Visitor) -> dict[str, Any]:
    return {"may_plan": visitor.may(Right.PLAN) and not desk.show.read_only and desk.plan() is not None}

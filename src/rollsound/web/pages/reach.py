"""Reach: where sound holds on a ground, the antennas that are dragged over it, powers, layouts and walk tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.actions import radio_page_reach
from rollsound.actions.ground_image import image_findings
from rollsound.errors import RollsoundError
from rollsound.finding import Weight
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.pages import page_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.radio_page_reach import LeastOfAll
    from rollsound.actions.reach_model import PowerRow, ReachResult
    from rollsound.radio.model import Ground, RadioPart

PAGE = page_of("reach")
router = APIRouter(include_in_schema=False)
Table = Literal["tables", "powers", "antennas"]


@dataclass(frozen=True)
class PowerLine:
    """The least power of a transmitter on an area, in words."""

    transmitter: str
    name: str
    area: str
    now: str
    least: str
    hours: str
    because: str
    """What else asks for more; empty where this area asks for most."""
    set: str
    """The power to be set with one touch; empty where nothing is gained."""
    set_mw: float | None


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "") -> Response:
    """The whole page, on one ground; what takes a moment to compute comes after it."""
    values = _ground(desk, visitor, site)
    ground = values["ground"]
    known = ground is not None and radio_page_reach.answered(desk.show, ground.id)
    answer: dict[str, Any] = _answer(desk, ground, "") if known else {"powers": None}
    if answer.get("result") is not None and radio_page_reach.least_known(desk.show, ground.id):
        answer["powers"] = _powers(desk, answer["result"])
    return render(request, "reach.html", page=PAGE, answered=known, **values, **answer, **_picture(desk, ground))


@router.get("/pages/reach/part/answer")
def answer_part(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "", layout: str = "") -> Response:
    """The answer as it is now."""
    values = _ground(desk, visitor, site)
    return render(
        request, "parts/reach_answer.html", answered=True, **values, **_answer(desk, values["ground"], layout)
    )


@router.get("/pages/reach/part/walk")
def walk_part(request: Request, desk: TheDesk, visitor: TheVisitor, site: str = "") -> Response:
    """The readings of a ground, and what they say."""
    values = _ground(desk, visitor, site)
    return render(request, "parts/reach_walk.html", **values, **_walk(desk, values["ground"]))


@router.get("/pages/reach/part/{part}")
def table_part(
    request: Request, desk: TheDesk, visitor: TheVisitor, part: Table, site: str = "", layout: str = ""
) -> Response:
    """Areas, least powers or cables as they are now."""
    values = _ground(desk, visitor, site)
    answer = _answer(desk, values["ground"], layout)
    if part == "powers":
        answer["powers"] = _powers(desk, answer["result"]) if answer["result"] is not None else []
    return render(request, f"parts/reach_{part}.html", answered=True, **values, **answer)


def _ground(desk: Desk, visitor: Visitor, site: str) -> dict[str, Any]:
    revision = desk.show.store.head().revision  # first: a change meanwhile is then a clash, never lost
    plan = desk.plan()
    radio = plan.radio if plan is not None else None
    grounds = radio.grounds if radio is not None else ()
    names = {each.id: each.name for each in plan.sites} if plan is not None else {}
    ground = next((each for each in grounds if each.id == site), None) or next(iter(grounds), None)
    return {
        "revision": revision,
        "readable": plan is not None,
        "ground": ground,
        "ground_name": names.get(ground.id, ground.id) if ground is not None else "",
        "grounds": [(each.id, names.get(each.id, each.id)) for each in grounds],
        "senders": _senders(radio, ground) if radio is not None and ground is not None else [],
        "layouts": radio_page_reach.layouts_of(ground) if ground is not None else (),
        "share": _wanted(),
        "may_plan": visitor.may(Right.PLAN) and not desk.show.read_only,
    }


def _wanted() -> str:
    """How much of the time sound is to hold, in words."""
    from rollsound.radio.reach.answer import WANTED_SHARE

    return w("reach.percent", n=f"{100 * WANTED_SHARE:g}")


def _picture(desk: Desk, ground: Ground | None) -> dict[str, Any]:
    """Whether a picture lies under the ground, and what is said of it."""
    found = tuple(image_findings(desk.show.folder, (ground,))) if ground is not None else ()
    told = [each for each in found if each.weight is not Weight.FINE]
    return {
        "pictured": any(each.kind == "image without scale" for each in found),  # one that is none has another finding
        "picture_told": " ".join(f"{each.what} {each.why}" for each in told),
    }


def _senders(radio: RadioPart, ground: Ground) -> list[tuple[str, str]]:
    """Id and name of the microphones that send on a ground."""
    known = {each.id: each for each in radio.transmitters}
    found = [known[id] for id in radio_page_reach.transmitters_of(radio, ground.id)]
    return [(each.id, each.wearer or each.name) for each in found]


def _answer(desk: Desk, ground: Ground | None, layout: str) -> dict[str, Any]:
    if ground is None:
        return {
            "verdict": w("reach.verdict_none"),
            "problem": "",
            "result": None,
            "powers": None,
            "lede": "",
            "shares": {},
        }
    layout = layout if layout in radio_page_reach.layouts_of(ground) else ""
    try:
        result = radio_page_reach.answers(desk.show, ground.id, layout).result
    except RollsoundError as error:
        problem = f"{error.sentence[:1].upper()}{error.sentence[1:].rstrip('.')}."
        return {
            "verdict": w("reach.verdict_problem"),
            "problem": problem,
            "result": None,
            "powers": None,
            "lede": "",
            "shares": {},
        }
    from rollsound.actions.reach import percent

    return {
        "verdict": _verdict(result),
        "problem": "",
        "result": result,
        "powers": None,
        "lede": _lede(result),
        "shares": {each.id: percent(each.weakest_share) for each in result.where},
    }


def _verdict(result: ReachResult) -> str:
    share = w("reach.percent", n=f"{100 * result.wanted_share:g}")
    if not result.where:
        return w("reach.verdict_open", share=share, covered=w("reach.percent", n=round(100 * result.covered)))
    short = sum(not each.enough for each in result.where)
    return (
        w("reach.verdict_short", n=short, share=share)
        if short
        else w("reach.verdict_holds", n=len(result.where), share=share)
    )


def _lede(result: ReachResult) -> str:
    """The weakest place, and that it is computed only."""
    worst = min(result.where, key=lambda each: each.weakest_share, default=None)
    told = f"{worst.name}: {worst.sentence} " if worst is not None else ""
    return f"{told}{w('reach.caution')}"


def _powers(desk: Desk, result: ReachResult) -> list[PowerLine]:
    """The least powers of a ground's areas. What is set holds everywhere, for a transmitter has one power."""
    plan = desk.show.plan()
    ground = next(each for each in plan.radio.grounds if each.id == result.site)
    areas = {each.id: each.name or each.id for each in ground.areas}
    worn = {each.id: each.wearer or each.name for each in plan.radio.transmitters}
    sites = {each.id: each.name for each in plan.sites}
    of_all = radio_page_reach.least_of_all(desk.show, result.site, result.layout)
    return [_power(each, worn, areas, sites, of_all.get(each.transmitter)) for each in result.powers]


def _power(
    row: PowerRow, worn: dict[str, str], areas: dict[str, str], sites: dict[str, str], of_all: LeastOfAll | None
) -> PowerLine:
    if row.least_mw is None:
        least = f"{w('reach.least_none')}: {w('reach.least_missing', db=f'{row.missing_db:.1f}')}"
    else:
        least = _milliwatts(row.least_mw)
    set_mw, because = (of_all.power_mw if of_all is not None else row.least_mw), ""
    if of_all is not None and row.least_mw is not None and set_mw != row.least_mw:
        where = w("reach.least_at", place=of_all.at, site=sites.get(of_all.ground, of_all.ground))
        because = (
            w("reach.least_none_at", where=where)
            if set_mw is None
            else w("reach.least_because", power=_milliwatts(set_mw), where=where)
        )
    gains = set_mw is not None and set_mw != row.now_mw
    return PowerLine(
        transmitter=row.transmitter,
        name=worn.get(row.transmitter, row.name),
        area=areas.get(row.area, row.area),
        now=_milliwatts(row.now_mw),
        least=least,
        hours=f"{row.hours_gained:+.1f} h".replace("-", "−") if row.hours_gained is not None else "",
        because=because,
        set=w("reach.least_set", power=_milliwatts(set_mw)) if gains and set_mw is not None else "",
        set_mw=set_mw,
    )


def _milliwatts(power_mw: float) -> str:
    return f"{power_mw:g} mW"


def _walk(desk: Desk, ground: Ground | None) -> dict[str, Any]:
    if ground is None or not ground.readings:
        return {"fit": None, "fit_problem": ""}
    try:
        return {"fit": radio_page_reach.fitted(desk.show.plan().radio, ground.id), "fit_problem": ""}
    except RollsoundError as error:
        return {"fit": None, "fit_problem": f"{error.sentence[:1].upper()}{error.sentence[1:].rstrip('.')}."}

"""The proofs of rig, power, kit and the sound of sites for Ready, each kept while what it rests on stays."""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from rollsound.errors import RollsoundError
from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.review.model import Place, Proof, Told

if TYPE_CHECKING:
    from rollsound.rig.built import Rig
    from rollsound.show.model import Plan

Page = Literal["rig", "power", "kit", "script", "plan"]
_PLAN = "plan#"
_PAGES: Mapping[str, Page] = {"rig": "rig", "power": "power", "kit": "kit", "script": "script"}


class _Kept:
    """The last answers for one show folder, each with what it rests on."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: dict[str, tuple[tuple[object, ...], list[Finding]]] = {}

    def findings(self, field: str, rests_on: tuple[object, ...], find: Callable[[], list[Finding]]) -> list[Finding]:
        with self._lock:
            before = self._answers.get(field)
            if before is None or not _same(before[0], rests_on):
                self._answers[field] = before = (rests_on, _found(field, find))
            return before[1]


def _same(one: tuple[object, ...], other: tuple[object, ...]) -> bool:
    return all(a is b or a == b for a, b in zip(one, other, strict=True))


def _found(field: str, find: Callable[[], list[Finding]]) -> list[Finding]:
    try:
        return find()
    except RollsoundError as error:  # one figure out of all bounds takes no other proof away
        return [
            about_plan(
                Area.POWER if field == "power" else Area.SIGNAL,
                Weight.STOP,
                f"the {field} part",
                f"{field} plan",
                f"The {field} part could not be proven: {error.sentence}.",
                remedy="Correct it on the page Plan.",
                at=(field,),
            )
        ]


@functools.lru_cache(maxsize=16)
def _kept(folder: Path) -> _Kept:
    return _Kept()


def fields_proven(folder: Path, plan: Plan) -> Iterator[Proof]:
    """Every proof of the plan's rig, power, kit, sites and script; nothing of a part that is empty."""
    kept = _kept(folder)
    if plan.rig.pieces:
        yield from _proofs("rig", rig_findings(folder, plan))
    parts: list[tuple[str, tuple[object, ...], Callable[[], list[Finding]]]] = []
    if plan.power.supplies:
        fed = (plan.power, plan.kit, plan.rig, plan.radio.transmitters, plan.sites, plan.schedule)
        parts.append(("power", fed, lambda: _of_power(plan)))
    if plan.kit.items:
        parts.append(("kit", (plan.kit, plan.power.batteries), lambda: _of_kit(plan)))
    if plan.script.scenes and any(day.scenes for day in plan.schedule.days):
        worn = (plan.packs, plan.script, plan.schedule, plan.radio.transmitters, plan.rig, plan.songs, plan.sites)
        parts.append(("packs", (*worn, plan.power.phases), lambda: _of_packs(plan)))
    if any(site.sound is not None for site in plan.sites):
        parts.append(("sites", (plan.sites, plan.schedule), lambda: _of_sites(plan)))
    if plan.script.scenes:
        of_script = (plan.script, plan.schedule, plan.songs)
        parts.append(("script", of_script, lambda: _of_script(plan)))
    for field, rests_on, find in parts:
        yield from _proofs(field, kept.findings(field, rests_on, find))


def rig_findings(folder: Path, plan: Plan, rig: Rig | None = None) -> list[Finding]:
    """Every proof of the plan's rig, which take seconds: worked out once for Ready and for the page Rig.

    Parameters
    ----------
    rig
        the plan's, where it was put together already
    """
    wired = (plan.rig, plan.kit, plan.power, plan.show.sample_rate_hz)
    return _kept(folder).findings("rig", wired, lambda: _of_rig(plan, rig))


def _proofs(field: str, findings: Iterable[Finding]) -> Iterator[Proof]:
    """One proof a check."""
    by_check: dict[tuple[Area, str], list[Finding]] = {}
    for finding in findings:
        by_check.setdefault((finding.area, finding.kind), []).append(finding)
    for (area, kind), told in by_check.items():
        yield Proof(area=area, what=f"{field}: {kind}", told=tuple(_told(field, each) for each in told))


def _told(field: str, finding: Finding) -> Told:
    path = next((ref.path.removeprefix(_PLAN) for ref in finding.refs if ref.path.startswith(_PLAN)), "")
    fails = _what_fails(path) if (field, finding.kind) == ("rig", "single failure") else ""
    return Told(finding=finding, place=Place(page=_page(field, path), id=fails, path=path))


def _page(field: str, path: str) -> Page:
    """Where it is written, which may be another page than that of the proof: the kit's proofs look at batteries too."""
    part = path.split("/")[1] if path else ""
    return _PAGES.get(part) or _PAGES.get(field, "plan")


def _what_fails(path: str) -> str:
    """The thing at a place of the plan, as the rig names what may fail; nothing where none stands there."""
    steps = path.split("/")
    kind = {"pieces": "piece", "links": "link", "streams": "stream"}.get(steps[2]) if len(steps) > 3 else None
    return f"{kind}:{steps[3]}" if kind else ""


def _of_rig(plan: Plan, rig: Rig | None) -> list[Finding]:
    from rollsound.actions.rig import all_proofs, rig_of

    return all_proofs(rig if rig is not None else rig_of(plan), plan)


def _of_power(plan: Plan) -> list[Finding]:
    from rollsound.actions.power import of_plan
    from rollsound.actions.power_gather import Gathered

    return list(of_plan(Gathered(plan)).findings)


def _of_kit(plan: Plan) -> list[Finding]:
    from rollsound.actions.kit import batteries_of_power
    from rollsound.kit.proofs import proofs

    return proofs(plan.kit, batteries=batteries_of_power(plan.power.batteries, plan.kit))


def _of_script(plan: Plan) -> list[Finding]:
    from rollsound.actions.script import findings_of

    return findings_of(plan.script, plan.schedule.days, plan)


def _of_packs(plan: Plan) -> list[Finding]:
    from rollsound.actions.packs import kept_findings

    return kept_findings(plan)


def _of_sites(plan: Plan) -> list[Finding]:
    from rollsound.actions.survey import working_days
    from rollsound.measure.place.proofs import proofs

    return [
        finding
        for site in plan.sites
        if site.sound is not None
        for finding in proofs(site.id, site.name, site.sound, working_days(plan, site.id))
    ]

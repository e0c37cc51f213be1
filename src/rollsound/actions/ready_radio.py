"""The proofs of the radio part for Ready: scans are read here, and an answer is kept while what it rests on stays."""

from __future__ import annotations

import functools
import itertools
import threading
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from rollsound.actions.ground_image import Stamp as ImageStamp
from rollsound.actions.ground_image import image_findings, image_stamps
from rollsound.actions.radio_read import Stamp, scan_stamps
from rollsound.errors import RollsoundError
from rollsound.finding import Area, Finding, Weight
from rollsound.review.model import AreaFigure, Place, Proof, Told

if TYPE_CHECKING:
    from rollsound.radio.model import RadioPart
    from rollsound.radio.scan import ScanLevels
    from rollsound.show.model import Plan

_GROUNDS = "/radio/grounds/"
_PLAN = "plan#"
_CHECKS = {
    "radio plan": "radio: what the plan names is there and can be",
    "scan": "radio: scan that can be read",
    "carrier chosen": "radio: every transmitter has a carrier",
    "region limits": "radio: carriers within what the region lists",
    "carriers clean": "radio: carriers clear of each other and of their products",
    "fixed carriers": "radio: fixed carriers that do no harm to each other",
    "inside tuning": "radio: carriers inside tuning range, raster and window",
    "occupied spectrum": "radio: carriers clear of occupied spectrum",
    "spares": "radio: spare frequencies, as many as wanted and clear",
    "products heard": "radio: products too weak to be heard",
    "strong neighbour": "radio: monitor and talkback transmitters away from antennas",
    "control links": "radio: control links and networks beside each other",
    "router near antenna": "radio: networks away from receive antennas",
    "exposure screening": "radio: worn transmitters, screened for exposure",
    "ground picture": "reach: picture of a ground that can be drawn",
    "image without scale": "reach: picture of a ground in the ground's form",
    "reach plan": "reach: ground that reach can be reckoned on",
    "reach of acting area": "reach: acting area, heard all over",
    "reach of walking line": "reach: walking line, heard all along",
}
_ON_RADIO_PAGE = frozenset(
    {
        "carrier chosen",
        "carriers clean",
        "fixed carriers",
        "inside tuning",
        "occupied spectrum",
        "spares",
        "products heard",
    }
)
"""What is mended on the page Radio; the rest where the plan says it."""


@dataclass(frozen=True)
class RadioProven:
    """What is proven of a radio part, and the number that says most about each area."""

    findings: tuple[Finding, ...] = ()
    figures: tuple[tuple[Area, AreaFigure], ...] = ()


_RestsOn: TypeAlias = "tuple[RadioPart, tuple[Stamp, ...], tuple[str, ...], tuple[ImageStamp, ...]]"


class _Kept:
    """The last answer for one show folder."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._rests_on: _RestsOn | None = None
        self._proven = RadioProven()

    def proven(self, folder: Path, plan: Plan) -> RadioProven:
        rests_on = (
            plan.radio,
            scan_stamps(folder, plan.radio),
            tuple(site.id for site in plan.sites),
            image_stamps(folder, plan.radio.grounds),
        )
        with self._lock:
            if self._rests_on is None or rests_on[1:] != self._rests_on[1:] or not _same(rests_on, self._rests_on):
                self._proven = _prove(folder, plan)
                self._rests_on = rests_on
            return self._proven


def _same(one: _RestsOn, other: _RestsOn) -> bool:
    return one[0] is other[0] or one[0] == other[0]


@functools.lru_cache(maxsize=16)
def _kept(folder: Path) -> _Kept:
    return _Kept()


def radio_proven(folder: Path, plan: Plan) -> RadioProven:
    """Every proof of the plan's radio part.

    Parameters
    ----------
    folder
        of the show, where names of scans begin
    """
    radio = plan.radio
    if not (radio.transmitters or radio.receivers or radio.grounds or radio.control):
        return RadioProven()
    return _kept(folder).proven(folder, plan)


def of_radio(proven: RadioProven) -> Iterator[Proof]:
    """One proof a check; of reach one an acting area and a walking line."""
    for (kind, area), rows in itertools.groupby(proven.findings, lambda finding: (finding.kind, finding.area)):
        told = [_told(finding) for finding in rows]
        what = _CHECKS.get(kind, f"radio: {kind}")
        if area is Area.REACH:
            yield from (Proof(area=area, what=what, told=(each,)) for each in told)
        else:
            yield Proof(area=area, what=what, told=tuple(told))


def _told(finding: Finding) -> Told:
    path = next((ref.path.removeprefix(_PLAN) for ref in finding.refs if ref.path.startswith(_PLAN)), "")
    if finding.kind in _ON_RADIO_PAGE:
        return Told(finding=finding, place=Place(page="radio", path=path))
    if finding.area is Area.REACH and path.startswith(_GROUNDS):
        return Told(finding=finding, place=Place(page="reach", id=path.split("/")[3], path=path))
    return Told(finding=finding, place=Place(page="plan", path=path))


def _prove(folder: Path, plan: Plan) -> RadioProven:
    scans, unread = _scans(folder, plan.radio)
    try:
        found = _found(plan, scans)
    except RollsoundError as error:  # one figure that is out of all bounds takes no other proof away
        found = [_not_proven(error.sentence)]
    found = [finding for finding in found if not _tells_again(finding, unread)] + list(unread.values())
    found += image_findings(folder, plan.radio.grounds)
    return RadioProven(tuple(found), tuple(_figures(found)))


def _found(plan: Plan, scans: Mapping[str, ScanLevels]) -> list[Finding]:
    from rollsound.radio.asking import asked
    from rollsound.radio.per_site import site_tasks, together
    from rollsound.radio.proofs import carriers_of, proofs

    radio, site_ids = plan.radio, [site.id for site in plan.sites]
    asking = asked(radio, scans=scans)
    carriers = carriers_of(radio)
    audit, tasks = None, {}
    if carriers:
        from rollsound.radio.carriers.audit import audit as check

        tasks = site_tasks(radio, scans=scans, site_ids=site_ids)
        audit = together([check(task, carriers) for task in tasks.values()])
    return proofs(radio, asking, audit, carriers, tasks=tuple(tasks.values()), site_ids=site_ids)


def _not_proven(sentence: str) -> Finding:
    from rollsound.radio.telling import finding

    return finding(
        Weight.STOP,
        "the radio part",
        "radio plan",
        f"The radio part could not be proven: {sentence}.",
        remedy="Correct it on the page Plan, or in the plan's text.",
    )


def _scans(folder: Path, radio: RadioPart) -> tuple[dict[str, ScanLevels], dict[str, Finding]]:
    """The scans that are used, by id, and what is said of those that cannot be read."""
    from rollsound.actions.radio_read import scan_text
    from rollsound.radio.scan import read

    scans: dict[str, ScanLevels] = {}
    unread: dict[str, Finding] = {}
    for scan in radio.scans:
        if not scan.used:
            continue
        try:
            scans[scan.id] = read(scan_text(folder / scan.file), Path(scan.file).name)
        except RollsoundError as error:
            unread[scan.id] = _unread(scan.id, error.sentence.replace(f"{folder}/", ""))
    return scans, unread


def _unread(id: str, sentence: str) -> Finding:
    from rollsound.radio.telling import finding

    return finding(
        Weight.WATCH,  # nothing is known to be wrong; it is only not known
        f"scan {id}",
        "scan",
        f"The scan {id} says nothing: {sentence}.",
        why="What is on the air there is not known.",
        remedy="Import the scan again on the page Radio or with radio scan, or write 'used: false' at it in the text.",
        at=["scans", id, "file"],
    )


def _tells_again(finding: Finding, unread: dict[str, Finding]) -> bool:
    """Whether a finding only says that a scan was not read, of which more is said already."""
    return finding.kind == "radio plan" and any(finding.refs == told.refs for told in unread.values())


def _figures(found: Iterable[Finding]) -> Iterator[tuple[Area, AreaFigure]]:
    clean = [each for each in found if each.kind == "carriers clean" and "margin_khz" in each.numbers]
    if clean:
        worst = min(clean, key=lambda each: each.numbers["margin_khz"])
        margin = f"{worst.numbers['margin_khz']:g} kHz".replace("-", "−")
        yield (
            Area.RADIO,
            AreaFigure(
                figure=margin, sentence="the smallest margin between carriers and products", weight=worst.weight
            ),
        )
    reach = [each for each in found if each.area is Area.REACH and "weakest_percent" in each.numbers]
    if reach:
        weakest = min(reach, key=lambda each: each.numbers["weakest_percent"])
        share = int(weakest.numbers["weakest_percent"] * 10 + 1e-9) / 10
        yield (
            Area.REACH,
            AreaFigure(
                figure=f"{share:g} %",
                sentence=f"of the time at the weakest place: {weakest.subject}",
                weight=weakest.weight,
            ),
        )

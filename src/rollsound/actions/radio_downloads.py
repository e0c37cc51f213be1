"""What is taken away from the pages Radio and Reach: the plan for the crew, and charts, as the commands make them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from rollsound.actions.ground_image import image_or_note
from rollsound.actions.radio import check
from rollsound.actions.radio_model import Assignment, PlanResult, SpareRow, UnplacedRow
from rollsound.actions.radio_papers import plan_csv, plan_pdf
from rollsound.actions.radio_read import Asked, read
from rollsound.errors import InputError, RollsoundError, StorageError

if TYPE_CHECKING:
    from rollsound.actions.radio_page_reach import Tried
    from rollsound.report.charts import Chart, Format
    from rollsound.show.folder import Show

Paper = Literal["pdf", "csv"]
Carriers = Literal["spectrum", "margins"]
COLUMNS = 160


def standing(asked: Asked) -> PlanResult:
    """The carriers as they stand, as a plan that nobody searched for: for papers of what is on the air."""
    checked = check(asked)
    return PlanResult(
        path=checked.path,
        name=checked.name,
        mode="as it stands",
        seed=0,
        assignments=tuple(Assignment(id=row.id, mhz=row.mhz) for row in checked.carriers if row.mhz is not None),
        unplaced=tuple(
            UnplacedRow(id=row.id, name=row.name, why="No frequency is chosen for it yet.")
            for row in checked.carriers
            if row.mhz is None
        ),
        margin_khz=checked.margin_khz,
        bound=checked.bound,
        proved=False,
        carriers=checked.carriers,
        spares=tuple(SpareRow(id=row.id, name=row.name, mhz=row.spares_mhz) for row in checked.carriers),
        moves=0,
        seconds=0.0,
        stopped=False,
        findings=checked.findings,
        notes=checked.notes,
        cautions=checked.cautions,
    )


def paper(show: Show, form: Paper, site: str = "") -> bytes:
    """The plan for the crew, of one site or of all together.

    Raises
    ------
    InputError
        when nobody sends there, or what is written keeps the carriers from being checked
    """
    asked = _asked(show, site)
    result = standing(asked)
    return plan_csv(result).encode() if form == "csv" else plan_pdf(asked, result)


def carriers_chart(show: Show, what: Carriers, site: str = "") -> Chart:
    """The spectrum with its carriers, or the margin of every carrier; raises as ``paper``."""
    from rollsound.actions.radio_pictures import margins_chart, spectrum_chart

    asked = _asked(show, site)
    rows = check(asked).carriers
    if not any(row.mhz is not None for row in rows):
        raise InputError("no transmitter has a frequency yet; find carriers first")
    return spectrum_chart(asked, rows) if what == "spectrum" else margins_chart(asked.name, rows)


def ground_picture(show: Show, tried: Tried, form: Format) -> bytes:
    """The map of what is tried over its ground, and over the ground's picture where that can be drawn into the form.

    Raises
    ------
    InputError
        when an id is unknown, or nothing sends or hears there
    """
    from rollsound.actions.chart_kept import chart_picture
    from rollsound.actions.radio_page_reach import map_of
    from rollsound.actions.reach import ground_chart
    from rollsound.radio.reach.ground import ground_of

    radio = show.plan().radio
    ground = ground_of(radio, tried.ground)
    names = {each.id: each.wearer or each.name for each in radio.transmitters}
    found = map_of(radio, tried, COLUMNS)
    whose = names.get(tried.transmitter, "the worst of all")
    image, _ = image_or_note(show.folder, ground)
    if image is not None:
        try:
            return chart_picture(show.folder, ground_chart(radio, found, whose, image=image), form, "print")
        except StorageError:
            raise
        except RollsoundError:  # not every form takes every kind of picture; the map comes all the same
            pass
    return chart_picture(show.folder, ground_chart(radio, found, whose), form, "print")


def walk_chart(show: Show, ground: str) -> Chart:
    """The readings of a ground over what is computed, before the fit and after.

    Raises
    ------
    InputError
        when there are too few readings
    """
    from rollsound.actions.radio_page_reach import fitted
    from rollsound.report.radio_walk_chart import WalkPoint, walk_residuals

    found = fitted(show.plan().radio, ground)
    points = [WalkPoint(e.id, e.distance_m, e.before_db, e.after_db, e.outlier) for e in found.residuals]
    return walk_residuals(ground, points)


def _asked(show: Show, site: str) -> Asked:
    return read(show.folder, sites=(site,) if site else ())

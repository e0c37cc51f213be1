"""Reach of a site: where every transmitter is heard, the power that takes, what other antennas or cables would give."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.ground_image import GroundImage, image_findings, image_or_note
from rollsound.actions.radio_read import Asked
from rollsound.actions.reach_model import (
    AntennaRow,
    DifferenceRow,
    PowerRow,
    PowerTriedRow,
    ReachResult,
    WhereRow,
)
from rollsound.errors import InputError, RollsoundError, StorageError
from rollsound.finding import Weight
from rollsound.radio.model import AntennaPlaced, Ground, RadioPart, Transmitter
from rollsound.radio.reach.answer import WANTED_SHARE, Along, Comparison, Draw, LeastPower, ReachMap

if TYPE_CHECKING:
    from rollsound.report.charts import Chart, Format

POINTS = (200, 200)
COMPARED_POINTS = (40, 40)
THIN = "rg-58"
MONITORS = ("monitor", "talkback")
_A_FREQUENCY = re.compile(r"[\d.]+ MHz")


@dataclass(frozen=True)
class Reached:
    """The answer, and the map that it was read from."""

    result: ReachResult
    radio: RadioPart
    map: ReachMap
    image: GroundImage | None = None
    """What lies under the ground."""


def reach(
    asked: Asked,
    site: str,
    *,
    transmitters: Sequence[str] = (),
    layout: str = "",
    against: str = "",
    wanted: float = WANTED_SHARE,
    points: tuple[int, int] = POINTS,
) -> Reached:
    """Reach on the ground of a site.

    Parameters
    ----------
    site
        its id
    transmitters
        ids; every microphone that sends there when empty (monitors and talkback are heard by worn receivers)
    layout
        antennas of this layout only
    against
        another layout, to compare with
    wanted
        share of time, 0 to 1, that sound is to hold

    Raises
    ------
    InputError
        when there is no such ground, transmitter or layout, or nothing sends or hears there
    """
    from rollsound.facts import cautions
    from rollsound.radio.reach.ground import ground_of
    from rollsound.radio.reach.link import layouts_of
    from rollsound.radio.reach.reach_map import reach_map

    radio = asked.radio
    if not 0 < wanted < 1:
        raise InputError(
            f"{100 * wanted:g} % of the time is held by no radio; ask for more than 0 % and less than 100 %, such as "
            "99.9 %"
        )
    ground = ground_of(radio, site)
    ids = tuple(transmitters) or _senders(radio, ground)
    chosen = layout or None
    found = reach_map(radio, site, ids, layout=chosen, points=points)
    where = tuple(_where(radio, ground, ids, chosen, wanted))
    names = layouts_of(ground)
    image, _ = image_or_note(asked.folder, ground)
    result = ReachResult(
        path=str(asked.path),
        name=asked.name,
        site=site,
        layout=layout,
        layouts=names,
        transmitters=ids,
        wanted_share=wanted,
        covered=found.covered(wanted),
        where=where,
        powers=tuple(_powers(radio, ground, ids, chosen, wanted)),
        antennas=tuple(_antenna(radio, ground, each) for each in ground.antennas),
        differences=tuple(_differences(radio, ground, ids, layout, against, wanted)),
        findings=tuple(each for each in image_findings(asked.folder, (ground,)) if each.weight is not Weight.FINE),
        notes=each_once(found.notes),
        cautions=tuple(each.text for each in cautions("radio-licence", "radio-exposure", "masts-cables")),
    )
    return Reached(result, radio, found, image)


def map_chart(reached: Reached, *, narrow: bool = False) -> Chart:
    """The map as a chart: bands of margin, the line where sound holds, walls, antennas, where people go."""
    names = {each.id: each.name for each in reached.radio.transmitters}
    whose = names.get(reached.map.transmitters[0], "") if len(reached.map.transmitters) == 1 else "the worst of all"
    wanted = reached.result.wanted_share
    return ground_chart(reached.radio, reached.map, whose, wanted=wanted, narrow=narrow, image=reached.image)


def ground_chart(
    radio: RadioPart,
    found: ReachMap,
    whose: str,
    *,
    wanted: float = WANTED_SHARE,
    narrow: bool = False,
    image: GroundImage | None = None,
) -> Chart:
    """Any map over its ground, and over the ground's picture where there is one."""
    from rollsound.radio.antennas import antenna
    from rollsound.radio.reach.ground import ground_of
    from rollsound.report.radio_ground_chart import Drawn, GroundDrawing, Heat, Marked, ground_map

    ground = ground_of(radio, found.ground)

    def looks(each: AntennaPlaced) -> float | None:
        return each.bearing_deg if antenna(radio, each).beam_deg < 360 else None

    drawing = GroundDrawing(
        width_m=ground.width_m,
        depth_m=ground.depth_m,
        walls=[Drawn(each.id, each.line_m.points_m) for each in ground.walls],
        antennas=[
            Marked(each.name or each.id, each.at_m.points_m[0], looks(each))
            for each in ground.antennas
            if each.id in found.antennas
        ],
        areas=[Drawn(each.name or each.id, each.outline_m.points_m) for each in ground.areas],
        lines=[Drawn(each.name or each.id, each.line_m.points_m) for each in ground.lines],
        stands=[Marked(each.name or each.id, each.at_m.points_m[0]) for each in ground.stands],
        readings=[Marked(each.id, each.at_m.points_m[0]) for each in ground.readings if each.at_m is not None],
        picture=image.address if image is not None else "",
    )
    heat = Heat(found.x_m, found.y_m, found.margin_db, found.share_of_time)
    return ground_map(f"{whose} on {found.ground}", drawing, heat, wanted=wanted, narrow=narrow)


def write_map(reached: Reached, path: Path) -> Reached:
    """Draw the map into a file: .png, .svg or .pdf.

    Raises
    ------
    InputError
        when the name ends otherwise
    StorageError
        when the disk fails
    """
    without = write_over(lambda image: map_chart(replace(reached, image=image)), path, reached.image)
    notes = (*reached.result.notes, without) if without else reached.result.notes
    return replace(reached, result=reached.result.model_copy(update={"map_file": str(path), "notes": notes}))


def write_over(make: Callable[[GroundImage | None], Chart], path: Path, image: GroundImage | None) -> str:
    """A map as a file, over its picture; without it, and the sentence why, where it cannot be drawn into that kind."""
    if image is not None:
        try:
            write_chart(make(image), path)
            return ""
        except StorageError:
            raise
        except RollsoundError:
            write_chart(make(None), path)
        kind = image.kind.removeprefix("image/").upper()
        return f"{path.name} comes without the ground's picture, a {kind} that cannot be drawn into it; save it as PNG."
    write_chart(make(None), path)
    return ""


def write_chart(chart: Chart, path: Path) -> None:
    """A chart as a file, its kind by the end of its name; raises as ``write_map``."""
    from rollsound.report.charts import draw
    from rollsound.whole import write_whole

    write_whole(path, draw(chart, picture_form(path), "print"))


def picture_form(path: Path) -> Format:
    """The kind of picture by the end of its name; raises InputError when it is none that is drawn."""
    formats: dict[str, Format] = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
    form = formats.get(path.suffix.lower())
    if form is None:
        raise InputError(f"a picture is written as .png, .svg or .pdf; {path.name} ends otherwise, so rename it")
    return form


def refuse_pictures(*paths: Path | None) -> None:
    """Raise InputError for a picture that could not be written, before any work is done for it."""
    from rollsound.actions.radio_papers import refuse_targets

    for path in paths:
        if path is not None:
            picture_form(path)
    refuse_targets(*paths)


def _senders(radio: RadioPart, ground: Ground) -> tuple[str, ...]:
    from rollsound.radio.reach.link import senders

    here = senders(radio, ground)
    return tuple(each.id for each in here if each.kind not in MONITORS) or tuple(each.id for each in here)


def _where(
    radio: RadioPart, ground: Ground, ids: Sequence[str], layout: str | None, wanted: float
) -> Iterator[WhereRow]:
    from rollsound.radio.reach.along import area, line

    for each in ground.areas:
        yield _where_row(radio, "area", area(radio, ground.id, each.id, ids, layout=layout), wanted)
    for way in ground.lines:
        yield _where_row(radio, "line", line(radio, ground.id, way.id, ids, layout=layout), wanted)


def _where_row(radio: RadioPart, kind: str, found: Along, wanted: float) -> WhereRow:
    at = found.weakest
    worst = found.transmitters[int(found.worst[at])]
    name = next((each.wearer or each.name for each in radio.transmitters if each.id == worst), worst)
    share, held = found.weakest_share, found.held(wanted)
    x, y = (float(each) for each in found.at_m[at])
    if share >= wanted:
        sentence = f"holds at least {100 * wanted:g} % of the time everywhere; the weakest place has {percent(share)}."
    else:
        sentence = (
            f"holds only {percent(share)} of the time at {x:.1f}, {y:.1f} m with {name}; {percent(held)} of its places "
            f"have the {100 * wanted:g} % that is wanted."
        )
    return WhereRow(
        id=found.id,
        name=found.name or found.id,
        kind=kind,
        weakest_share=share,
        weakest_margin_db=round(float(found.margin_db[at]), 2),
        weakest_at_m=(round(x, 2), round(y, 2)),
        weakest_transmitter=name,
        held=held,
        enough=share >= wanted,
        sentence=sentence,
    )


def percent(share: float) -> str:
    """A share of time for people: never 100 % where something is lost, with as many nines as it has."""
    for digits in (0, 1, 2, 3):
        text = f"{100 * share:.{digits}f}"
        if share < 0.985 or (float(text) < 100 and digits > 0):
            return f"{text} %"
    return "over 99.999 %" if share < 1 else "100 %"


def _powers(
    radio: RadioPart, ground: Ground, ids: Sequence[str], layout: str | None, wanted: float
) -> Iterator[PowerRow]:
    if not ground.areas:
        return
    from rollsound.radio.reach.least_power import least_powers

    names = {each.id: each.name for each in radio.transmitters}
    draws = {each.id: draw for each in radio.transmitters if (draw := draw_of(radio, each)) is not None}
    for found in least_powers(radio, ground.id, ids, layout=layout, wanted=wanted, draws=draws):
        yield _power_row(found, names.get(found.transmitter, found.transmitter))


def draw_of(radio: RadioPart, transmitter: Transmitter) -> Draw | None:
    """What a transmitter takes at each power, when its kind says so."""
    from rollsound.radio.kinds import transmitter_kinds

    kind = transmitter_kinds(radio).get(transmitter.model)
    if kind is None or kind.battery_wh is None or not kind.draws_w or len(kind.draws_w) != len(kind.powers_mw):
        return None
    watts = {float(mw): float(w) for mw, w in zip(kind.powers_mw, kind.draws_w, strict=True)}
    return Draw(watts, float(kind.battery_wh))


def _power_row(found: LeastPower, name: str) -> PowerRow:
    hours = {each.power_mw: each.battery_hours for each in found.tried}
    return PowerRow(
        transmitter=found.transmitter,
        name=name,
        area=found.area,
        now_mw=found.now_mw,
        least_mw=found.least_mw,
        missing_db=round(found.missing_db, 2),
        hours_now=hours.get(found.now_mw),
        hours_least=hours.get(found.least_mw) if found.least_mw is not None else None,
        hours_gained=found.hours_gained,
        tried=tuple(
            PowerTriedRow(
                power_mw=each.power_mw,
                share_of_time=each.share_of_time,
                margin_db=round(each.margin_db, 2),
                battery_hours=each.battery_hours,
            )
            for each in found.tried
        ),
        sentence=found.sentence,
    )


def _antenna(radio: RadioPart, ground: Ground, placed: AntennaPlaced) -> AntennaRow:
    from rollsound.radio.cables import cable, loss_db

    length = float(placed.cable_length_m)
    return AntennaRow(
        id=placed.id,
        name=placed.name or placed.id,
        model=placed.model,
        layouts=placed.layouts,
        cable=placed.cable,
        cable_length_m=length,
        cable_loss_db=round(loss_db(cable(radio, placed.cable), length, ground.frequency_hz), 2),
        thin_cable_loss_db=round(loss_db(cable(radio, THIN), length, ground.frequency_hz), 2),
        amplifier_gain_db=float(placed.amplifier_gain_db),
    )


def _differences(
    radio: RadioPart, ground: Ground, ids: Sequence[str], layout: str, against: str, wanted: float
) -> Iterator[DifferenceRow]:
    """Layouts against each other, and powered antennas against the same without their amplifiers."""
    from rollsound.radio.reach.answer import Side
    from rollsound.radio.reach.compare import compare, layouts, with_amplifier
    from rollsound.radio.reach.link import layouts_of

    names = layouts_of(ground)
    first = layout or (names[0] if names else "")
    second = against or next((each for each in names if each != first), "")
    if first and second:
        found = layouts(radio, ground.id, first, second, ids, points=COMPARED_POINTS, wanted=wanted)
        yield from _difference_rows(f"{second} against {first}", found)
    powered = [each for each in ground.antennas if each.amplifier_gain_db]
    if powered:
        passive = radio
        for each in powered:
            passive = with_amplifier(passive, ground.id, each.id, gain_db=0.0)
        sides = [
            Side(name, part, ground.id, layout or None)
            for name, part in (("the same antennas without amplifiers", passive), ("with amplifiers", radio))
        ]
        found = compare(sides[0], sides[1], ids, points=COMPARED_POINTS, wanted=wanted)
        yield from _difference_rows("with amplifiers against without", found)


def _difference_rows(what: str, found: Comparison) -> Iterator[DifferenceRow]:
    for each in found.differences:
        yield DifferenceRow(
            what=what,
            id=each.id,
            kind=each.kind,
            gain_db=round(each.gain_db, 2),
            weakest_first=each.weakest_first,
            weakest_second=each.weakest_second,
            sentence=f"{each.sentence[:1].upper()}{each.sentence[1:].removesuffix('.')}.",
        )


def each_once(notes: Iterable[str]) -> tuple[str, ...]:
    """Notes that differ only in their frequency are told once, for the first."""
    return tuple({_A_FREQUENCY.sub("", note): note for note in reversed(tuple(notes))}.values())[::-1]

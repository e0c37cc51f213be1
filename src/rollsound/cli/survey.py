"""`rollsound survey`: what a technical visit tells of the sound of a site."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.survey_model import DecayRow, NoiseTold, PlaceSurvey
from rollsound.cli.frame import AsJson, out, print_json, progress, say, show_finding
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_notes
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.quantities import count, true_minus

if TYPE_CHECKING:
    from rollsound.measure.place.calibration import Calibration


def survey_command(
    show: Path,
    /,
    *files: Path,
    site: Annotated[str, Parameter(help="Id of the site that was visited.")],
    kind: Annotated[
        Literal["noise", "clap", "sweep", "tone"] | None,
        Parameter(help="What the files are; told from their sound when left out, but for sweeps."),
    ] = None,
    track: Annotated[int, Parameter(help="Track of the microphone, where files have several.")] = 0,
    calibration: Annotated[Path | None, Parameter(help="Recording of a calibrator at the same gain.")] = None,
    calibrator: Annotated[str, Parameter(help="What the calibrator makes.")] = "94 dB SPL",
    sensitivity: Annotated[
        str, Parameter(help="Instead: '20 mV/Pa', or '-36 dBFS' for what 94 dB SPL reads.", allow_leading_hyphen=True)
    ] = "",
    gain: Annotated[str, Parameter(help="With mV/Pa: gain from the microphone to the converter.")] = "0 dB",
    full_scale: Annotated[str, Parameter(help="With mV/Pa: level that reaches full scale.")] = "+24 dBu",
    played: Annotated[str, Parameter(help="The sweep: its file, or '50 Hz to 16 kHz in 10 s'.")] = "",
    boom: Annotated[str, Parameter(help="Planned distance from mouth to boom, such as '0.8 m'.")] = "",
    effort: Annotated[str, Parameter(help="How loud it is spoken: relaxed, normal, raised, loud, very loud.")] = "",
    volume: Annotated[str, Parameter(help="Volume of the room, such as '900 m³'.")] = "",
    noisy: Annotated[
        list[str] | None,
        Parameter(negative="", help="Noisy hours, such as '07:45-08:30 school run'; may be given again."),
    ] = None,
    chart: Annotated[Path | None, Parameter(help="Draw octaves and decays: .png, .svg, .pdf.")] = None,
    save: Annotated[bool, Parameter(negative="", help="Save what was found with the site.")] = False,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Tell how loud a place is, what hums in it, how long it rings, and how far a boom may go.

    Example: rollsound survey northbound-ferry/ quay.wav claps.wav --site quay --calibration tone.wav --save

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON text of its plan.
    files
        Recordings of the place: its noise, claps or balloons, a sweep. Without any, what is kept is told.
    """
    from rollsound.actions.survey import save as save_survey
    from rollsound.actions.survey import survey, write_chart
    from rollsound.actions.survey_files import How, measure_files
    from rollsound.actions.survey_read import read_site

    asked = read_site(show, site)
    how = How(
        kind=kind,
        track=track,
        calibration=calibration,
        calibrator_db_spl=_calibrator(calibrator),
        stated=_stated(sensitivity, gain, full_scale),
        played=played,
    )
    if calibration is not None and sensitivity:
        raise InputError("levels are tied either by --calibration or by --sensitivity; leave one of them out")
    _refuse_picture(chart)
    with progress(json) as told:
        measured = measure_files(files, how, told)
        told.check()
    surveyed = survey(asked, measured, boom=boom, effort=effort, volume=volume, noisy=tuple(noisy or ()))
    if chart is not None:
        surveyed = write_chart(surveyed, chart)
    if save:
        surveyed = save_survey(asked, surveyed, name=name)
    result = surveyed.result
    if json:
        print_json(result)
    else:
        show_survey(out(), result)
    for problem in result.problems:
        say(problem)
    if result.problems:
        return 2
    return 1 if result.weight is Weight.STOP else 0


def _calibrator(text: str) -> float:
    from rollsound.quantities import parse

    level = parse(text, "dB SPL")
    if not 60.0 <= level <= 140.0:
        raise InputError(f"no calibrator makes {text}; write what is engraved on it, as --calibrator '94 dB SPL'")
    return level


def _stated(sensitivity: str, gain: str, full_scale: str) -> Calibration | None:
    """The calibration that is stated, or none."""
    from rollsound.measure.place.calibration import by_reading, by_sensitivity
    from rollsound.quantities import parse

    if not sensitivity:
        return None
    if sensitivity.strip().endswith("dBFS"):
        return by_reading(parse(sensitivity, "dBFS"))
    return by_sensitivity(parse(sensitivity, "mV/Pa"), parse(gain, "dB"), parse(full_scale, "dBu"))


def _refuse_picture(chart: Path | None) -> None:
    """Before anything is measured: an hour's work is not lost for a wrong ending."""
    if chart is not None and chart.suffix.lower() not in (".png", ".svg", ".pdf"):
        raise InputError(f"a picture is written as .png, .svg or .pdf; {chart.name} ends otherwise, so rename it")


def show_survey(console: Console, result: PlaceSurvey) -> None:
    """The answer first, then noise, reverberation, speech, and what was found."""
    line(console, _sentence(result), style="bold")
    for file in result.files:
        if not file.problem:
            guessed = ", told from its sound" if file.guessed else ""
            line(console, f"{Path(file.path).name}: {file.kind}{guessed}; {file.told}", head="  ", hang=4)
    if result.calibration:
        line(console, f"Levels calibrated {result.calibration}.", head="  ", hang=4)
    if result.noise is not None:
        _show_noise(console, result.noise)
    if result.reverberation:
        _show_decays(console, result.reverberation)
    if result.speech:
        _show_speech(console, result)
    if result.findings:
        console.print()
        for finding in result.findings:
            show_finding(console, finding, subject=False, advice=finding.weight is not Weight.FINE)
    console.print()
    if result.chart_file:
        line(console, f"Drawn: {result.chart_file}")
    if result.saved is not None:
        line(console, result.saved.sentence)
    elif result.files:
        line(console, "Nothing was saved; --save keeps it with the site.", style="dim")
    show_notes(console, result.notes, result.cautions)
    if result.table_notes:
        line(console, "Where the tables behind this are at odds or unverified is told in --json.", style="dim")


def _sentence(result: PlaceSurvey) -> str:
    parts = []
    noise = result.noise
    if noise is not None and not noise.calibrated:
        parts.append("its noise is known only relatively")
    if result.judged_laeq_dba is not None:
        kept = "" if noise is not None and noise.calibrated else "kept from before: "
        rated = f", {result.judged_nc}" if result.judged_nc else ""
        parts.append(f"{kept}{result.judged_laeq_dba:.1f} dBA{rated}")
    if result.judged_t_s is not None:
        parts.append(f"rings for {result.judged_t_s:.2f} s")
    elif result.reverberation:
        parts.append("its reverberation does not hold at 500 Hz and 1 kHz")
    normal = next((row for row in result.booms if row.effort == "normal" and row.farthest_m is not None), None)
    if normal is not None:
        parts.append(f"a boom serves a normal voice up to {normal.farthest_m:.1f} m")
    if not parts:
        parts.append(
            "nothing was measured that tells levels or reverberation" if result.files else "nothing is kept yet"
        )
    return f"{result.site_name}: {'; '.join(parts)}."


def _db(value: float | None, digits: int = 1) -> str:
    return "" if value is None or math.isnan(value) else true_minus(f"{value:.{digits}f}")


def _seconds(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.2f}"


def _show_noise(console: Console, noise: NoiseTold) -> None:
    console.print()
    unit = "dBA" if noise.calibrated else "dB(A) against full scale"
    told = (
        f"Noise: LAeq {_db(noise.laeq_db)}, LA10 {_db(noise.la10_db)}, LA50 {_db(noise.la50_db)}, "
        f"LA90 {_db(noise.la90_db)}, highest {_db(noise.highest_db)} {unit}"
    )
    line(console, f"{told}{f'; {noise.nc}, {noise.nr}' if noise.nc else ''}.")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("octave")
    for row in noise.octaves:
        table.add_column(row.octave, justify="right", no_wrap=True)
    table.add_row("dB SPL" if noise.calibrated else "dB", *(_db(row.level_db) for row in noise.octaves))
    console.print(table)
    for tone in noise.tones[:8]:
        family = f" ({tone.what})" if tone.what else ""
        line(
            console,
            f"{tone.freq_hz:,.1f} Hz{family}: {_db(tone.level_db)} dB, {_db(tone.over_db)} dB over the noise around it",
            head="  ",
            hang=4,
        )
    if len(noise.tones) > 8:
        line(console, f"and {count(len(noise.tones) - 8, 'more tone')}", head="  ", style="dim")


def _show_decays(console: Console, rows: tuple[DecayRow, ...]) -> None:
    console.print()
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("octave", no_wrap=True)
    for name in ("EDT\ns", "T20\ns", "T30\ns", "holds", "range\ndB"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("", overflow="fold", ratio=1)
    for row in rows:
        table.add_row(
            row.octave,
            _seconds(row.edt_s),
            _seconds(row.t20_s),
            _seconds(row.t30_s),
            Text(row.holds or "none", style="" if row.holds else "bold"),
            f"{row.range_db:.0f}",
            Text(plain(row.why)),
        )
    console.print(table)


def _show_speech(console: Console, result: PlaceSurvey) -> None:
    console.print()
    line(console, "Speech at the microphone: dB over the noise / over the room; * serves", style="bold")
    efforts = list(dict.fromkeys(row.effort for row in result.speech))
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("m", justify="right", no_wrap=True)
    for effort in efforts:
        table.add_column(effort, justify="right", no_wrap=True)
    table.add_column("", overflow="fold", ratio=1)
    for distance in dict.fromkeys(row.distance_m for row in result.speech):
        rows = {row.effort: row for row in result.speech if row.distance_m == distance}
        cells = []
        for effort in efforts:
            row = rows[effort]
            figures = [
                _db(each, 0) for each in (row.speech_to_noise_db, row.direct_to_reverberant_db) if each is not None
            ]
            cells.append(f"{' / '.join(figures)}{' *' if row.serves else '  '}")
        table.add_row(f"{distance:g}", *cells, Text(plain(rows[efforts[0]].what)))
    farthest = ["up to", *(f"{row.farthest_m:.1f} m" if row.farthest_m is not None else "" for row in result.booms)]
    table.add_row(*farthest, "a boom serves", style="bold")
    console.print(table)
    line(console, f"Asked: {result.criterion}. {result.criterion_source[:1].upper()}{result.criterion_source[1:]}.",
         style="dim")  # fmt: skip

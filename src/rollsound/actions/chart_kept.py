"""Charts as pictures, each drawn once and kept in the show's folder."""

from __future__ import annotations

from pathlib import Path

from rollsound.actions.charts_apart import DRAUGHTSMAN
from rollsound.actions.kept import index_folder, write_once
from rollsound.errors import RollsoundError
from rollsound.report.charts import Chart, Face, Format, ThemeName, content_key


def chart_picture(
    show_folder: Path, chart: Chart, format: Format, theme: ThemeName, faces: tuple[Face, ...] = ()
) -> bytes:
    """A chart drawn once: the same chart is taken from where it was kept."""
    kept = index_folder(show_folder) / "charts" / f"{content_key(chart, format, theme)}.{format}"
    try:
        return kept.read_bytes()
    except OSError:
        drawn = DRAUGHTSMAN.draw(chart, format, theme, faces)
    try:
        write_once(kept, drawn)
    except (OSError, RollsoundError):  # a full disk keeps no pictures, and shows them all the same
        return drawn
    return drawn

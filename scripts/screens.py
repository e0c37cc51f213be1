"""Draw what the commands say on the screen, for the documentation: docs/screens/cli/*.svg.

`python scripts/screens.py` builds the demo's day in a temporary folder and does the night's work on it;
`python scripts/screens.py FOLDER` goes on in a folder where `rollsound demo` has been. The pictures name fonts by their
family only and fetch nothing.
"""

from __future__ import annotations

import html
import io
import os
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import TerminalTheme

from rollsound.cli.conform import show_conform
from rollsound.cli.demo import show_night
from rollsound.cli.inspect import show_inspection
from rollsound.cli.turnover import show_turnover
from rollsound.cli.verify import show_proof
from rollsound.demo.night import NightResult, run_night
from rollsound.progress import Progress

SCREENS = Path(__file__).parents[1] / "docs" / "screens" / "cli"
WIDTH = 100
PAPER = TerminalTheme(
    (250, 248, 243),
    (31, 29, 26),
    [
        (31, 29, 26),
        (176, 32, 36),
        (30, 112, 62),
        (140, 88, 0),
        (32, 78, 140),
        (120, 50, 120),
        (0, 105, 115),
        (90, 86, 80),
    ],
)
FONTS = "'Atkinson Hyperlegible Mono', 'DejaVu Sans Mono', 'Liberation Mono', Menlo, Consolas, monospace"
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">
<title>TITLE</title>
<style>
.{unique_id}-matrix {{ white-space: pre; font-family: FONTS; font-size: {char_height}px;
  line-height: {line_height}px; }}
{styles}
</style>
<defs><clipPath id="{unique_id}-clip-terminal"><rect width="{terminal_width}" height="{terminal_height}"/></clipPath>
{lines}</defs>
<rect width="{width}" height="{height}" fill="#faf8f3"/>
<g transform="translate({terminal_x}, {terminal_y})">
{backgrounds}
<g class="{unique_id}-matrix" xml:space="preserve">
{matrix}
</g>
</g>
</svg>
""".replace("FONTS", FONTS)


def screens(night: NightResult) -> dict[str, tuple[str, Callable[[Console], None]]]:
    """Each picture's name, the command line it shows, and what draws it."""
    first = night.recorder.model_copy(update={"files": night.recorder.files[:2], "across": ()})
    return {
        "demo": ("rollsound demo out", lambda console: show_night(console, night)),
        "inspect": (
            "rollsound inspect 'out/drive a/day 4/recorder' --tracks",
            lambda console: show_inspection(console, first, tracks=True),
        ),
        "conform": (
            "rollsound conform 'out/drive a/day 4/recorder' --cards … --out 'out/drive a/day 4/mirrors'",
            lambda console: show_conform(console, night.conform),
        ),
        "turnover": (
            "rollsound turnover 'out/drive a/day 4' --to out/post --day-name 'Day 4'",
            lambda console: show_turnover(console, night.turnover),
        ),
        "verify": ("rollsound verify out/post", lambda console: show_proof(console, night.verify)),
    }


def drawn(name: str, command: str, show: Callable[[Console], None]) -> str:
    """One screen as a picture: the command line, and what it answers."""
    console = Console(
        file=io.StringIO(), width=WIDTH, record=True, force_terminal=True, color_system="standard", highlight=False
    )
    console.print(f"$ {command}", style="dim", markup=False, soft_wrap=True)
    show(console)
    drawing = DRAWING.replace("TITLE", html.escape(command))
    svg = console.export_svg(theme=PAPER, code_format=drawing, unique_id=f"screen-{name}")
    return re.sub(r"[ \t]+$", "", svg, flags=re.MULTILINE)


def work(folder: Path) -> None:
    """Do the night in ``folder`` and draw it; paths in the pictures begin at its own name."""
    os.chdir(folder.parent)
    night = run_night(Path(folder.name), progress=Progress())
    SCREENS.mkdir(parents=True, exist_ok=True)
    for name, (command, show) in screens(night).items():
        (SCREENS / f"{name}.svg").write_text(drawn(name, command, show), encoding="utf-8")
        print(f"docs/screens/cli/{name}.svg")


def main() -> None:
    """From a folder named on the command line, or from a demo built for the moment."""
    if len(sys.argv) > 1:
        work(Path(sys.argv[1]).resolve())
        return
    with tempfile.TemporaryDirectory() as place:
        work(Path(place) / "out")


if __name__ == "__main__":
    main()

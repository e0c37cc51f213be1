"""Every benchmark in one run: ours beside a named peer or limit. `--write` puts the table into docs/measurements.md."""

from __future__ import annotations

import importlib
import os
import platform
import sys
from datetime import date
from pathlib import Path

from benchmarks.row import Row

HERE = Path(__file__).parent
PAGE = HERE.parent / "docs" / "measurements.md"
BEGIN, END = "<!-- made by: python -m benchmarks --write -->", "<!-- end of the made table -->"


def topics(named: list[str]) -> list[str]:
    """The modules to run: those named, or all."""
    found = sorted(path.stem for path in HERE.glob("bench_*.py"))
    return [name for name in found if not named or name.removeprefix("bench_") in named]


def table(rows: list[tuple[str, Row]]) -> str:
    """A Markdown table."""
    lines = ["| topic | what | ours | peer or limit | ratio | goal |\n|---|---|---:|---:|---:|---|\n"]
    for topic, row in rows:
        peer = f"{row.peer_value:,.4g} ({row.peer})" if row.peer_value is not None else row.peer
        ratio = f"{row.ratio:.3g}" if row.ratio is not None else ""
        lines.append(f"| {topic} | {row.what} | {row.ours:,.4g} {row.unit} | {peer} | {ratio} | {row.goal} |\n")
    return "".join(lines)


def main() -> None:
    """Run, print, and write when asked."""
    named = [name for name in sys.argv[1:] if not name.startswith("-")]
    rows: list[tuple[str, Row]] = []
    for name in topics(named):
        topic = name.removeprefix("bench_")
        print(f"… {topic}", file=sys.stderr, flush=True)
        rows += [(topic, row) for row in importlib.import_module(f"benchmarks.{name}").run()]
    text = table(rows)
    print(text)
    if "--write" in sys.argv and not named:
        machine = f"{os.cpu_count()} cores ({platform.machine()}), Python {platform.python_version()}, {date.today()}"
        page = PAGE.read_text("utf-8")
        before, after = page.split(BEGIN)[0], page.split(END)[1]
        PAGE.write_text(f"{before}{BEGIN}\n\nMeasured on {machine}.\n\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()

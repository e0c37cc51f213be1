"""Print where every outside value in the tests comes from; `--write` puts the table into docs/sources.md."""

from __future__ import annotations

import contextlib
import io
import sys
from collections import Counter
from pathlib import Path

import pytest

HEAD = """# Sources

Every test that checks us against something nobody here wrote, and where that came from.
Made by `make sources`; a test fails when it is stale.

- **published**: a standard, handbook, paper or its worked example
- **library**: an independent program or library run beside ours
- **practice**: a fact of the trade; common practice, no source
- **memory**: recalled, not opened

"""
KINDS = ("published", "library", "practice", "memory")


class Collector:
    """A pytest plugin that gathers the markers."""

    def __init__(self) -> None:
        self.rows: Counter[tuple[str, str, str]] = Counter()

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        for item in items:
            for marker in item.iter_markers("source"):
                text = str(marker.args[0]) if marker.args else str(marker.kwargs.get("text", ""))
                kind = str(marker.kwargs.get("kind", marker.args[1] if len(marker.args) > 1 else ""))
                place = item.nodeid.split("::")[0] + "::" + item.nodeid.split("::")[-1].split("[")[0]
                self.rows[(kind, text, place)] += 1


def table() -> str:
    """The whole page, in a stable order."""
    collector = Collector()
    with contextlib.redirect_stdout(io.StringIO()):
        pytest.main(
            ["--collect-only", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "", "tests"], plugins=[collector]
        )
    lines = [HEAD, "| kind | source | checked in | cases |\n|---|---|---|---:|\n"]
    for (kind, text, place), count in sorted(collector.rows.items(), key=lambda row: (KINDS.index(row[0][0]), row[0])):
        lines.append(f"| {kind} | {text.replace('|', '/')} | `{place}` | {count} |\n")
    return "".join(lines)


def main() -> None:
    """Print, or write with ``--write``."""
    text = table()
    if "--write" in sys.argv:
        Path("docs/sources.md").write_text(text, encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()

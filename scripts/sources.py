"""Print where every outside value in the tests comes from; `--write` puts the table into docs/sources.md."""

from __future__ import annotations

import contextlib
import io
import sys
from pathlib import Path

import pytest

HEAD = """# Sources

Every test that checks us against something nobody here wrote, and where that came from.
Made by `make sources`; a test fails when it is stale.

- **published**: a standard, handbook, paper or its worked example. Where the document itself is sold and was not opened
  (SMPTE ST 12-1, EBU Tech 3341 and 3342, ITU-R BS.1770, AES papers), its values come from public copies that agree.
- **library**: an independent program or library run beside ours
- **practice**: a fact of the trade; common practice, no source
- **memory**: recalled, not opened

"""
KINDS = ("published", "library", "practice", "memory")


class Collector:
    """A pytest plugin that gathers the markers."""

    def __init__(self) -> None:
        self.rows: set[tuple[str, str, str]] = set()

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        for item in items:
            for marker in item.iter_markers("source"):
                text = str(marker.args[0]) if marker.args else str(marker.kwargs.get("text", ""))
                kind = str(marker.kwargs.get("kind", marker.args[1] if len(marker.args) > 1 else ""))
                place = item.nodeid.split("::")[0] + "::" + item.nodeid.split("::")[-1].split("[")[0]
                self.rows.add((kind, text, place))


def table() -> str:
    """The whole page, in a stable order."""
    collector = Collector()
    with contextlib.redirect_stdout(io.StringIO()):
        pytest.main(
            ["--collect-only", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "", "tests"], plugins=[collector]
        )
    lines = [HEAD, "| kind | source | checked in |\n|---|---|---|\n"]
    for kind, text, place in sorted(collector.rows, key=lambda row: (KINDS.index(row[0]), row)):
        lines.append(f"| {kind} | {text.replace('|', '/')} | `{place}` |\n")
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

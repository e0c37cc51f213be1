"""docs/security.md names a test for each line, and each of those tests is there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCUMENT = ROOT / "docs" / "security.md"


def test_every_line_of_the_document_has_its_test() -> None:
    tests = "\n".join(path.read_text("utf-8") for path in ROOT.glob("tests/**/test_*.py"))
    rows = [row for row in DOCUMENT.read_text("utf-8").splitlines() if row.startswith("| ") and "---" not in row]
    lines = [row for row in rows if not row.endswith("| Test |")]
    assert len(lines) >= 40
    for row in lines:
        named = re.findall(r"`(test_\w+)`", row)
        assert named, row
        for name in named:
            assert f"def {name}(" in tests, name


def test_every_attack_is_in_the_document() -> None:
    attacks = re.findall(r"^def (test_\w+)", (ROOT / "tests/web/test_attacks.py").read_text("utf-8"), re.M)
    text = DOCUMENT.read_text("utf-8")
    assert [name for name in attacks if name not in text and name != "test_a_code_works_until_it_expires"] == []

"""A plan in which nobody sends is no fault of ours: it is told what to write."""

from __future__ import annotations

from pathlib import Path

import pytest

from rollsound.cli.app import run


@pytest.mark.parametrize("command", ["plan", "check", "spare"])
def test_a_plan_without_transmitters_says_what_to_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text("radio: {region: europe}\n", "utf-8")
    assert run(["radio", command, str(path)]) == 2
    assert "has no transmitter; write them under 'radio'" in capsys.readouterr().err

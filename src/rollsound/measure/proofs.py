"""What the survey of a file says, as findings."""

from __future__ import annotations

from collections.abc import Sequence

from rollsound.finding import Finding
from rollsound.measure.model import SurveyResult
from rollsound.timecode import Rate


def findings_of(
    result: SurveyResult, path: str, names: Sequence[str], start_samples: int, rate: Rate | None
) -> list[Finding]:
    """Turn one file's survey into findings."""
    return []

"""What the day's checks say."""

from __future__ import annotations

from rollsound.log import TakeRow
from rollsound.turnover.proofs import day_checks


def test_a_missing_file_is_named_as_the_sheet_names_it() -> None:
    row = TakeRow(file="NF04_T9.wav")
    (said,) = [check for check in day_checks([], [row], [row]) if check.kind == "sheet and files agree"]
    assert said.what == "On the sheet but not in the folder: NF04_T9.wav."

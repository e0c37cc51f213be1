"""What counts is told, however much there is between fixed transmitters that nobody can help."""

from __future__ import annotations

import pytest

from rollsound.radio.carriers.answer import Audit, Limit
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

GUARD = Guard("m", 400_000, {Product.TWO_THIRD: 100_000, Product.THREE_THIRD: 50_000})
MHZ = 1_000_000


def fixed_in_a_row(number: int, more: tuple[int, ...]) -> tuple[Task, dict[str, int]]:
    """So many fixed ones every 400 kHz, which all hit each other, then ``more``, of which the last may be moved."""
    freqs = [480 * MHZ + n * 400_000 for n in range(number)] + list(more)
    wanted = [
        Wanted(f"f{n:03}", "m", 470 * MHZ, 694 * MHZ, 25_000, 470 * MHZ, 200_000, now_hz=freq, fixed=n < len(freqs) - 1)
        for n, freq in enumerate(freqs)
    ]
    return Task({"m": GUARD}, tuple(wanted)), {each.id: freq for each, freq in zip(wanted, freqs, strict=True)}


@pytest.mark.parametrize(("number", "listed"), [(12, 1), (30, 100), (90, 500)])
def test_a_relation_that_counts_is_listed_beside_any_number_that_do_not(number: int, listed: int) -> None:
    task, carriers = fixed_in_a_row(number, (600 * MHZ, 600_500_000, 601_300_000, 601_800_000))
    found = audit(task, carriers, listed=listed)
    assert found.margin_hz == -50_000  # 600.5 + 601.3 - 601.8 MHz falls on 600 MHz
    assert found.counts == {Limit.THREE_THIRD: 4}
    assert not found.clean
    assert {hold.limit for hold in found.broken} == {Limit.THREE_THIRD}
    assert len(found.broken) == min(4, listed)
    assert found.unavoidable


def test_what_is_counted_and_not_listed_is_not_clean() -> None:
    assert not Audit({"a": -1}, {}, (), (), {Limit.SPACING: 1}).clean
    assert Audit({"a": 0}, {}, (), (), {Limit.SPACING: 0}).clean

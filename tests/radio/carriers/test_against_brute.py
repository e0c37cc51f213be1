"""The search's own audit, and what it finds, against a check that shares no code with either."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import brute
import made
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.radio.carriers import instances
from rollsound.radio.carriers.audit import audit

DATA = Path(__file__).parents[2] / "reference" / "carriers"


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_the_audit_finds_what_the_checker_finds(data: st.DataObject) -> None:
    """Three assignments of each of a hundred requests: every broken relation by name, their counts, and the margin."""
    task = data.draw(made.tasks())
    for _ in range(3):
        carriers = data.draw(made.assignments(task))
        found = audit(task, carriers)
        assert {limit.value: count for limit, count in found.counts.items() if count} == brute.counts(task, carriers)
        listed = sorted((hold.limit.value, hold.hit, sorted(hold.sources)) for hold in found.broken)
        assert listed == sorted((limit, hit, sorted(sources)) for limit, hit, sources in brute.broken(task, carriers))
        assert found.clean == (not listed)
        margins = [hold.margin_hz for hold in found.set_by.values()]
        assert min(margins, default=None) == brute.margin_hz(task, carriers)


@pytest.mark.parametrize("name", ["S1", "S2", "S3z"])
def test_the_audit_counts_as_the_checker_on_the_instances(name: str) -> None:
    """Many transmitters of two kinds, at random and on a lattice that makes products by the thousand."""
    task, _ = instances.read((DATA / f"{name}.json").read_text("utf-8"), name)
    rng = np.random.default_rng(7)
    total: Counter[str] = Counter()
    for pitch in (25_000, 25_000, 2_000_000):
        cells = [(each.high_hz - each.low_hz) // pitch for each in task.wanted]
        carriers = {
            each.id: each.low_hz + 100_000 + int(rng.integers(0, cell)) * pitch
            for each, cell in zip(task.wanted, cells, strict=True)
        }
        counts = brute.counts(task, carriers)
        assert {limit.value: count for limit, count in audit(task, carriers).counts.items() if count} == counts
        total.update(counts)
    assert {"spacing", "2A-B", "A+B-C"} <= set(total)
    assert total["A+B-C"] > 100


def test_the_made_assignments_break_every_rule() -> None:
    """What is compared is worth comparing: broken relations of every sort come up, and clean assignments too."""
    seen: Counter[str] = Counter()

    @settings(max_examples=100, deadline=None, derandomize=True, database=None)
    @given(st.data())
    def look(data: st.DataObject) -> None:
        task = data.draw(made.tasks())
        counts = brute.counts(task, data.draw(made.assignments(task)))
        seen.update(counts.keys() or ["clean"])

    look()
    wanted = {"clean", "spacing", "2A-B", "A+B-C", "3A-2B", "3A-B-C", "2A+B-2C", "range", "occupied", "step", "window"}
    assert wanted <= set(seen)

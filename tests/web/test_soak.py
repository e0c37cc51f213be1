"""Twenty browsers listen for half an hour while somebody edits every second: news stay quick, memory stays flat."""

from __future__ import annotations

import statistics
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))  # the benchmarks lie beside the tests, outside the package
from benchmarks import bench_web

MINUTES = 30


@pytest.mark.soak
def test_news_stay_quick_and_memory_flat_for_half_an_hour() -> None:
    medians, memory = [], []
    with bench_web.served() as server:
        bench_web.deliveries_ms(server, 20, 60)  # what is held from the first minute on is not growth
        for _ in range(MINUTES):
            medians.append(statistics.median(bench_web.deliveries_ms(server, 20, 60)))
            memory.append(server.memory_mb())
    assert statistics.median(medians) < 60
    # the journal's newest rows and the kept news may come and go within a few MB
    assert memory[-1] - memory[0] < 15, memory


def test_the_way_of_measuring_hears_every_browser() -> None:
    with bench_web.served() as server:
        told = bench_web.deliveries_ms(server, 3, 2, pause_s=0.3)
    assert len(told) == 6
    assert all(took > 0 for took in told)

"""Products of many carriers are looked at in blocks: the same products, in little memory."""

from __future__ import annotations

import itertools
import tracemalloc

import numpy as np
import pytest

from rollsound.radio import levels
from rollsound.radio.carriers.task import Product

WIDTH_HZ = 200_000


def carriers(number: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.sort(470_000_000 + 25_000 * np.random.default_rng(3).choice(8000, number, replace=False)).astype(np.int64)


@pytest.mark.parametrize("form", list(levels.SHAPES))
@pytest.mark.parametrize("most", [1, 200, 10**7])
def test_blocks_of_any_size_find_what_counting_one_by_one_finds(
    form: Product, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(levels, "_MOST_CHOICES", most)
    freq, shape = carriers(14) // 8, levels.SHAPES[form]
    heard = np.arange(14) % 3 > 0
    hit, sources, at = levels._near(freq, heard, form, WIDTH_HZ)
    found = {(int(h), tuple(map(int, s)), int(f)) for h, s, f in zip(hit, sources, at, strict=True)}
    assert len(found) == len(hit)
    reach = WIDTH_HZ // 2 + round(3 * sum(n * n for n in shape) ** 0.5 * WIDTH_HZ / levels._BELL_OF_WIDTH)
    wanted = set()
    for chosen in itertools.permutations(range(14), len(shape)):
        pairs = itertools.combinations(range(len(shape)), 2)
        if any(shape[a] == shape[b] and chosen[a] > chosen[b] for a, b in pairs):
            continue
        where = sum(n * int(freq[s]) for n, s in zip(shape, chosen, strict=True))
        for target in range(14):
            if heard[target] and target not in chosen and abs(where - int(freq[target])) <= reach:
                wanted.add((target, chosen, where))
    assert found == wanted
    assert wanted


def test_three_hundred_in_one_zone_need_little_memory() -> None:
    freq, heard = carriers(300), np.zeros(300, bool)
    heard[:1] = True  # the choices are the same for whoever hears
    tracemalloc.start()
    try:
        hit, _, _ = levels._near(freq, heard, Product.THREE_THIRD, WIDTH_HZ)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert hit.size > 1000
    assert peak < 300e6  # all 27 million choices at once took more than 1 GB

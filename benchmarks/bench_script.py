"""Scripts: reading and breaking down 120 pages, and what a revision of them costs. `python -m benchmarks script`."""

from __future__ import annotations

import random
import time
from collections.abc import Callable

from benchmarks.row import Row
from rollsound.script.breakdown import breakdown
from rollsound.script.fountain import read_fountain
from rollsound.script.lengths import page_form

PAGES = 120
LIMIT_S = 0.3
_RUNS = 5
_TEXT = (
    "the ferry quay engine bell harbour rope wind choir letter tide lamp window deck radio telephone crowd rain night "
    "morning never always under over beside again slowly left right his her their cold warm long short"
)
_NAMES = ("RUNA", "IDRIS", "SIGNÝ", "HARU", "TOMASZ", "ANOUSH", "DECKHAND 2", "OLD CAPTAIN")


def script_of(pages: int, seed: int = 1) -> str:
    """A script of so many pages: scenes of two pages or so, half action and half speech, now and then a song."""
    chance = random.Random(seed)
    lines = page_form().lines * pages

    def words(least: int, most: int) -> str:
        return " ".join(chance.choices(vocabulary, k=chance.randint(least, most))).capitalize() + "."

    vocabulary = _TEXT.split()
    out, used, scene = ["Title: A long crossing", "Draft date: 1 March 2031", ""], 0, 0
    while used < lines:
        if used >= scene * 2 * page_form().lines:
            scene += 1
            place = chance.choice(["CAR DECK", "QUAY", "CHAPEL"])
            out += [
                f"{chance.choice(['INT.', 'EXT.', 'INT./EXT.'])} {place} - {chance.choice(['DAY', 'NIGHT'])} #{scene}#",
                "",
            ]
            used += 3
        if chance.random() < 0.45:
            text = words(20, 60)
            out += [text, ""]
            used += 2 + len(text) // 60
        else:
            text = words(8, 40)
            sung = chance.random() < 0.05
            out += [chance.choice(_NAMES) + (" (V.O.)" if chance.random() < 0.1 else "")]
            out += ["(quietly)"] if chance.random() < 0.2 else []
            out += [f"~{words(6, 9)}" for _ in range(4)] if sung else [text]
            out += [""]
            used += 3 + (4 if sung else len(text) // 35)
    return "\n".join(out)


def _best(work: Callable[[], object]) -> float:
    times = []
    for _ in range(_RUNS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def run() -> list[Row]:
    """Measure."""
    text = script_of(PAGES)
    script = read_fountain(text)
    first = breakdown(script)
    pages = max(scene.page for scene in first.part.scenes)
    words = sum(scene.words for scene in first.part.scenes)
    what = f"{pages} pages, {len(first.part.scenes)} scenes, {words} words said or sung"
    return [
        Row(f"read Fountain: {what}", _best(lambda: read_fountain(text)), "s", "limit", LIMIT_S, "under 0.3 s"),
        Row(
            "read it and break it down",
            _best(lambda: breakdown(read_fountain(text), first.part)),
            "s",
            "limit",
            LIMIT_S,
            "under 0.3 s",
        ),
    ]

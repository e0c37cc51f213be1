"""How well a live voice is followed along its guide, on sung phrases with known warps; why these windows and costs.

Prints the median and the 95th percentile of the error at every note, in ms, and the share of notes that are sure: by
condition and warp, against a click, and for other windows and costs with --all.
Run: ``python design/guide_course.py [--all]``
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np

from rollsound.song import course, guide
from rollsound.song.course import LEAST_CONFIDENCE, course_of
from rollsound.song.features import FeatureReader, Features

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "song"))
from sung import HZ, WARPS, Sung, clicks, sung, tune

CONDITIONS: dict[str, dict[str, Any]] = {
    "as the guide": {},
    "other words": {"same_words": False},
    "slips of 20 ms a note": {"jitter_s": 0.02},
    "noise 20 dB below": {"snr_db": 20},
    "noise 10 dB below": {"snr_db": 10},
    "room of 1.2 s": {"room_s": 1.2},
    "another 12 dB below": {"others_db": 12},
    "piano under the guide": {"band": True},
    "an octave lower": {"singer": "Haru", "semitones": -12},
    "all of it": {
        "same_words": False, "jitter_s": 0.01, "snr_db": 20, "room_s": 0.8, "others_db": 15, "band": True,
    },
}  # fmt: skip
SEEDS = (1, 2, 3)


def features(sound: np.ndarray) -> Features:
    reader = FeatureReader(HZ)
    reader.feed(sound)
    return reader.finish()


def errors_ms(pair: Sung, found: course.Course) -> tuple[np.ndarray, np.ndarray]:
    """Error at every note, a tenth of a second after it began, and whether the course is sure there."""
    at = pair.at_s + 0.1
    late = np.interp(at, found.at_s, found.late_s)
    sure = np.interp(at, found.at_s, found.confidence) >= LEAST_CONFIDENCE
    return 1000.0 * np.abs(late - pair.late_s), sure


def table(seeds: tuple[int, ...] = SEEDS) -> dict[str, tuple[float, float, float]]:
    """By condition over all warps: median, 95th percentile of sure notes, share of sure notes."""
    result = {}
    for name, given in CONDITIONS.items():
        rows = []
        for warp in WARPS.values():
            for seed in seeds:
                pair = sung(warp, seed=seed, **given)
                rows.append(errors_ms(pair, course_of(features(pair.live), features(pair.guide))))
        error, sure = (np.concatenate([row[n] for row in rows]) for n in (0, 1))
        result[name] = (float(np.median(error)), float(np.quantile(error[sure], 0.95)), float(sure.mean()))
    return result


def against_click(seeds: tuple[int, ...] = SEEDS) -> list[float]:
    """Error of every phrase against a click, in ms: where a syllable's beat is, nobody tells."""
    found = []
    for warp in ("in time", "30 ms late", "80 ms early"):
        for seed in seeds:
            for same in (True, False):
                pair = sung(WARPS[warp], seed=seed, same_words=same, jitter_s=0.01)
                answer = guide.against(features(pair.live), features(clicks(pair.live.size / HZ)), click=True)
                beats = np.array([start + 1.0 for start, _, _ in tune()])
                truth = pair.at_s + pair.late_s - beats
                for phrase in answer.phrases:
                    inside = (pair.at_s >= phrase.start_s - 0.3) & (pair.at_s <= phrase.end_s)
                    if np.isfinite(phrase.late_s) and inside.any():
                        found.append(1000.0 * abs(phrase.late_s - float(np.median(truth[inside]))))
    return found


def main() -> None:
    print(f"window {course.WINDOW_S} s, cost {course.STIFFNESS}")
    for name, (median, late, sure) in table().items():
        print(f"{name:24} median {median:5.1f} ms   95 % of sure notes {late:5.1f} ms   sure {100 * sure:3.0f} %")
    clicked = against_click()
    print(f"against a click, phrases  median {np.median(clicked):5.1f} ms   95 % {np.quantile(clicked, 0.95):5.1f} ms")
    if "--all" not in sys.argv:
        return
    for window in (0.2, 0.3, 0.45, 0.8):
        for cost in (0.1, 0.6, 1.5):
            course.WINDOW_S, course.STIFFNESS = window, cost
            course_of.__kwdefaults__["window_s"] = window
            worst = table((1,))
            print(f"window {window} s, cost {cost}:", {name: round(row[0], 1) for name, row in worst.items()})


if __name__ == "__main__":
    main()

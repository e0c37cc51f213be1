"""The colours of both themes can be told apart by people who see less contrast."""

from __future__ import annotations

import re
from importlib import resources

import pytest

TEXT, LARGE = 4.5, 3.0
ON = ("paper", "sheet")
PAIRS = [
    *((ink, ground, TEXT) for ink in ("ink", "soft", "stop", "watch", "fine", "link") for ground in ON),
    ("stop", "stop-bg", TEXT),
    ("watch", "watch-bg", TEXT),
    ("ink", "stop-bg", TEXT),
    ("ink", "watch-bg", TEXT),
    *((ink, "mark", TEXT) for ink in ("ink", "stop", "watch", "fine")),
    ("paper", "ink", TEXT),
    *((edge, ground, LARGE) for edge in ("edge", "focus") for ground in ON),
    *((f"series-{n}", ground, LARGE) for n in range(1, 6) for ground in ON),
]


def themes() -> dict[str, dict[str, str]]:
    """The tokens of each theme, as the style sheet has them."""
    text = resources.files("rollsound.web").joinpath("static/css/tokens.css").read_text("utf-8")
    blocks = {"day": r":root\{(.*?)\}", "night": r":root\[data-theme=night\]\{(.*?)\}"}
    found = {}
    for name, pattern in blocks.items():
        block = re.search(pattern, text, re.S)
        assert block is not None
        found[name] = dict(re.findall(r"--([\w-]+):(#[0-9a-f]{6})", block[1]))
    return found


def luminance(colour: str) -> float:
    """Relative luminance of sRGB, 0 to 1."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.source("WCAG 2.2 (2023), success criteria 1.4.3 and 1.4.11, contrast ratio", kind="published")
@pytest.mark.parametrize("theme", ["day", "night"])
@pytest.mark.parametrize(("ink", "ground", "least"), PAIRS)
def test_contrast_holds(theme: str, ink: str, ground: str, least: float) -> None:
    tokens = themes()[theme]
    assert contrast(tokens[ink], tokens[ground]) >= least


def test_the_measure_can_fail() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") < TEXT < contrast("#767676", "#ffffff")


def test_night_is_dim_and_warm() -> None:
    night = themes()["night"]
    ink = night["ink"]
    assert luminance(ink) < 0.75
    assert int(ink[1:3], 16) > int(ink[5:7], 16)
    assert luminance(night["paper"]) < 0.02

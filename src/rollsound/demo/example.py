"""The plan of the demo show, as the text that a person would write."""

from __future__ import annotations

from importlib import resources


def example_plan_text() -> str:
    """The whole plan of *Northbound Ferry*, with comments. Its media lie where the demo's night puts them."""
    return resources.files("rollsound.demo").joinpath("northbound.yaml").read_text(encoding="utf-8")

"""The plan of the demo show, as the text that a person would write."""

from __future__ import annotations

from importlib import resources

from rollsound.show.text import read_text, write_text


def example_plan_text() -> str:
    """The whole plan of *Northbound Ferry*, with comments. Its media lie where the demo's night puts them."""
    return resources.files("rollsound.demo").joinpath("northbound.yaml").read_text(encoding="utf-8")


def example_script_text() -> str:
    """The script of the demo's episode, in Fountain."""
    return resources.files("rollsound.demo").joinpath("northbound.fountain").read_text(encoding="utf-8")


def example_to_begin_with() -> str:
    """The plan without the recordings, which only the demo makes: to look around in, and to write one's own over."""
    read = read_text(example_plan_text())
    document = {name: part for name, part in read.document.items() if name != "media"}
    comments = {path: kept for path, kept in read.comments.items() if not path.startswith("/media")}
    return write_text(document, comments)

"""Sourced tables of the world: data, not code. Each row says where it comes from; a user may override it."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass
from importlib import resources
from typing import Any

from rollsound.errors import InputError


@dataclass(frozen=True)
class Caution:
    """A usual caution: what can hurt, what to do, where it comes from. Local codes and licensed practice come first."""

    topic: str
    text: str
    source: str


@functools.cache
def _table(name: str) -> dict[str, Any]:
    text = resources.files("rollsound.facts").joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def table(name: str) -> dict[str, Any]:
    """A table as its file ``<name>.toml`` has it, read once; not to be changed."""
    return _table(name)


def cautions(*topics: str) -> tuple[Caution, ...]:
    """The cautions on these topics, or on every topic when none is named.

    Raises
    ------
    InputError
        when a topic is not in the table
    """
    table = _table("cautions")
    unknown = [topic for topic in topics if topic not in table]
    if unknown:
        raise InputError(f"no caution is written about {', '.join(unknown)}; there are: {', '.join(table)}")
    return tuple(Caution(topic, table[topic]["text"], table[topic]["source"]) for topic in topics or table)

"""Every sentence a person reads, from `words/`: one small file a page, its name is the first part of the key."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources
from typing import Any

from rollsound.errors import InputError


@functools.cache
def catalogue() -> dict[str, Any]:
    """All words, by key: ``settings.title``; a value with ``one`` and ``other`` is chosen by ``n``."""
    words: dict[str, Any] = {}
    for file in sorted(resources.files("rollsound.web").joinpath("words").iterdir(), key=lambda each: each.name):
        if file.name.endswith(".toml"):
            for key, value in tomllib.loads(file.read_text(encoding="utf-8")).items():
                words[f"{file.name[:-5]}.{key}"] = value
    return words


def w(key: str, /, **values: object) -> str:
    """The words of a key, with values put in; which form is told by ``n``.

    Raises
    ------
    InputError
        when the catalogue has no such key
    """
    found = catalogue().get(key)
    if isinstance(found, dict):
        found = found["one" if values.get("n") == 1 else "other"]
    if not isinstance(found, str):
        raise InputError(f"the words have no '{key}'; write it in words/{key.partition('.')[0]}.toml")
    return found.format(**values) if values else found


def words_for_scripts(page: str) -> dict[str, str]:
    """The plain words under ``js_…`` of every page's scripts and of one page: what scripts may say."""
    wanted = ("frame.js_", f"{page}.js_")
    return {
        key.replace(".js_", "."): value if isinstance(value, str) else value["other"]
        for key, value in catalogue().items()
        if key.startswith(wanted)
    }

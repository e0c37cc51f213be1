"""The ladder of versions: a document of an older version is brought up step by step; a newer one is not touched."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from rollsound.errors import InputError
from rollsound.show.model import VERSION

Step = Callable[[dict[str, Any]], dict[str, Any]]
STEPS: Mapping[int, Step] = MappingProxyType({})
"""By the version it starts from; each gives a document of the next version and leaves the one given as it is."""


def upgraded(
    document: dict[str, Any], name: str = "the plan", *, to: int = VERSION, steps: Mapping[int, Step] = STEPS
) -> dict[str, Any]:
    """The document in the version ``to``. One whose version is no whole number is left to the model to refuse.

    Raises
    ------
    InputError
        when it is of a newer version, or of one that nothing leads up from
    """
    version = document.get("version", to)
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        return document
    if version > to:
        raise InputError(
            f"{name} is of version {version}, and this program knows versions up to {to}; update the program to use it",
            version=version,
            known=to,
        )
    while version < to:
        if version not in steps:
            raise InputError(f"{name} is of version {version}, which this program no longer knows", version=version)
        document = {**steps[version](document), "version": version + 1}
        version += 1
    return document

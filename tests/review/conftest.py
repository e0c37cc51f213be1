"""Short ways to write findings and proofs."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.review.model import Place, Proof, Told

Telling = Callable[..., Told]
Proving = Callable[..., Proof]


@pytest.fixture
def tell() -> Telling:
    """A finding and its place; tracks and a span make it a spot in a take."""

    def make(
        weight: str = "watch",
        what: str = "Something",
        *,
        kind: str = "check",
        area: str = "signal",
        take: str = "",
        track: int = 0,
        span: tuple[int, int] = (0, 0),
        loudest_dbfs: float = -20.0,
    ) -> Told:
        refs = (Ref(path="a.wav", track=track, start_sample=span[0], length_samples=span[1]),) if track else ()
        finding = Finding(
            area=Area(area),
            weight=Weight(weight),
            subject=f"track {track}",
            kind=kind,
            what=what,
            numbers={"loudest_dbfs": loudest_dbfs},
            refs=refs,
        )
        place = Place(page="take", id=take, name=take, track=track, start_sample=span[0], length_samples=span[1])
        return Told(finding=finding, place=place if take else None)

    return make


@pytest.fixture
def prove() -> Proving:
    """A proof with what it told."""

    def make(*told: Told, area: str = "signal", what: str = "check", recorded: bool = False) -> Proof:
        return Proof(area=Area(area), what=what, told=told, recorded=recorded)

    return make

"""A small ground to reckon on: one transmitter, one receiver, antennas and walls as a test wants them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeAlias

import pytest

from rollsound.radio.model import RadioPart

Make: TypeAlias = Callable[..., RadioPart]


def _antenna(given: dict[str, Any] | str, number: int) -> dict[str, Any]:
    return {"id": f"a{number + 1}", **({"at": given} if isinstance(given, str) else given)}


@pytest.fixture
def make() -> Make:
    """Build a radio part of one ground 'deck', 100 m by 60 m, transmitters t1, t2 … and a receiver 'rx' for all."""

    def made(
        *,
        antennas: Sequence[dict[str, Any] | str] = ("10, 30 m",),
        transmitters: Sequence[dict[str, Any]] = ({},),
        receiver: dict[str, Any] | None = None,
        walls: Sequence[dict[str, Any]] = (),
        more: dict[str, Any] | None = None,
        **ground: Any,
    ) -> RadioPart:
        sends = [
            {"id": f"t{n + 1}", "name": f"Pack {n + 1}", "power": "50 mW", "frequency": "600 MHz", **one}
            for n, one in enumerate(transmitters)
        ]
        return RadioPart.model_validate(
            {
                "transmitters": sends,
                "receivers": [{"id": "rx", "name": "Rack", "hears": [one["id"] for one in sends], **(receiver or {})}],
                "grounds": [
                    {
                        "id": "deck",
                        "width": "100 m",
                        "depth": "60 m",
                        "noise": "none",
                        "antennas": [_antenna(one, n) for n, one in enumerate(antennas)],
                        "walls": [{"id": f"w{n + 1}", **one} for n, one in enumerate(walls)],
                        **ground,
                    }
                ],
                # a cable without loss, one of 2 dB and one of 4 dB for each 4 m at 600 MHz
                "cables": [
                    {"id": "none", "k1": 0, "k2": 0},
                    {"id": "two", "k1": 0, "k2": 2 / 24},
                    {"id": "four", "k1": 0, "k2": 4 / 24},
                ],
                "antenna_kinds": [{"id": "zero", "gain": "0 dB"}],
                "worn_places": [{"id": "fifteen", "name": "as in the example", "loss": "15 dB"}],
                **(more or {}),
            }
        )

    return made


@pytest.fixture
def bare() -> dict[str, Any]:
    """An antenna of 0 dBi at the transmitter's height with nothing behind it."""
    return {"at": "10, 30 m", "height": "1.2 m", "model": "zero", "cable": "none", "connectors": 0}

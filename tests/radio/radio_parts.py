"""Radio parts as people write them, for tests."""

from __future__ import annotations

from typing import Any

from rollsound.radio.model import RadioPart

REGION: dict[str, Any] = {
    "id": "here",
    "name": "Here",
    "bands": [
        {"id": "uhf", "range": "470-608 MHz", "power": "50 mW", "unit": "e.r.p.", "width": "200 kHz"},
        {"id": "top", "range": "614-694 MHz", "power": "50 mW", "unit": "e.r.p.", "uses": ["body pack", "boom"]},
        {"id": "ears", "range": "863-865 MHz", "power": "10 mW", "uses": ["monitor", "talkback"]},
    ],
}


def pack(id: str = "p1", **more: Any) -> dict[str, Any]:
    """A body pack that tunes 470-542 MHz."""
    return {"id": id, "name": id.upper(), "power": "25 mW", "tuning": "470-542 MHz", **more}


def part(*transmitters: dict[str, Any], **more: Any) -> RadioPart:
    """A radio part with these transmitters."""
    return RadioPart.model_validate({"transmitters": list(transmitters), **more})

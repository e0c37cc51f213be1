"""What leaves packed: pages always, figures only where the way is longer than packing them takes."""

from __future__ import annotations

from typing import Any


def test_figures_go_packed_over_the_network_and_as_they_are_on_this_machine(mixer: Any, crew: Any) -> None:
    near, far = mixer.get("/api/v1/openapi.json"), crew.get("/api/v1/openapi.json")
    assert near.json() == far.json()
    assert "content-encoding" not in near.headers
    assert far.headers["content-encoding"] == "gzip"
    assert int(far.headers["content-length"]) < len(near.content) / 3


def test_pages_go_packed_everywhere_and_not_to_who_cannot_unpack(mixer: Any, crew: Any) -> None:
    assert mixer.get("/settings").headers["content-encoding"] == "gzip"
    assert crew.get("/settings").headers["content-encoding"] == "gzip"
    assert "content-encoding" not in crew.get("/settings", headers={"accept-encoding": "identity"}).headers

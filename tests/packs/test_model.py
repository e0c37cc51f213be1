"""The part of the plan that a pack plan is made of: what may be written, and what names nothing."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from rollsound.packs.model import PacksPart, names_wrong

KNOWN = {"characters": ("bram", "runa"), "packs": ("pack-01",), "days": ("day-1",), "scenes": ("4", "28A")}


def _sentences(**written: object) -> list[str]:
    return [f"{each.path}: {each.sentence}" for each in names_wrong(PacksPart.model_validate(written), **KNOWN)]


def test_a_part_that_names_only_what_is_there_has_nothing_wrong() -> None:
    part = {
        "packs": [{"id": "pack-01", "out": ["day-1"]}],
        "wishes": [{"id": "bram", "pack": "pack-01", "no_pack": ["28a"]}],
        "assigned": [{"id": "day-1-4", "day": "day-1", "scene": "4", "packs": {"bram": ["pack-01"]}}],
    }
    assert _sentences(**part) == []
    assert not PacksPart.model_validate(part).empty
    assert PacksPart().empty


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ({"wishes": [{"id": "brm"}]}, "/packs/wishes/brm: names the character 'brm', which is not there; perhaps"),
        ({"wishes": [{"id": "bram", "pack": "pack-09"}]}, "/packs/wishes/bram/pack: names the pack 'pack-09'"),
        ({"wishes": [{"id": "bram", "no_pack": ["99"]}]}, "/packs/wishes/bram/no_pack: names the scene '99'"),
        ({"wishes": [{"id": "bram", "boom_only": True, "dual": True}]}, "asks for a pack and for none"),
        ({"packs": [{"id": "pack-01", "out": ["day-9"]}]}, "/packs/packs/pack-01/out: names the day 'day-9'"),
        ({"booms": [{"id": "boom-1", "out": ["day-9"]}]}, "/packs/booms/boom-1/out: names the day 'day-9'"),
        (
            {"assigned": [{"id": "a", "day": "day-9", "scene": "4", "packs": {"brm": ["pack-7"]}}]},
            "/packs/assigned/a/packs/brm: names the pack 'pack-7'",
        ),
    ],
)
def test_every_name_that_is_not_there_is_told_with_its_place(written: dict[str, object], told: str) -> None:
    assert any(told in sentence for sentence in _sentences(**written)), _sentences(**written)


def test_a_boom_that_covers_nobody_is_refused() -> None:
    with pytest.raises(ValidationError, match="boom_covers"):
        PacksPart.model_validate({"boom_covers": 0})

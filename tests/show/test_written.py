"""Quantities in documents: read in their unit, kept as written, refused with a sentence."""

from __future__ import annotations

import pickle

import pytest
from pydantic import Field, ValidationError

from rollsound.kit.model import KitItem
from rollsound.radio.model import Transmitter
from rollsound.written import Band, Hertz, Id, LevelDbfs, Metres, Milliwatts, Part, TemperaturesC, TuningHz


class Trial(Part):
    """One of each."""

    id: Id = "a"
    length_m: Metres | None = Field(default=None, alias="length")
    power_mw: Milliwatts | None = Field(default=None, alias="power")
    rate_hz: Hertz | None = Field(default=None, alias="rate")
    level_dbfs: LevelDbfs | None = Field(default=None, alias="level")
    tuning_hz: TuningHz | None = Field(default=None, alias="tuning")
    temperature_c: TemperaturesC | None = Field(default=None, alias="temperature")


@pytest.mark.parametrize(
    ("name", "field", "written", "value"),
    [
        ("length", "length_m", "25 m", 25.0),
        ("length", "length_m", "1,5 km", 1500.0),
        ("power", "power_mw", "0.05 W", 50.0),
        ("rate", "rate_hz", "48 kHz", 48_000.0),
        ("level", "level_dbfs", "−18 dBFS", -18.0),
    ],
)
def test_a_quantity_is_a_float_in_its_unit_and_goes_out_as_it_came(
    name: str, field: str, written: str, value: float
) -> None:
    part = Trial.model_validate({name: written})
    assert getattr(part, field) == pytest.approx(value, rel=1e-12)
    assert part.model_dump(exclude_none=True) == {"id": "a", name: written}
    again = pickle.loads(pickle.dumps(part))
    assert again.model_dump(exclude_none=True)[name] == written


@pytest.mark.parametrize(
    ("written", "low", "high"),
    [
        ("470-542 MHz", 470e6, 542e6),
        ("470 MHz – 0.542 GHz", 470e6, 542e6),
        ("823 to 832 MHz", 823e6, 832e6),
    ],
)
def test_a_range_is_two_floats_and_goes_out_as_it_came(written: str, low: float, high: float) -> None:
    part = Trial.model_validate({"tuning": written})
    assert part.tuning_hz is not None
    assert (part.tuning_hz.low, part.tuning_hz.high) == pytest.approx((low, high))
    assert part.tuning_hz == Band(part.tuning_hz.low, part.tuning_hz.high, written)
    assert 500e6 in part.tuning_hz or low > 500e6
    assert part.model_dump(exclude_none=True)["tuning"] == written


@pytest.mark.parametrize(
    ("written", "low", "high"),
    [("-9 to -1 °C", -9, -1), ("-9–-1 °C", -9, -1), ("-2 - 6 °C", -2, 6), ("−2 to 6 degC", -2, 6)],
)
def test_a_range_below_nothing_keeps_its_signs(written: str, low: float, high: float) -> None:
    part = Trial.model_validate({"temperature": written})
    assert part.temperature_c is not None
    assert (part.temperature_c.low, part.temperature_c.high) == (low, high)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("length", 25, "its unit"),
        ("length", "25", "without a unit"),
        ("length", "25 kg", "no amount in m"),
        ("length", "-1 m", "0 m or more"),
        ("length", "", "no amount"),
        ("length", True, "its unit"),
        ("length", ["25 m"], "its unit"),
        ("tuning", "542-470 MHz", "smaller first"),
        ("tuning", "470 MHz", "two numbers"),
        ("tuning", "470-542 m", "no amount in Hz"),
        ("tuning", 470, "two numbers"),
    ],
)
def test_what_is_no_quantity_is_refused_with_what_to_write(name: str, value: object, words: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Trial.model_validate({name: value})
    assert words in str(caught.value.errors()[0]["ctx"]["error"])


def test_numbers_are_taken_for_text_but_not_for_ids() -> None:
    assert KitItem.model_validate({"id": "a", "name": 7}).name == "7"
    with pytest.raises(ValidationError):
        KitItem.model_validate({"id": 7, "name": "A"})


def test_what_is_not_known_is_kept() -> None:
    part = Transmitter.model_validate({"id": "a", "name": "A", "colour": {"ring": "red"}})
    assert part.unknown == {"colour": {"ring": "red"}}
    assert part.model_dump()["colour"] == {"ring": "red"}


def test_a_schema_tells_how_a_quantity_is_written() -> None:
    said = Trial.model_json_schema(by_alias=True)["properties"]["tuning"]
    assert {"type": "string", "examples": ["470-542 MHz"]} in said["anyOf"]

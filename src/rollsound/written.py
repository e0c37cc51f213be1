"""What documents are made of that people write: ids, quantities with their units, and parts that keep the unknown.

A model of a field is a ``Part``. Its quantities are annotated floats: the field's name carries the unit, its alias is
what people write, and the value remembers how it was written::

    class Transmitter(Part):
        id: Id
        power_mw: Milliwatts = Field(alias="power")           # power: 50 mW
        tuning_hz: TuningHz = Field(alias="tuning")           # tuning: 470-542 MHz

    Transmitter.model_validate({"id": "t1", "power": "50 mW", ...}).power_mw    # 50.0
    _.model_dump(by_alias=True)["power"]                                        # "50 mW", as it was written

A further quantity is one line here or in its field: ``Annotated[float, Quantity("kg", least=0)]``.
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from typing import Annotated, Any, TypeAlias

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from rollsound.errors import InputError
from rollsound.quantities import parse

_ID = re.compile(r"[a-z0-9][a-z0-9-]*")
_NUMBER = r"[+−-]?\d+(?:[.,]\d+)?"
_RANGE = re.compile(rf"\s*({_NUMBER})\s*(\D*?)\s*(?:-|–|—|\bto\b|\.\.)\s*({_NUMBER})\s*(\S.*?)\s*")


class Part(BaseModel):
    """A part of a document. What it does not know stays in it, in ``unknown``; text may be written as a number."""

    model_config = ConfigDict(
        frozen=True, extra="allow", coerce_numbers_to_str=True, serialize_by_alias=True, str_strip_whitespace=True
    )

    @property
    def unknown(self) -> dict[str, Any]:
        """Fields that this version does not know, as they were written."""
        return dict(self.__pydantic_extra__ or {})


def _id(value: object) -> object:
    if isinstance(value, str) and not _ID.fullmatch(value):
        raise ValueError(
            f"is '{value[:40]}'; an id has small letters a to z, digits and hyphens, and begins with a letter or digit"
        )
    if isinstance(value, str) and len(value) > 64:
        raise ValueError("is too long; an id has 64 letters or fewer")
    return value


Id: TypeAlias = Annotated[
    str, BeforeValidator(_id), Field(strict=True, pattern=r"^[a-z0-9][a-z0-9-]*$", min_length=1, max_length=64)
]
"""What an item is known by, in its list and from elsewhere; it never changes."""


class Written(float):
    """A quantity in its unit that remembers how it was written."""

    written: str

    def __new__(cls, value: float, written: str) -> Written:
        made = super().__new__(cls, value)
        made.written = written
        return made

    def __reduce__(self) -> tuple[type[Written], tuple[float, str]]:
        return Written, (float(self), self.written)

    def __str__(self) -> str:
        return self.written


@dataclass(frozen=True)
class Band:
    """A range of a quantity in its unit, ``low <= high``, that remembers how it was written."""

    low: float
    high: float
    written: str = ""

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high

    def __str__(self) -> str:
        return self.written or f"{self.low:g} to {self.high:g}"


def _no_amount(text: str, unit: str, example: str) -> str:
    return f"is '{text[:40]}', which is no amount in {unit}; write it as for example '{example}'"


class AsWritten:
    """What quantities and ranges share: text in, text out, and how a schema tells of it."""

    def _read(self, value: object) -> object:
        raise NotImplementedError

    def _example(self) -> str:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        shown = core_schema.plain_serializer_function_ser_schema(
            lambda value: getattr(value, "written", "") or str(value), return_schema=core_schema.str_schema()
        )
        return core_schema.no_info_plain_validator_function(self._read, serialization=shown)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"type": "string", "examples": [self._example()]}


@dataclass(frozen=True)
class Quantity(AsWritten):
    """Reads ``25 m`` into a float in ``unit``; a number without a unit is refused, as nobody knows what it means.

    ``least`` and ``most`` are in ``unit``; ``example`` is what the refusing sentence offers.
    """

    unit: str
    least: float | None = None
    most: float | None = None
    example: str = ""

    def _example(self) -> str:
        return self.example or f"25 {self.unit}"

    def _read(self, value: object) -> Written:
        if isinstance(value, Written):
            return value
        if not isinstance(value, str):
            raise ValueError(f"needs a number and its unit; write it as '{self._example()}'")
        return _quantity(self, value)


# Most quantities of a plan stay as they are from one edit to the next.
@functools.lru_cache(maxsize=4096)
def _quantity(asked: Quantity, text: str) -> Written:
    if re.fullmatch(_NUMBER, text.strip()):
        raise ValueError(f"is '{text}' without a unit; write it as '{asked._example()}'")
    try:
        number = parse(text, asked.unit)
    except InputError as error:
        raise ValueError(_no_amount(text, asked.unit, asked._example())) from error
    if asked.least is not None and number < asked.least:
        raise ValueError(f"is {text}; it must be {asked.least:.15g} {asked.unit} or more")
    if asked.most is not None and number > asked.most:
        raise ValueError(f"is {text}; it must be {asked.most:.15g} {asked.unit} or less")
    return Written(number, text)


@dataclass(frozen=True)
class QuantityRange(AsWritten):
    """Reads ``470-542 MHz`` into a ``Band`` in ``unit``."""

    unit: str
    example: str = ""

    def _example(self) -> str:
        return self.example or f"10-20 {self.unit}"

    def _read(self, value: object) -> Band:
        if isinstance(value, Band):
            return value
        if not isinstance(value, str):
            raise ValueError(f"is no range; it needs two numbers and their unit; write it as '{self._example()}'")
        return _band(self, value)


@functools.lru_cache(maxsize=4096)
def _band(asked: QuantityRange, text: str) -> Band:
    match = _RANGE.fullmatch(text)
    if match is None:
        raise ValueError(f"is '{text[:40]}'; it needs two numbers and their unit; write it as '{asked._example()}'")
    low_text, low_unit, high_text, high_unit = match.groups()
    try:
        low = parse(f"{low_text} {low_unit or high_unit}", asked.unit)
        high = parse(f"{high_text} {high_unit}", asked.unit)
    except InputError as error:
        raise ValueError(_no_amount(text, asked.unit, asked._example())) from error
    if low > high:
        raise ValueError(f"runs from {low_text} down to {high_text}; write the smaller first")
    return Band(low, high, text)


Metres: TypeAlias = Annotated[float, Quantity("m", least=0)]
Kilograms: TypeAlias = Annotated[float, Quantity("kg", least=0, most=100_000, example="250 g")]
Seconds: TypeAlias = Annotated[float, Quantity("s", least=0, example="3 ms")]
Milliwatts: TypeAlias = Annotated[float, Quantity("mW", least=0, example="50 mW")]
Watts: TypeAlias = Annotated[float, Quantity("W", least=0, example="12 W")]
WattHours: TypeAlias = Annotated[float, Quantity("Wh", least=0, most=1_000_000, example="98 Wh")]
Volts: TypeAlias = Annotated[float, Quantity("V", most=100_000, example="12.8 V")]
Hertz: TypeAlias = Annotated[float, Quantity("Hz", least=0, example="48 kHz")]
Decibels: TypeAlias = Annotated[float, Quantity("dB", least=-1000, most=1000, example="20 dB")]
LevelDbm: TypeAlias = Annotated[float, Quantity("dBm", least=-300, most=100, example="-95 dBm")]
LevelDbfs: TypeAlias = Annotated[float, Quantity("dBFS", example="-18 dBFS")]
LevelDbu: TypeAlias = Annotated[float, Quantity("dBu", least=-300, most=100, example="+4 dBu")]
LevelSpl: TypeAlias = Annotated[float, Quantity("dB SPL", least=-50, most=220, example="94 dB SPL")]
LevelDba: TypeAlias = Annotated[float, Quantity("dBA", least=-50, most=220, example="35 dBA")]
TuningHz: TypeAlias = Annotated[Band, QuantityRange("Hz", example="470-542 MHz")]
TemperaturesC: TypeAlias = Annotated[Band, QuantityRange("°C", example="-8 to 2 °C")]

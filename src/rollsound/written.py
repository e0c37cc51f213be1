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


@functools.lru_cache(maxsize=4096)
def _value(text: str, unit: str) -> float:
    # Most fields of a plan stay as they are from one edit to the next.
    return parse(text, unit)


def _no_amount(text: str, unit: str, example: str) -> str:
    return f"is '{text[:40]}', which is no amount in {unit}; write it as for example '{example}'"


class _AsWritten:
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
class Quantity(_AsWritten):
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
        if re.fullmatch(_NUMBER, value.strip()):
            raise ValueError(f"is '{value}' without a unit; write it as '{self._example()}'")
        try:
            number = _value(value, self.unit)
        except InputError as error:
            raise ValueError(_no_amount(value, self.unit, self._example())) from error
        if self.least is not None and number < self.least:
            raise ValueError(f"is {value}; it must be {self.least:g} {self.unit} or more")
        if self.most is not None and number > self.most:
            raise ValueError(f"is {value}; it must be {self.most:g} {self.unit} or less")
        return Written(number, value)


@dataclass(frozen=True)
class QuantityRange(_AsWritten):
    """Reads ``470-542 MHz`` into a ``Band`` in ``unit``."""

    unit: str
    example: str = ""

    def _example(self) -> str:
        return self.example or f"10-20 {self.unit}"

    def _read(self, value: object) -> Band:
        if isinstance(value, Band):
            return value
        match = _RANGE.fullmatch(value) if isinstance(value, str) else None
        if match is None:
            given = f"is '{value[:40]}'; it" if isinstance(value, str) else "is no range; it"
            raise ValueError(f"{given} needs two numbers and their unit; write it as '{self._example()}'")
        low_text, low_unit, high_text, high_unit = match.groups()
        try:
            low, high = (
                _value(f"{text} {unit}", self.unit)
                for text, unit in ((low_text, low_unit or high_unit), (high_text, high_unit))
            )
        except InputError as error:
            raise ValueError(_no_amount(match.string, self.unit, self._example())) from error
        if low > high:
            raise ValueError(f"runs from {low_text} down to {high_text}; write the smaller first")
        return Band(low, high, match.string)


Metres: TypeAlias = Annotated[float, Quantity("m", least=0)]
Kilograms: TypeAlias = Annotated[float, Quantity("kg", least=0, example="250 g")]
Seconds: TypeAlias = Annotated[float, Quantity("s", least=0, example="3 ms")]
Milliwatts: TypeAlias = Annotated[float, Quantity("mW", least=0, example="50 mW")]
Watts: TypeAlias = Annotated[float, Quantity("W", least=0, example="12 W")]
WattHours: TypeAlias = Annotated[float, Quantity("Wh", least=0, example="98 Wh")]
Volts: TypeAlias = Annotated[float, Quantity("V", example="12.8 V")]
Hertz: TypeAlias = Annotated[float, Quantity("Hz", least=0, example="48 kHz")]
Decibels: TypeAlias = Annotated[float, Quantity("dB", example="20 dB")]
LevelDbfs: TypeAlias = Annotated[float, Quantity("dBFS", example="-18 dBFS")]
TuningHz: TypeAlias = Annotated[Band, QuantityRange("Hz", example="470-542 MHz")]
TemperaturesC: TypeAlias = Annotated[Band, QuantityRange("°C", example="-8 to 2 °C")]

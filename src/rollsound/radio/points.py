"""Places on the drawing of a site, as people write them: ``3.5, 2 m`` and ``0, 0; 12, 0; 12, 8 m``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, TypeAlias

from rollsound.errors import InputError
from rollsound.quantities import parse
from rollsound.written import AsWritten

_NUMBER = r"[+−-]?\d+(?:\.\d+)?"
_TEXT = re.compile(rf"\s*({_NUMBER}\s*,\s*{_NUMBER}(?:\s*;\s*{_NUMBER}\s*,\s*{_NUMBER})*)\s*([^\d\s;,].*?)\s*")


@dataclass(frozen=True)
class Points:
    """Places in metres: x to the right and y up from the lower left corner of the drawing."""

    points_m: tuple[tuple[float, float], ...]
    written: str = ""

    def __str__(self) -> str:
        return self.written or "; ".join(f"{x:g}, {y:g}" for x, y in self.points_m) + " m"


@dataclass(frozen=True)
class PointsWritten(AsWritten):
    """Reads ``least`` places or more, and no more than ``most`` when it is given."""

    least: int
    most: int | None = None

    def _example(self) -> str:
        return "3.5, 2 m" if self.most == 1 else "0, 0; 12, 0; 12, 8 m"

    def _read(self, value: object) -> Points:
        if isinstance(value, Points):
            return value
        match = _TEXT.fullmatch(value) if isinstance(value, str) else None
        if match is None or not isinstance(value, str):
            raise ValueError(
                f"is '{str(value)[:40]}'; write x and y, a semicolon between places, and the unit, such as "
                f"'{self._example()}'"
            )
        try:
            scale = parse(f"1 {match[2]}", "m")
        except InputError as error:
            raise ValueError(
                f"has the unit '{match[2][:20]}', which is no length; write '{self._example()}'"
            ) from error
        numbers = [float(part.replace("−", "-")) * scale for part in re.split("[;,]", match[1])]
        if not all(math.isfinite(number) and abs(number) <= 100_000 for number in numbers):
            raise ValueError("lies further than 100 km away, which no site does")
        points = tuple(zip(numbers[::2], numbers[1::2], strict=True))
        if len(points) < self.least or (self.most is not None and len(points) > self.most):
            wanted = "one place" if self.most == 1 else f"{self.least} places or more"
            raise ValueError(f"has {len(points)} places; it needs {wanted}, such as '{self._example()}'")
        return Points(points, value)


Point: TypeAlias = Annotated[Points, PointsWritten(1, 1)]
Line: TypeAlias = Annotated[Points, PointsWritten(2)]
Outline: TypeAlias = Annotated[Points, PointsWritten(3)]

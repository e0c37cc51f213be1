"""Frame rates as integer ratios, and every way they are written in files and on slates."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from rollsound.errors import InputError


@dataclass(frozen=True)
class Rate:
    """A frame rate: ``numerator / denominator`` frames per second, labels counting 0 to ``nominal - 1``.

    ``drop`` says that labels ;00 and ;01 (four of them at nominal 60) are skipped each minute but every tenth.
    No float enters label or sample arithmetic anywhere.

    Raises
    ------
    InputError
        when the parts contradict each other, or drop-frame is asked for where it does not exist

    Source: SMPTE ST 12-1:2014 (the rates); drop-frame exists for nominal 30 and 60 only.
    """

    numerator: int
    denominator: int
    nominal: int
    drop: bool = False

    def __post_init__(self) -> None:
        if self.numerator <= 0 or self.denominator <= 0 or self.nominal <= 0:
            raise InputError(f"{self.numerator}/{self.denominator} is no frame rate; use one of {_offered()}")
        if -(-self.numerator // self.denominator) != self.nominal:
            raise InputError(
                f"{self.numerator}/{self.denominator} frames per second cannot be counted in {self.nominal} labels;"
                f" use one of {_offered()}"
            )
        if self.drop and self.nominal not in (30, 60):
            raise InputError(
                f"Drop-frame does not exist at {_decimal(self.fps)}; use it at 29.97, 30 or 59.94, or leave it out"
            )

    @property
    def fps(self) -> Fraction:
        """Frames per second, exact."""
        return Fraction(self.numerator, self.denominator)

    @property
    def dropped(self) -> int:
        """Labels skipped in a minute that skips: 0, 2 or 4."""
        return self.nominal // 15 if self.drop else 0

    @property
    def frames_per_day(self) -> int:
        """How many labels there are from 00:00:00:00 until they start again."""
        return self.nominal * 86_400 - self.dropped * (1440 - 144)

    @property
    def pair(self) -> Rate:
        """The rate at which linear time code runs: above 30 frames per second one code word covers two frames."""
        if self.nominal <= 30:
            return self
        half = self.fps / 2
        return Rate(half.numerator, half.denominator, self.nominal // 2, self.drop)

    def samples_per_frame(self, sample_rate_hz: int | Fraction) -> Fraction:
        """Length of one frame in samples, exact: 8008/5 at 29.97 and 48 kHz."""
        return exact_sample_rate(sample_rate_hz) / self.fps

    def __str__(self) -> str:
        name = _decimal(self.fps)
        if self.nominal not in (30, 60):
            return name
        if self.drop:
            return f"{name} DF"
        return f"{name} ND" if self.denominator != 1 else name

    @staticmethod
    def parse(text: str, drop: bool | None = None) -> Rate:
        """Read a rate as found in the wild: ``23.98``, ``2997ND``, ``30000/1001``, ``25``, ``29.97DF``, ``025.000-ND``.

        Parameters
        ----------
        text : str
            the rate; without a drop-frame mark it counts as non-drop
        drop : bool, optional
            the drop-frame flag where a file keeps it apart from the rate; a mark in the text that says
            otherwise is an error
        """
        return _parse(text, drop)


def _rates() -> tuple[Rate, ...]:
    whole = [(n, 1, n, False) for n in (24, 25, 30, 48, 50, 60)]
    pulled = [(n * 1000, 1001, n, False) for n in (24, 30, 48, 60)]
    dropped = [(30_000, 1001, 30, True), (30, 1, 30, True), (60_000, 1001, 60, True)]
    found = [Rate(*parts) for parts in whole + pulled + dropped]
    return tuple(sorted(found, key=lambda rate: (rate.fps, rate.drop)))


def _offered() -> str:
    return "23.976, 24, 25, 29.97 ND, 29.97 DF, 30, 30 DF, 47.952, 48, 50, 59.94 ND, 59.94 DF, 60"


def _decimal(fps: Fraction) -> str:
    """The customary name: 23.976, 29.97, 47.952, 59.94, or the whole number."""
    if fps.denominator == 1:
        return str(fps.numerator)
    if fps.denominator == 1001:
        thousandths = (fps.numerator * 1000 + 500) // 1001
        return f"{thousandths // 1000}.{thousandths % 1000:03d}".rstrip("0")
    return str(fps)


RATES: tuple[Rate, ...] = _rates()
"""Every rate of the trade that labels are made for, slowest first."""

_MARKS = {
    "": None,
    "d": True,
    "df": True,
    "drop": True,
    "dropframe": True,
    "n": False,
    "nd": False,
    "ndf": False,
    "nondrop": False,
    "nondropframe": False,
}
_FORM = re.compile(
    r"^0*(?P<number>\d+(?:[.,]\d+)?)(?:/0*(?P<under>\d+(?:[.,]\d+)?))?(?:fps|p|psf)?(?P<mark>d|df|drop|dropframe|n|nd|ndf|nondrop|nondropframe)?$"
)
_WITHOUT_POINT = {
    "2397": "23.976", "2398": "23.976", "23976": "23.976", "2997": "29.97", "4795": "47.952", "47952": "47.952",
    "5994": "59.94",
}  # fmt: skip
_SLACK = Fraction(9, 1000)  # 23.97 and 47.96 are met in files; the next exact rate is at least 0.02 away


def _parse(text: str, drop: bool | None) -> Rate:
    form = _FORM.match(re.sub(r"(?<=.)-|[\s_()]", "", text.casefold()))
    if not form:
        raise InputError(f"'{text}' is no frame rate; write one of {_offered()}")
    mark = _MARKS[form["mark"] or ""]
    if mark is not None and drop is not None and mark != drop:
        raise InputError(
            f"'{text}' says {'drop' if mark else 'non-drop'} but its flag says {'drop' if drop else 'non-drop'};"
            " find out which holds"
        )
    drop = mark if mark is not None else bool(drop)
    number = form["number"].replace(",", ".")
    under = Fraction((form["under"] or "1").replace(",", "."))
    if not under:
        raise InputError(f"'{text}' divides by nothing; write one of {_offered()}")
    fps = Fraction(_WITHOUT_POINT.get(number, number) if under == 1 else number) / under
    return _nearest(text, fps, drop)


def _nearest(text: str, fps: Fraction, drop: bool) -> Rate:
    """The rate of the table that a written number stands for."""
    for rate in RATES:
        slack = _SLACK if rate.denominator != 1 else 0
        if not rate.drop and abs(rate.fps - fps) <= slack:
            return Rate(rate.numerator, rate.denominator, rate.nominal, drop) if drop else rate
    raise InputError(f"'{text}' is no frame rate that labels are made for; write one of {_offered()}")


def exact_sample_rate(sample_rate_hz: int | Fraction) -> Fraction:
    """Check a sample rate: a positive whole number or ratio, such as 48000, 48048 or 48000000/1001.

    Raises
    ------
    InputError
        for zero, negative numbers and floats (a float has already lost the exact ratio)
    """
    if isinstance(sample_rate_hz, bool) or not isinstance(sample_rate_hz, int | Fraction) or sample_rate_hz <= 0:
        raise InputError(f"{sample_rate_hz} is no sample rate; give a positive whole number of hertz, or a ratio")
    return Fraction(sample_rate_hz)

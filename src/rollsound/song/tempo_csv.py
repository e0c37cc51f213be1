"""Tempo maps as sheets: one row for each change, ``bar, beat, tempo, meter``.

``bar`` is needed; ``beat`` is where in the bar the change is (1 when left out), ``tempo`` is quarters a minute unless
``note`` names the note that is counted (1/8, or 3/8 for a dotted quarter), ``meter`` is written 3/4, or as ``beats``,
how many quarters a bar has. What is left out stays as it was. A last row with ``end`` as its tempo ends the song there.
``name`` names the part that begins there.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from fractions import Fraction

from rollsound.errors import InputError, Mistake, MistakesError
from rollsound.song.tempo import Meter, TempoMap, tempo_map

SLOWEST, FASTEST = 5, 1000
MOST_BARS = 100_000
_NAMES = {
    "bar": "bar", "measure": "bar", "beat": "beat", "beats": "beats", "tempo": "tempo", "bpm": "tempo",
    "meter": "meter", "metre": "meter", "time signature": "meter", "signature": "meter", "note": "note",
    "name": "name", "part": "name", "marker": "name",
}  # fmt: skip
_NUMBER = re.compile(r"[+-]?\d{1,9}(?:[.,]\d{1,9})?")
_RATIO = re.compile(r"(\d{1,3})\s*/\s*(\d{1,3})")
_END = ("end", "fine")


def read_tempo_csv(text: str, name: str) -> TempoMap:
    """Read a sheet; commas, semicolons and tabs part its columns.

    Raises
    ------
    MistakesError
        with every mistake and its line
    InputError
        when it has no column ``bar``, or no rows
    """
    if "\x00" in text:
        raise InputError(f"{name} is no text; a tempo map is a CSV sheet or a standard MIDI file")
    head, _, _ = text.lstrip().partition("\n")
    divider = max(",;\t", key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=divider))
    except csv.Error as error:
        raise InputError(f"{name} is no sheet that can be read ({error}); save it as CSV again") from error
    lines = [(n, row) for n, row in enumerate(rows, 1) if any(cell.strip() for cell in row)]
    if not lines:
        raise InputError(f"{name} is empty; write a head 'bar, tempo, meter' and a row for each change")
    columns = {_NAMES[word]: at for at, cell in enumerate(lines[0][1]) if (word := cell.strip().casefold()) in _NAMES}
    if "bar" not in columns:
        found = ", ".join(cell.strip() for cell in lines[0][1][:6])
        raise InputError(f"{name} has no column 'bar' (its head is: {found}); write a head 'bar, tempo, meter'")
    if len(lines) == 1:
        raise InputError(f"{name} has a head and no rows; write one for bar 1, with tempo and meter")
    return _Sheet(name).read(
        [(n, {key: row[at].strip() for key, at in columns.items() if at < len(row)}) for n, row in lines[1:]]
    )


class _Sheet:
    """The rows going by."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.mistakes: list[Mistake] = []
        self.meters: list[tuple[Fraction, Meter]] = []
        self.tempos: list[tuple[Fraction, Fraction]] = []
        self.marks: list[tuple[Fraction, str]] = []
        self.end: Fraction | None = None
        self.meter = Meter(4, 4)
        self.note = Fraction(1, 4)
        self.bar: int | None = None
        self.quarters = Fraction(0)
        """Where ``bar`` begins."""

    def read(self, rows: list[tuple[int, Mapping[str, str]]]) -> TempoMap:
        first_bar = 1
        for line, row in rows:
            try:
                if self._row(row) and self.bar is not None:
                    first_bar = self.bar
            except InputError as error:
                self.mistakes.append(Mistake(f"bar {row.get('bar') or '?'}", line, error.sentence))
        if self.mistakes:
            raise MistakesError(self.name, self.mistakes)
        if not self.tempos:
            raise InputError(f"{self.name} tells no tempo; write one in the row of its first bar")
        return tempo_map(self.meters, self.tempos, first_bar=first_bar, end_quarters=self.end, marks=self.marks)

    def _row(self, row: Mapping[str, str]) -> bool:
        """Take one row over; true for the first."""
        bar = _bar(row.get("bar", ""))
        first = self.bar is None
        if self.end is not None:
            raise InputError("stands after the end; put it before the row that says 'end'")
        if self.bar is not None:
            if bar < self.bar:
                raise InputError(f"stands after bar {self.bar}; put the rows in the order of the song")
            self.quarters += (bar - self.bar) * self.meter.bar_quarters
        self.bar = bar
        meter = _meter(row.get("meter", ""), row.get("beats", ""))
        beat = _number(row.get("beat", "") or "1", "beat")
        if meter is not None:
            if beat != 1:
                raise InputError("changes the meter inside a bar; a meter begins on beat 1")
            self.meter = meter
            self.meters.append((self.quarters, meter))
        if not 1 <= beat < self.meter.beats + 1:
            raise InputError(f"has no beat {row.get('beat')} in {self.meter}; beats run from 1 to {self.meter.beats}")
        if first and beat != 1:
            raise InputError("begins the map, so its beat must be 1")
        at = self.quarters + (beat - 1) * self.meter.beat_quarters
        if row.get("note"):
            self.note = _ratio(row["note"], "note", "1/4, or 3/8 for a dotted quarter")
        tempo = row.get("tempo", "")
        if tempo.casefold() in _END:
            if at <= 0:
                raise InputError("ends the song where it begins; put 'end' after its last bar")
            self.end = at
        elif tempo:
            per_minute = _number(tempo, "tempo")
            if not SLOWEST <= per_minute <= FASTEST:
                raise InputError(f"has tempo {tempo}; write beats a minute from {SLOWEST} to {FASTEST}")
            self.tempos.append((at, 60 / per_minute / (4 * self.note)))
        if row.get("name"):
            self.marks.append((at, row["name"][:80]))
        return first


def _bar(text: str) -> int:
    if not re.fullmatch(r"[+-]?\d{1,6}", text) or abs(int(text)) > MOST_BARS:
        raise InputError(f"has '{text[:20]}' as its bar; write a whole number, such as 17")
    return int(text)


def _number(text: str, what: str) -> Fraction:
    if not _NUMBER.fullmatch(text):
        raise InputError(
            f"has '{text[:20]}' as its {what}; write a number, such as {'2.5' if what == 'beat' else '96'}"
        )
    return Fraction(text.replace(",", "."))


def _ratio(text: str, what: str, example: str) -> Fraction:
    found = _RATIO.fullmatch(text)
    if not found or not int(found[1]) or not int(found[2]):
        raise InputError(f"has '{text[:20]}' as its {what}; write it as {example}")
    return Fraction(int(found[1]), int(found[2]))


def _meter(meter: str, beats: str) -> Meter | None:
    """The meter of a row: as a ratio, or as a number of quarters; the two must not contradict each other."""
    found = _RATIO.fullmatch(meter)
    if meter and not found:
        raise InputError(f"has '{meter[:20]}' as its meter; write it as 3/4")
    told = Meter(int(found[1]), int(found[2])) if found else None
    if not beats:
        return told
    if not re.fullmatch(r"\d{1,3}", beats):
        raise InputError(f"has '{beats[:20]}' as its beats; write how many a bar has, such as 3")
    if told is not None and told.beats != int(beats):
        raise InputError(f"has {beats} beats and the meter {told}; write one of the two")
    return told or Meter(int(beats), 4)

"""Tempo maps of standard MIDI files: tempo, time signature, markers and the end, of all that such a file holds.

Our own reader of those four events: the kept library for such files refuses whole files for chunks that the format
says to pass over, and knows no division by time code; it is the judge of this reader in the tests.

Source: Standard MIDI Files 1.0 (MIDI Manufacturers Association, RP-001): chunks, variable-length quantities, running
status, Set Tempo FF 51 03, Time Signature FF 58 04, Marker FF 06, End of Track FF 2F 00; division by time code.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from rollsound.errors import InputError
from rollsound.song.tempo import DEFAULT_QUARTERS_PER_MINUTE, Meter, TempoMap, tempo_map

HEAD = b"MThd"
LARGEST_BYTES = 16_000_000
_TRACK = b"MTrk"
_TEMPO, _SIGNATURE, _MARKER, _CUE, _END = 0x51, 0x58, 0x06, 0x07, 0x2F
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_CODE_RATES = {24: Fraction(24), 25: Fraction(25), 29: Fraction(30_000, 1001), 30: Fraction(30)}


@dataclass
class _Events:
    """What is wanted of a file, by ticks."""

    tempos: list[tuple[int, Fraction]] = field(default_factory=list)
    meters: list[tuple[int, Meter]] = field(default_factory=list)
    marks: list[tuple[int, str]] = field(default_factory=list)
    end: int = 0


def read_tempo_midi(data: bytes, name: str) -> TempoMap:
    """Read the tempo map of a standard MIDI file of format 0 or 1.

    The song ends where the longest track does, if any track says more than tempo; bars count from 1.

    Raises
    ------
    InputError
        when it is no such file, breaks off, or holds several songs
    """
    if data[:4] != HEAD or len(data) < 14:
        raise InputError(f"{name} is no standard MIDI file; export the song's tempo map again, or write it as CSV")
    if len(data) > LARGEST_BYTES:
        raise InputError(f"{name} is far too large for a tempo map; export the tempo track alone")
    length = int.from_bytes(data[4:8], "big")
    form, division = int.from_bytes(data[8:10], "big"), int.from_bytes(data[12:14], "big")
    if form == 2:
        raise InputError(f"{name} is of format 2, which holds several songs side by side; export it as format 0 or 1")
    if form > 2 or length < 6:
        raise InputError(f"{name} is of no format that is known ({form}); export it as format 0 or 1")
    if division == 0:
        raise InputError(f"{name} says 0 ticks a quarter, so nothing in it has a time; export it again")
    events, tracks, at = _Events(), 0, 8 + length
    while at + 8 <= len(data):
        kind, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        if kind == _TRACK:  # whatever else there is, the format says to pass over
            if at + 8 + size > len(data):
                raise InputError(f"{name} breaks off in its track {tracks + 1}; copy or export it again")
            tracks += 1
            _Track(data[at + 8 : at + 8 + size], name, tracks).read(events)
        at += 8 + size
    if not tracks:
        raise InputError(f"{name} holds no track; export it again")
    return _map(events, division, name)


def _map(events: _Events, division: int, name: str) -> TempoMap:
    if division < 0x8000:
        places = {tick: Fraction(tick, division) for tick in _ticks(events)}
    else:
        places = _quarters_by_code(events, division, name)
    end = places[events.end] if events.end else None
    return tempo_map(
        [(places[tick], meter) for tick, meter in events.meters],
        [(places[tick], speed) for tick, speed in events.tempos],
        end_quarters=end,
        marks=[(places[tick], text) for tick, text in events.marks],
    )


def _ticks(events: _Events) -> set[int]:
    rows = (*events.tempos, *events.meters, *events.marks)
    return {events.end, *(row[0] for row in rows)}


def _quarters_by_code(events: _Events, division: int, name: str) -> dict[int, Fraction]:
    """Quarters at each tick where ticks are parts of a time code frame: seconds that the tempo turns into quarters."""
    frames, parts = 256 - (division >> 8), division & 0xFF
    if frames not in _CODE_RATES or not parts:
        raise InputError(
            f"{name} counts by a time code that does not exist ({frames} frames a second); export it again"
        )
    tick_s = 1 / (_CODE_RATES[frames] * parts)
    tempos = dict(sorted(events.tempos))
    speed = Fraction(60, DEFAULT_QUARTERS_PER_MINUTE)
    quarters, last, places = Fraction(0), 0, {}
    for tick in sorted(_ticks(events)):
        quarters += (tick - last) * tick_s / speed
        places[tick], last = quarters, tick
        speed = tempos.get(tick, speed)
    return places


class _Track:
    """One track chunk being read."""

    def __init__(self, data: bytes, name: str, number: int) -> None:
        self._data, self._at = data, 0
        self._name, self._number = name, number

    def read(self, events: _Events) -> None:
        tick, last, status, heard = 0, 0, 0, False
        while self._at < len(self._data):
            last, tick = tick, tick + self._quantity()
            first = self._byte()
            if first == 0xFF:
                kind = self._byte()
                body = self._take(self._quantity())
                if kind == _END:
                    break
                self._meta(kind, body, tick, events)
                continue
            if first in (0xF0, 0xF7):
                self._take(self._quantity())
                status = 0
                continue
            if first >= 0x80:
                status = first
            else:
                self._at -= 1  # running status: this byte is data already
            if status & 0xF0 not in _DATA_BYTES:
                self._broken()
            self._take(_DATA_BYTES[status & 0xF0])
            heard = True
        if heard or tick > last:  # of a track of tempos alone the last of them is no end
            events.end = max(events.end, tick)

    def _meta(self, kind: int, body: bytes, tick: int, events: _Events) -> None:
        if kind == _TEMPO and len(body) >= 3:
            microseconds = int.from_bytes(body[:3], "big")
            if not microseconds:
                raise InputError(f"{self._name} has a tempo without end in its track {self._number}; export it again")
            events.tempos.append((tick, Fraction(microseconds, 1_000_000)))
        elif kind == _SIGNATURE and len(body) >= 2:
            if not body[0] or body[1] > 6:
                raise InputError(
                    f"{self._name} has a meter of {body[0]} beats of 1/2^{body[1]} in its track {self._number}, which "
                    "no music has; export it again"
                )
            events.meters.append((tick, Meter(min(body[0], 64), 1 << body[1])))
        elif kind in (_MARKER, _CUE):
            text = body.decode("utf-8", "replace").strip()
            if text:
                events.marks.append((tick, text[:80]))

    def _quantity(self) -> int:
        value = 0
        for _ in range(4):
            byte = self._byte()
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        return self._broken()

    def _byte(self) -> int:
        if self._at >= len(self._data):
            self._broken()
        self._at += 1
        return self._data[self._at - 1]

    def _take(self, size: int) -> bytes:
        if self._at + size > len(self._data):
            self._broken()
        self._at += size
        return self._data[self._at - size : self._at]

    def _broken(self) -> int:
        raise InputError(
            f"{self._name} cannot be read from byte {self._at} of its track {self._number} on; copy or export it again"
        )

"""The tempo maps of the demo's songs, as the files that its plan names: one a sheet, one a standard MIDI file."""

from __future__ import annotations

from fractions import Fraction

from rollsound.demo.song import BEAT_S, COUNT_IN_BEATS, SONG_BEATS

HARBOUR_SONG = "songs/harbour song.csv"
CROSSING = "songs/the crossing.mid"
BEATS_IN_BAR = COUNT_IN_BEATS
HARBOUR_BARS = SONG_BEATS // BEATS_IN_BAR
_TICKS = 480
# bars, beats of quarters, quarters a minute
_CROSSING = ((8, 4, "72"), (8, 3, "108"), (1, 2, "108"), (8, 4, "80"))


def harbour_song_csv() -> str:
    """The song that the choir sings on day 4: sixteen bars of three, the second verse from bar 9."""
    per_minute = Fraction(60) / Fraction(BEAT_S).limit_denominator(10_000)
    rows = (
        "bar,beat,tempo,meter,name",
        f"1,1,{float(per_minute):g},{BEATS_IN_BAR}/4,First verse",
        "9,1,,,Second verse",
        f"{HARBOUR_BARS + 1},1,end,,",
    )
    return "\n".join(rows) + "\n"


def crossing_midi() -> bytes:
    """A song that is still to be sung: four, then three and faster, a bar of two, and back."""
    conductor, tail = bytearray(), 0
    for bars, beats, per_minute in _CROSSING:
        microseconds = round(60_000_000 / Fraction(per_minute))
        conductor += _quantity(tail) + bytes((0xFF, 0x58, 4, beats, 2, 24, 8))
        conductor += bytes((0, 0xFF, 0x51, 3)) + microseconds.to_bytes(3, "big")
        tail = bars * beats * _TICKS
    conductor += _quantity(tail) + bytes((0xFF, 0x2F, 0))
    head = b"MThd" + (6).to_bytes(4, "big") + b"".join(n.to_bytes(2, "big") for n in (0, 1, _TICKS))
    return head + b"MTrk" + len(conductor).to_bytes(4, "big") + bytes(conductor)


def _quantity(value: int) -> bytes:
    """A variable-length quantity: seven bits a byte, all but the last with the high bit."""
    out = bytearray((value & 0x7F,))
    while value := value >> 7:
        out.insert(0, value & 0x7F | 0x80)
    return bytes(out)


def song_files() -> dict[str, str | bytes]:
    """Name and content of each."""
    return {HARBOUR_SONG: harbour_song_csv(), CROSSING: crossing_midi()}

"""Northbound Ferry, day 4: who plays, who wears what, where, and when each take rolled.

An invented television drama: the choir of a coastal ferry sings at each harbour. All names are ours. Times are seconds
of the day's clock, counted from ``Day.starts_at``; the day is compressed, so that only seconds lie between takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

SAMPLE_RATE_HZ = 48000


class Site(StrEnum):
    """The three places of work, and the break."""

    DECK = "car deck"
    QUAY = "quay at Skarvik"
    CHAPEL = "timber chapel"
    BREAK = "lunch"


@dataclass(frozen=True)
class Person:
    """One character and the invented performer behind it; ``pitch_hz`` is the usual speaking pitch.

    ``tract`` scales the formants (1 = the published average of men), ``breath`` is how much air is in the voice.
    """

    name: str
    performer: str
    pitch_hz: float
    tract: float
    breath: float
    liveliness: float
    part: str = ""


PEOPLE: tuple[Person, ...] = (
    Person("Bram", "Joris Achterberg", 98.0, 0.96, 0.05, 1.8),
    Person("Idris", "Gethin Okafor", 112.0, 1.00, 0.04, 2.2, "bass"),
    Person("Runa", "Tuva Lindqvist-Rao", 205.0, 1.17, 0.06, 2.8, "tune"),
    Person("Tomasz", "Piotr Wierzba", 124.0, 1.03, 0.05, 2.4),
    Person("Anoush", "Nare Petrosyan", 218.0, 1.20, 0.08, 2.6),
    Person("Okello", "Daudi Mbatha", 104.0, 0.98, 0.07, 2.0),
    Person("Maelis", "Gwenn Le Dantec", 192.0, 1.14, 0.05, 3.0),
    Person("Haru", "Sota Minamino", 131.0, 1.05, 0.06, 2.6, "tenor"),
    Person("Signy", "Ragnhild Tverrdal", 168.0, 1.12, 0.10, 1.9, "alto"),
    Person("Leila", "Samira Haddou", 226.0, 1.22, 0.05, 2.7, "tune"),
    Person("Nkechi", "Adaeze Uzoma", 212.0, 1.16, 0.04, 2.5, "alto"),
)
CREW = Person("second assistant", "crew", 118.0, 1.02, 0.05, 1.5)

MIX, BOOMS, MUSIC = ("Mix L", "Mix R"), ("Boom 1", "Boom 2", "Boom 3"), ("Playback", "Click", "Time code")


@dataclass(frozen=True)
class Take:
    """One recorder file. ``mono_set`` writes one file a track; ``lost_power`` leaves it never finalised."""

    file: str
    site: Site
    scene: str
    slate: str
    take: str
    start_s: float
    seconds: float
    kind: str = "take"
    circled: bool = False
    note: str = ""
    sung: bool = False
    mono_set: bool = False
    lost_power: bool = False

    @property
    def end_s(self) -> float:
        """Where it stops on the day's clock."""
        return self.start_s + self.seconds


@dataclass(frozen=True)
class Block:
    """Unbroken time at one site: who is there, with which radio mics, in the order of the tracks."""

    site: Site
    start_s: float
    end_s: float
    radios: tuple[str, ...] = ()
    booms: tuple[str, ...] = BOOMS


@dataclass(frozen=True)
class Card:
    """A recording inside one transmitter.

    ``spans`` are the files (start and end on the day's clock; touching spans are one recording split in two).
    ``rate_ppm`` is how fast its crystal runs against the recorder's, ``warm_up_ppm`` what decays from it with
    ``warm_up_tau_s``. ``jam_error_s`` is how far its time stamp is off. At ``rejam_s`` it stands still for
    ``rejam_lost`` samples. ``sheet_track`` is the track that the wearers sheet claims it for.
    """

    name: str
    wearer: str
    spans: tuple[tuple[float, float], ...]
    rate_ppm: float
    floating: bool = False
    has_timecode: bool = True
    finalised: bool = True
    jam_error_s: float = 0.0
    warm_up_ppm: float = 0.0
    warm_up_tau_s: float = 180.0
    rejam_s: float | None = None
    rejam_lost: int = 0
    sheet_track: str = ""
    other_day: bool = False


@dataclass(frozen=True)
class Damage:
    """Something wrong on one track of one take: from ``start_s`` of the take, for ``length_s``, at ``level_dbfs``.

    Kinds: dropout, mute, radio-hit, click, dead, clip, hum, polarity. A length of zero means the whole take.
    """

    file: str
    track: str
    kind: str
    start_s: float = 0.0
    length_s: float = 0.0
    level_dbfs: float = 0.0


@dataclass(frozen=True)
class Day:
    """Everything that is synthesised."""

    project: str
    sound_roll: str
    date: str
    starts_at: str
    blocks: tuple[Block, ...]
    takes: tuple[Take, ...]
    cards: tuple[Card, ...]
    damages: tuple[Damage, ...]
    delays_ms: tuple[tuple[str, float], ...]

    @property
    def delay_samples(self) -> dict[str, float]:
        """The fixed delay of each radio path, in samples."""
        return {track: ms * SAMPLE_RATE_HZ / 1000.0 for track, ms in self.delays_ms}

    def block_of(self, take: Take) -> Block:
        """The block that holds a take."""
        return next(b for b in self.blocks if b.start_s <= take.start_s and take.end_s <= b.end_s)

    def tracks_of(self, take: Take) -> tuple[str, ...]:
        """The names of a take's tracks, in order."""
        block = self.block_of(take)
        return (*MIX, *block.booms, *block.radios, *(MUSIC if take.sung else ()))


def person(name: str) -> Person:
    """The person of a name."""
    return next(p for p in (*PEOPLE, CREW) if p.name == name)

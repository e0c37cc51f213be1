"""Speech against a place: how far a voice stands over the noise and over the room at a microphone, and how far a boom
may go.

The voice's direct sound falls by the inverse distance law; the room's answer to it stays the same everywhere and meets
the direct sound at the critical distance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.measure.place.ratings import speech_interference_db
from rollsound.measure.place.tables import efforts, figure, figure_source, grades

NEAREST_M = 0.02
FARTHEST_M = 1000.0


@dataclass(frozen=True)
class SpeechAt:
    """A voice at a microphone.

    ``speech_dba`` is its direct sound alone. What is not known of the place (its noise, its reverberation and volume,
    its octaves) leaves the figures that need it empty.
    """

    distance_m: float
    effort: str
    speech_dba: float
    noise_dba: float | None
    speech_to_noise_db: float | None
    critical_distance_m: float | None
    direct_to_reverberant_db: float | None
    interference_db: float | None
    intelligibility: str
    serves: bool | None
    """Whether all that is known of the place meets what is asked; none when nothing is known."""


@dataclass(frozen=True)
class Farthest:
    """How far from a mouth a boom still serves, what limits it, and what was asked, with its source."""

    distance_m: float | None
    """None when nothing is known that would limit it."""
    limited_by: str
    by_noise_m: float | None
    by_room_m: float | None
    criterion: str
    source: str


def level_at_m_dba(effort: str) -> float:
    """A-weighted level 1 m in front of the mouth.

    Raises
    ------
    InputError
        when there is no such vocal effort
    """
    known = efforts()
    effort = effort.replace("-", " ")
    if effort not in known:
        raise InputError(f"'{effort[:40]}' is no vocal effort; there are: {', '.join(known)}")
    return float(known[effort].level)


def by_distance_db(distance_m: float, from_m: float = 1.0) -> float:
    """What direct sound loses from one distance to another, as a negative number; a gain nearer.

    Raises
    ------
    InputError
        when a distance is not one that sound has been measured at
    """
    for each in (distance_m, from_m):
        if not NEAREST_M <= each <= FARTHEST_M:
            raise InputError(
                f"a distance of {each:g} m from the mouth is none to reckon with; it lies between {NEAREST_M:g} and "
                f"{FARTHEST_M:g} m"
            )
    return -20.0 * math.log10(distance_m / from_m)


def critical_distance_m(reverberation_s: float, volume_m3: float, *, directivity: float | None = None) -> float:
    """Where a voice's direct sound and the room's answer are equally loud.

    Parameters
    ----------
    directivity
        directivity factor of the voice times that of the microphone; of the voice alone when None

    Raises
    ------
    InputError
        when time or volume are not more than nothing

    Source: r_c = 0.057 sqrt(Q V / T), from Sabine's law.
    """
    if not (reverberation_s > 0.0 and volume_m3 > 0.0):
        raise InputError("a critical distance needs a reverberation time and a volume that are more than nothing")
    q = figure("voice-directivity") if directivity is None else directivity
    return figure("critical-distance") * math.sqrt(q * volume_m3 / reverberation_s)


def speech_at(
    distance_m: float,
    effort: str = "normal",
    noise_dba: float | None = None,
    *,
    reverberation_s: float | None = None,
    volume_m3: float | None = None,
    noise_octaves_db: Sequence[float] | None = None,
    pickup_db: float = 0.0,
    least_speech_to_noise_db: float | None = None,
    least_direct_to_reverberant_db: float | None = None,
) -> SpeechAt:
    """A voice at a microphone in a place.

    Parameters
    ----------
    distance_m
        from the mouth
    effort
        relaxed, normal, raised, loud or very loud (ISO 9921)
    noise_dba
        of the place
    reverberation_s, volume_m3
        of the room; both, or the room is left out
    noise_octaves_db
        levels of the noise, 63 Hz to 8 kHz, for the speech interference level
    pickup_db
        directivity index of the microphone, by which it hears noise from all around and the room less
    least_speech_to_noise_db, least_direct_to_reverberant_db
        what is asked; the table's when None

    Raises
    ------
    InputError
        when a distance or an effort is none
    """
    speech = level_at_m_dba(effort) + by_distance_db(distance_m)
    over_noise = None if noise_dba is None else speech - noise_dba + pickup_db
    critical = _critical(reverberation_s, volume_m3, pickup_db)
    over_room = None if critical is None else 20.0 * math.log10(critical / distance_m)
    interference = _interference(noise_octaves_db)
    asked_noise, asked_room = _asked(least_speech_to_noise_db, least_direct_to_reverberant_db)
    held = [
        value >= asked - 1e-9
        for value, asked in ((over_noise, asked_noise), (over_room, asked_room))
        if value is not None
    ]
    return SpeechAt(
        distance_m=distance_m,
        effort=effort,
        speech_dba=speech,
        noise_dba=noise_dba,
        speech_to_noise_db=over_noise,
        critical_distance_m=critical,
        direct_to_reverberant_db=over_room,
        interference_db=None if interference is None else speech - interference + pickup_db,
        intelligibility="" if interference is None else intelligibility(speech - interference + pickup_db),
        serves=all(held) if held else None,
    )


def farthest_boom_m(
    effort: str = "normal",
    noise_dba: float | None = None,
    *,
    reverberation_s: float | None = None,
    volume_m3: float | None = None,
    pickup_db: float = 0.0,
    least_speech_to_noise_db: float | None = None,
    least_direct_to_reverberant_db: float | None = None,
) -> Farthest:
    """How far a boom may be from a mouth for its voice to stand over noise and room as is asked.

    Parameters are those of ``speech_at``.

    Raises
    ------
    InputError
        when an effort is none
    """
    asked_noise, asked_room = _asked(least_speech_to_noise_db, least_direct_to_reverberant_db)
    by_noise = None
    if noise_dba is not None:
        by_noise = 10.0 ** ((level_at_m_dba(effort) - noise_dba + pickup_db - asked_noise) / 20.0)
    critical = _critical(reverberation_s, volume_m3, pickup_db)
    by_room = None if critical is None else critical * 10.0 ** (-asked_room / 20.0)
    known = [each for each in ((by_noise, "noise"), (by_room, "room")) if each[0] is not None]
    distance, by = min(known, key=lambda each: each[0] or 0.0) if known else (None, "")
    source = "; ".join(
        figure_source(name)
        for name, value in (("speech-over-noise", by_noise), ("direct-over-room", by_room))
        if value is not None
    )
    return Farthest(distance, by, by_noise, by_room, criterion(asked_noise, asked_room, by_room is not None), source)


def criterion(speech_to_noise_db: float, direct_to_reverberant_db: float, room: bool = True) -> str:
    """What is asked, in words."""
    told = f"speech {speech_to_noise_db:g} dB over the noise, A-weighted"
    return f"{told}, and direct sound {direct_to_reverberant_db:g} dB over the room" if room else told


def intelligibility(speech_over_interference_db: float) -> str:
    """The grade of ISO 9921 for speech over its interference level: excellent, good, sufficient, poor or bad."""
    for grade, least in grades():
        above = speech_over_interference_db > least if grade == "excellent" else speech_over_interference_db >= least
        if above:
            return grade
    return "bad"


def _asked(noise_db: float | None, room_db: float | None) -> tuple[float, float]:
    return (
        figure("speech-over-noise") if noise_db is None else noise_db,
        figure("direct-over-room") if room_db is None else room_db,
    )


def _critical(reverberation_s: float | None, volume_m3: float | None, pickup_db: float) -> float | None:
    if reverberation_s is None or volume_m3 is None or math.isnan(reverberation_s):
        return None
    q = figure("voice-directivity") * 10.0 ** (pickup_db / 10.0)
    return critical_distance_m(reverberation_s, volume_m3, directivity=q)


def _interference(octaves_db: Sequence[float] | None) -> float | None:
    if octaves_db is None:
        return None
    level = speech_interference_db(octaves_db)
    return None if math.isnan(level) else level

"""What the sound of a site can be asked: does speech stand over it at the boom, does the measurement hold, what hums.

Every check that ran answers, with a fine finding where it holds; where nothing was measured it stays silent.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rollsound.finding import Area, Finding, Weight, about_plan
from rollsound.measure.place.hours import Overlap, clock, overlaps
from rollsound.measure.place.model import OctaveDecay, PlaceTone, SiteSound
from rollsound.measure.place.octaves import NAMES, nominal
from rollsound.measure.place.speech import criterion, farthest_boom_m, speech_at
from rollsound.measure.place.tables import figure, figure_source, limit, limit_source
from rollsound.quantities import count

PRACTICE = "common practice, no source"
_SPEECH_OCTAVES = ("500", "1k", "2k")


@dataclass(frozen=True)
class WorkingDay:
    """A day's hours at the site; ``date`` is empty when it is not fixed."""

    id: str
    name: str
    call: str
    wrap: str
    date: str = ""


def proofs(
    site_id: str, name: str, sound: SiteSound, days: Iterable[WorkingDay] = (), *, uncalibrated: bool = False
) -> list[Finding]:
    """Every proof over the sound of a site.

    Parameters
    ----------
    days
        those that work at the site, for its noisy hours
    uncalibrated
        whether its noise was recorded without a calibration
    """
    tell = _Tell(site_id, name)
    result: list[Finding] = []
    if uncalibrated:
        result.append(_no_calibration(tell))
    if sound.laeq_dba is not None:
        result += [_speech_over_noise(tell, sound, sound.laeq_dba), _boom(tell, sound)]
    elif middle_t_s(sound) is not None and sound.volume_m3 is not None:
        result.append(_boom(tell, sound))
    if sound.tones or uncalibrated or sound.octaves:
        result += _hum(tell, sound.tones)
    if sound.reverberation:
        result.append(_reverberation(tell, sound.reverberation))
    if sound.noisy_hours:
        result += _hours(tell, sound, days)
    return result


def middle_t_s(sound: SiteSound) -> float | None:
    """Mean reverberation time of what holds at 500 Hz and 1 kHz; none when neither does."""
    times = [each.t_s for each in sound.reverberation if each.id in ("500", "1k") and each.t_s is not None]
    return sum(times) / len(times) if times else None


def octave_levels(sound: SiteSound) -> tuple[float, ...] | None:
    """Levels of the octaves 63 Hz to 8 kHz, not a number where one is missing; none when there are none."""
    known = {each.id: float(each.level_db_spl) for each in sound.octaves}
    return tuple(known.get(name, math.nan) for name in NAMES) if known else None


def boom_m(sound: SiteSound) -> float:
    """The planned distance of the boom, or the usual one."""
    return figure("boom-distance") if sound.boom_m is None else float(sound.boom_m)


@dataclass(frozen=True)
class _Tell:
    """Makes findings of one site."""

    site_id: str
    name: str

    def __call__(
        self,
        weight: Weight,
        kind: str,
        what: str,
        *,
        why: str = "",
        remedy: str = "",
        source: str = PRACTICE,
        numbers: Mapping[str, float] | None = None,
        at: tuple[str, ...] = (),
    ) -> Finding:
        return about_plan(
            Area.SIGNAL,
            weight,
            self.name,
            kind,
            what,
            why=why,
            remedy=remedy,
            at=("sites", self.site_id, "sound", *at),
            source=source,
            numbers=numbers,
        )


def _no_calibration(tell: _Tell) -> Finding:
    return tell(
        Weight.WATCH,
        "place calibration",
        f"The noise of {tell.name} was recorded without a calibration, so its levels are relative only.",
        why="Without one nobody knows how far speech stands over the place; what hums and how long it rings holds.",
        remedy="Record a 94 dB SPL calibrator at the same gain and name it with --calibration, or state the microphone "
        "with --sensitivity.",
    )


def _speech_over_noise(tell: _Tell, sound: SiteSound, laeq_dba: float) -> Finding:
    distance = boom_m(sound)
    heard = speech_at(distance, sound.effort, laeq_dba, noise_octaves_db=octave_levels(sound))
    over = heard.speech_to_noise_db or 0.0
    planned = "the planned boom distance of" if sound.boom_m is not None else "a boom distance of"
    asked, lost = figure("speech-over-noise"), figure("speech-lost")
    told = (
        f"At {planned} {distance:g} m a {_effort(sound)} voice stands {over:.0f} dB over the noise of {tell.name} "
        f"({laeq_dba:.0f} dBA)"
    )
    grade = f"; a listener there would understand it {_HOW[heard.intelligibility]}" if heard.intelligibility else ""
    numbers = {"speech_to_noise_db": over, "distance_m": distance, "laeq_dba": float(laeq_dba)}
    if over >= asked:
        return tell(
            Weight.FINE, "place noise", f"{told}{grade}.", source=figure_source("speech-over-noise"), numbers=numbers
        )
    farthest = farthest_boom_m(sound.effort, laeq_dba).distance_m or 0.0
    return tell(
        Weight.WATCH if over >= lost else Weight.STOP,
        "place noise",
        f"{told}, {asked - over:.0f} dB less than asked{grade}.",
        why="So near to the noise, cuts are heard in the place, and post cannot take it off cleanly.",
        remedy=f"Go nearer, to {_near(farthest)}, or plan lavs; have what makes the noise switched off, or the scene "
        "moved to quieter hours.",
        source=figure_source("speech-over-noise"),
        numbers={**numbers, "farthest_m": farthest},
    )


_HOW = {
    "excellent": "excellently",
    "good": "well",
    "sufficient": "sufficiently",
    "poor": "poorly",
    "bad": "badly",
}


def _effort(sound: SiteSound) -> str:
    return sound.effort


def _near(distance_m: float) -> str:
    return f"{distance_m:.1f} m" if distance_m >= 0.1 else "a hand's width"


def _boom(tell: _Tell, sound: SiteSound) -> Finding:
    time, volume = middle_t_s(sound), sound.volume_m3
    noise = None if sound.laeq_dba is None else float(sound.laeq_dba)
    found = farthest_boom_m(
        sound.effort, noise, reverberation_s=time, volume_m3=None if volume is None else float(volume)
    )
    distance, farthest = boom_m(sound), found.distance_m or 0.0
    numbers = {
        "farthest_m": farthest,
        "distance_m": distance,
        **({"by_noise_m": found.by_noise_m} if found.by_noise_m is not None else {}),
        **({"by_room_m": found.by_room_m} if found.by_room_m is not None else {}),
    }
    limits = {"noise": "the noise", "room": "the room's reverberation"}[found.limited_by]
    told = (
        f"In {tell.name} a boom serves a {_effort(sound)} voice up to {_near(farthest)}, limited by {limits} "
        f"({found.criterion})"
    )
    unknown = "" if found.by_room_m is not None else "; its reverberation or volume is not known"
    fine = farthest >= distance - 1e-9
    return tell(
        Weight.FINE if fine else Weight.WATCH,
        "boom distance",
        f"{told}{unknown}." if fine else f"{told}; {distance:g} m is planned{unknown}.",
        remedy="" if fine else "Plan the boom nearer, or lavs; hang blankets where the room is what limits.",
        source=found.source,
        numbers=numbers,
    )


def _hum(tell: _Tell, tones: tuple[PlaceTone, ...]) -> list[Finding]:
    mains = [each for each in tones if each.what.startswith("mains") and (each.over_db or 0.0) >= limit("tone-audible")]
    others = [
        each for each in tones if not each.what.startswith("mains") and (each.over_db or 0.0) >= limit("tone-plain")
    ]
    found = []
    if mains:
        strongest = max(mains, key=lambda each: each.over_db or 0.0)
        rows = ", ".join(
            f"{float(each.frequency_hz):.0f} Hz" for each in sorted(mains, key=lambda e: e.frequency_hz)[:6]
        )
        found.append(
            tell(
                Weight.WATCH,
                "place hum",
                f"{tell.name} hums with the mains: {rows}; the strongest, {float(strongest.frequency_hz):.0f} Hz, "
                f"stands {strongest.over_db or 0.0:.0f} dB over the noise around it.",
                why="It is either in the cable or in the air (ballasts, dimmers, transformers, a fridge), and then in "
                "every microphone.",
                remedy="Listen for it with the recording cable unplugged at the microphone: if it stays, it is in the "
                "wiring; if it goes, find what makes it and have it switched off for the takes.",
                source=limit_source("tone-rise"),
                numbers={"strongest_hz": float(strongest.frequency_hz), "over_db": float(strongest.over_db or 0.0)},
                at=("tones",),
            )
        )
    if others:
        rows = ", ".join(f"{float(each.frequency_hz):,.0f} Hz" for each in others[:6])
        found.append(
            tell(
                Weight.WATCH,
                "place tone",
                f"{count(len(others), 'tone')} {'stays' if len(others) == 1 else 'stay'} in {tell.name}: {rows}.",
                why="A steady tone is heard under every pause, and jumps at every cut where it was not there.",
                remedy="Find the fan, pump, screen or lamp that makes it and have it switched off for the takes.",
                source=limit_source("tone-audible"),
                numbers={"strongest_hz": float(others[0].frequency_hz), "over_db": float(others[0].over_db or 0.0)},
                at=("tones",),
            )
        )
    return found or [tell(Weight.FINE, "place hum", f"No hum and no tone stands out in {tell.name}.", at=("tones",))]


def _reverberation(tell: _Tell, rows: tuple[OctaveDecay, ...]) -> Finding:
    lost = [each for each in rows if each.id in _SPEECH_OCTAVES and not each.holds]
    held = [each for each in rows if each.t_s is not None]
    source = limit_source("t20-range")
    if lost:
        names = ", ".join(nominal(NAMES.index(each.id)) for each in lost)
        why = next((each.note for each in lost if each.note), "")
        return tell(
            Weight.WATCH,
            "place reverberation",
            f"The reverberation of {tell.name} does not hold at {names}.",
            why=f"{why[:1].upper()}{why[1:]}." if why else "",
            remedy="Record several bursts again, louder, in a quiet moment, each left to ring out; or play a sweep.",
            source=source,
            numbers={"octaves_lost": float(len(lost))},
            at=("reverberation",),
        )
    time = max((each.t_s or 0.0 for each in held if each.id in _SPEECH_OCTAVES), default=0.0)
    return tell(
        Weight.FINE,
        "place reverberation",
        f"{tell.name} rings for {time:.1f} s at the octaves of speech; the decays are long and straight enough to hold."
        if time
        else f"The reverberation of {tell.name} holds in {count(len(held), 'octave')}, none of speech.",
        source=source,
        numbers={"t_s": time, "least_range_db": limit("t20-range")},
        at=("reverberation",),
    )


def _hours(tell: _Tell, sound: SiteSound, days: Iterable[WorkingDay]) -> list[Finding]:
    found = []
    for day in days:
        if not (day.call and day.wrap):
            continue
        hit = overlaps(sound.noisy_hours, day.call, day.wrap, day.date)
        if hit:
            minutes = sum(each.minutes for each in hit)
            told = "; ".join(_told(each) for each in hit[:6])
            found.append(
                tell(
                    Weight.WATCH,
                    "noisy hours",
                    f"{day.name} works in {tell.name} from {day.call} to {day.wrap}, and it is noisy then: {told}.",
                    why="Dialogue that falls into these hours is recorded with them.",
                    remedy="Ask for the quiet scenes to be moved out of these hours, or for wild tracks after them.",
                    numbers={"minutes": float(minutes)},
                    at=("noisy_hours", hit[0].noisy.id),
                )
            )
        else:
            found.append(
                tell(
                    Weight.FINE,
                    "noisy hours",
                    f"{day.name} works in {tell.name} from {day.call} to {day.wrap}, clear of its noisy hours.",
                    at=("noisy_hours",),
                )
            )
    return found


def _told(each: Overlap) -> str:
    level = f", {each.noisy.level_dba:.0f} dBA" if each.noisy.level_dba is not None else ""
    return f"{each.noisy.what or each.noisy.id} {clock(each.from_min)} to {clock(each.to_min)}{level}"


def asked() -> str:
    """What is asked of speech, in words."""
    return criterion(figure("speech-over-noise"), figure("direct-over-room"))

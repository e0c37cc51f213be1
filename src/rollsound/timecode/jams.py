"""From jams to drift through the day: how far a device is off at any time, and when to jam it again.

Offsets are in frames, plus is ahead of the source. Times are seconds from midnight of the day.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rollsound.timecode.clocks import drift_frames
from rollsound.timecode.jam_rates import RateApart, RateMeasured
from rollsound.timecode.rates import Rate

HALF_A_FRAME = 0.5
"""Within this, sound and picture carry the same label."""
COVER = 2.0
"""Standard deviations either side that are counted with: 95 of 100 clocks stay inside."""
READING_SD_FRAMES = 1 / math.sqrt(12)
"""Of an offset that was read to a whole frame (JCGM 100:2008, 4.3.7: as likely anywhere within half a frame)."""
LEAST_BETWEEN_S = 600.0
"""Offsets read sooner after a jam tell nothing of the rate."""
MOST_JAMS = 24


@dataclass(frozen=True)
class JamSeen:
    """A device that was jammed, or compared with its source.

    ``offset_frames`` is how far it was off just before; None where nobody looked.
    """

    device: str
    source: str
    at_s: float
    jammed: bool = True
    offset_frames: float | None = None
    day: str = ""


@dataclass(frozen=True)
class DriftFrom:
    """A device's drift from the moment at which its offset was known last."""

    at_s: float
    rate: Rate
    apart: RateApart
    offset_frames: float = 0.0
    offset_sd_frames: float = 0.0

    def offset(self, at_s: float) -> tuple[float, float]:
        """The likeliest offset and one standard deviation, in frames."""
        passed = max(at_s - self.at_s, 0.0)
        likeliest = self.offset_frames + drift_frames(self.apart.ppm, passed, self.rate)
        return likeliest, math.hypot(self.offset_sd_frames, drift_frames(self.apart.sd_ppm, passed, self.rate))

    def worst(self, at_s: float, cover: float = COVER) -> float:
        """How far it may be off either way, in frames."""
        likeliest, sd = self.offset(at_s)
        return abs(likeliest) + cover * sd

    def past(self, limit_frames: float = HALF_A_FRAME, cover: float = COVER) -> float:
        """When it may first be off by the limit; infinity when never.

        ``worst`` is the larger of two curves that bend upwards only, so below the limit it crosses it once.
        """
        if self.worst(self.at_s, cover) >= limit_frames:
            return self.at_s
        speed = drift_frames(abs(self.apart.ppm) + cover * self.apart.sd_ppm, 1.0, self.rate)
        if speed <= 0:
            return math.inf
        low = self.at_s
        high = self.at_s + 4 * (limit_frames + abs(self.offset_frames)) / speed
        while self.worst(high, cover) < limit_frames:
            high = self.at_s + 2 * (high - self.at_s)
        for _ in range(80):
            middle = (low + high) / 2
            if self.worst(middle, cover) < limit_frames:
                low = middle
            else:
                high = middle
        return high


def last_known(seen: Iterable[JamSeen], rate: Rate, apart: RateApart) -> DriftFrom | None:
    """The drift from the last jam of a device, or from a later look at it; None where it was never jammed."""
    found: DriftFrom | None = None
    for each in sorted(seen, key=lambda one: one.at_s):
        if each.jammed:
            found = DriftFrom(each.at_s, rate, apart)
        elif found is not None and each.offset_frames is not None:
            found = DriftFrom(each.at_s, rate, apart, each.offset_frames, READING_SD_FRAMES)
    return found


def rates_read(seen: Sequence[JamSeen], rate: Rate) -> tuple[RateMeasured, ...]:
    """What the offsets in a jam log tell of the clocks: the last look at every device before it was jammed again."""
    found: list[RateMeasured] = []
    for device in dict.fromkeys(each.device for each in seen):
        since: JamSeen | None = None
        last: RateMeasured | None = None
        for each in sorted((one for one in seen if one.device == device), key=lambda one: one.at_s):
            if since is not None and (each.source or since.source) == since.source:
                last = _read(since, each, rate) or last
            if each.jammed:
                found += [last] if last is not None else []
                since, last = each, None
        found += [last] if last is not None else []
    return tuple(found)


def _read(since: JamSeen, then: JamSeen, rate: Rate) -> RateMeasured | None:
    passed = then.at_s - since.at_s
    if then.offset_frames is None or passed < LEAST_BETWEEN_S or since.day != then.day:
        return None
    frames_per_ppm = drift_frames(1.0, passed, rate)
    told = f"read {passed / 3600:.1f} h after its jam"
    return RateMeasured(
        since.device, since.source, since.day, then.offset_frames / frames_per_ppm,
        READING_SD_FRAMES / frames_per_ppm, told,
    )  # fmt: skip


@dataclass(frozen=True)
class JamWish:
    """A jam that keeps a device inside the limit: by when at the latest, and the break that serves."""

    by_s: float
    break_s: tuple[float, float] | None = None

    @property
    def at_s(self) -> float:
        """When it is taken to happen: at the start of the break, else at the latest time."""
        return self.by_s if self.break_s is None else self.break_s[0]


def jams_wanted(
    drift: DriftFrom,
    until_s: float,
    breaks: Sequence[tuple[float, float]] = (),
    *,
    now_s: float | None = None,
    limit_frames: float = HALF_A_FRAME,
) -> tuple[JamWish, ...]:
    """The fewest jams that keep a device inside the limit until the end, in breaks as far as they serve.

    Each is put into the last break that begins in time; that is never worse than an earlier one. At most ``MOST_JAMS``
    are told: a clock that needs so many wants a feed of time code.

    Parameters
    ----------
    breaks
        spans of the day, in seconds
    now_s
        no break that began before it serves
    """
    wishes: list[JamWish] = []
    here = drift
    while len(wishes) < MOST_JAMS:
        past = here.past(limit_frames)
        if past >= until_s:
            break
        earliest = max(here.at_s, now_s if now_s is not None else here.at_s)
        serves = [span for span in breaks if earliest < span[0] <= past]
        wish = JamWish(past, max(serves)) if serves else JamWish(max(past, earliest))
        wishes.append(wish)
        here = DriftFrom(wish.at_s, here.rate, here.apart)
    return tuple(wishes)

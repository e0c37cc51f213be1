"""A mend: only damaged spans come from the card, made to sound like the radio around them; the rest is untouched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.conform.damage import Span
from rollsound.conform.patch import Stretch
from rollsound.conform.resample import Samples
from rollsound.conform.sound import CardSound
from rollsound.conform.tone import Tone, fit_tone
from rollsound.wave import TakeReader

LONG_FADE_FACTOR = 2.5
_POOR_MATCH_DB = -10.0


@dataclass(frozen=True)
class Mended:
    """Spans that are mended together, because their fades would meet, and the stretch that does it."""

    spans: tuple[Span, ...]
    stretch: Stretch


def mend_stretches(
    take: TakeReader, index: int, sound: CardSound, spans: Sequence[Span], fade: int, level_difference_db: float | None
) -> list[Mended]:
    """Fit one stretch for each group of spans that are to be mended.

    Fades lie outside the spans, on sound radio; 8 ms, or 20 ms where the two still differ after matching.
    """
    wanted = [span for span in spans if span.mend]
    holes = [(span.start_sample, span.stop_sample) for span in spans]
    gain = 10 ** ((level_difference_db or 0.0) / 20)
    out = []
    for inside in sound.runs():
        here = [span for span in wanted if inside[0] <= span.start_sample and span.stop_sample <= inside[1]]
        for group, limits in _groups(here, holes, inside, fade):
            out.append(_mend(take, index, sound, group, inside, limits, holes, fade, gain))
    return out


def not_mended(sound: CardSound, spans: Sequence[Span]) -> list[Span]:
    """Spans that were to be mended and that no stretch of the card covers."""
    runs = sound.runs()
    return [
        span
        for span in spans
        if span.mend and not any(a <= span.start_sample and span.stop_sample <= b for a, b in runs)
    ]


def _groups(
    spans: list[Span], holes: list[tuple[int, int]], inside: tuple[int, int], fade: int
) -> list[tuple[list[Span], tuple[int, int]]]:
    """Spans whose fades would meet together; with each group, how far its fades may reach."""
    groups: list[list[Span]] = []
    for span in sorted(spans, key=lambda each: each.start_sample):
        end = max((each.stop_sample for each in groups[-1]), default=0) if groups else 0
        if groups and span.start_sample - end < 2 * fade:
            groups[-1].append(span)
        else:
            groups.append([span])
    out = []
    for group in groups:
        start, stop = group[0].start_sample, max(each.stop_sample for each in group)
        # Towards any other hole, mended or not, a fade goes no further than half way.
        before = max((last for _, last in holes if last <= start), default=None)
        after = min((first for first, _ in holes if first >= stop), default=None)
        low = inside[0] if before is None else max(inside[0], (before + start + 1) // 2)
        high = inside[1] if after is None else min(inside[1], (after + stop) // 2)
        out.append((group, (min(low, start), max(high, stop))))
    return out


def _mend(
    take: TakeReader,
    index: int,
    sound: CardSound,
    group: list[Span],
    inside: tuple[int, int],
    limits: tuple[int, int],
    holes: list[tuple[int, int]],
    fade: int,
    gain: float,
) -> Mended:
    start, stop = group[0].start_sample, max(span.stop_sample for span in group)

    def radio(first: int, frames: int) -> Samples:
        return take.read_channel(index, first, frames).astype(np.float64)

    tone = fit_tone(
        radio,
        sound.read,
        start,
        stop,
        inside=inside,
        damaged=holes,
        sample_rate_hz=take.info.format.sample_rate_hz,
        fallback_gain=gain,
    )
    reach = round(fade * LONG_FADE_FACTOR) if tone.mismatch_db > _POOR_MATCH_DB else fade
    begin, end = max(start - reach, limits[0]), min(stop + reach, limits[1])
    return Mended(tuple(group), _stretch(tone, sound, begin, start, stop, end))


def _stretch(tone: Tone, sound: CardSound, begin: int, start: int, stop: int, end: int) -> Stretch:
    return Stretch(
        begin,
        end,
        start - begin,
        end - stop,
        lambda first, frames: tone.render(sound.read, first, frames),
        core=(start, stop),
    )

"""A card's folder that holds one recording twice: the original, and a copy at another sample rate or depth.

Only one of the two may be used, the same one whatever the files are called, and the person must hear which.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy.signal import butter, fftconvolve, sosfilt

from rollsound.conform.day import CardDay, DayAlignment, Double
from rollsound.conform.envelope import Envelope
from rollsound.conform.readers import Mono, Reader, ResampledReader, simple
from rollsound.conform.sources import CardFile, Recording
from rollsound.finding import Area, Finding, Ref, Weight

SAME_SOUND = 0.995
"""Least correlation of a second of sound. Copies gave 0.997 and more, a mic a foot away 0.988, the same mic through a
radio 0.992 at the most: ``design/doubles_likeness.py``."""
_WINDOWS = 5
_WINDOW_SECONDS = 1.0
_SLACK_SECONDS = 0.1
_LIVELY_DBFS = -75.0
"""A copy of 16 bits has its dither 20 dB lower, so that the limit still holds."""
_KEPT_BAND = 0.35
_SOURCE = "measured on these files"


def without_doubles(
    recordings: Sequence[Recording], envelopes: Mapping[int, Envelope], rate_hz: int
) -> tuple[list[int], list[Double]]:
    """Which recordings to use (their numbers), and which were left out as copies of others.

    Of two that hold the same sound, the one at the recorder's rate ``rate_hz`` is used, then the one with more bits,
    then the higher rate. A copy that holds more than the original is no mere copy: both are used.
    """
    order = sorted(range(len(recordings)), key=lambda n: (recordings[n].card, _rank(recordings[n], rate_hz), n))
    kept: list[int] = []
    doubles: list[Double] = []
    for n in order:
        own = recordings[n]
        twin = next(
            (
                m
                for m in kept
                if recordings[m].card == own.card
                and _form(recordings[m]) != _form(own)
                and _holds(recordings[m], own, envelopes[n])
            ),
            None,
        )
        if twin is None:
            kept.append(n)
        else:
            doubles.append(Double(own.card, recordings[twin].files, own.files, _why(recordings[twin], own, rate_hz)))
    return sorted(kept), doubles


def tell_doubles(day: DayAlignment, doubles: Sequence[Double]) -> DayAlignment:
    """The answer with a sentence on every card that held something twice, or at several rates."""
    return replace(day, cards=tuple(_told(card, [d for d in doubles if d.card == card.name]) for card in day.cards))


def findings_of_doubles(day: DayAlignment) -> list[Finding]:
    """One finding a card whose folder holds the same sound twice, or files at several rates."""
    found = []
    for card in day.cards:
        sentence = _sentence(card, card.doubles)
        if sentence:
            found.append(
                Finding(
                    area=Area.MEDIA,
                    weight=Weight.WATCH,
                    subject=card.name,
                    kind="card at several rates" if not card.doubles else "card held twice",
                    what=sentence,
                    why="A card records at one rate and depth; what differs was made afterwards or is another card's.",
                    remedy="See that the file used is the card's own, and keep copies out of the card's folder.",
                    source=_SOURCE,
                    refs=tuple(Ref(path=file.path) for double in card.doubles for file in double.left_out),
                )
            )
    return found


def _told(card: CardDay, doubles: Sequence[Double]) -> CardDay:
    sentence = _sentence(card, doubles)
    return replace(card, doubles=tuple(doubles), note=f"{card.note} {sentence}".strip()) if sentence else card


def _sentence(card: CardDay, doubles: Sequence[Double]) -> str:
    if doubles:
        return " ".join(
            f"The folder of {card.name} holds the same sound twice: {_named(each.used)}, which was used, and "
            f"{_named(each.left_out)}, left out because {each.reason}."
            for each in doubles
        )
    rates = sorted({file.sample_rate_hz for file in card.files}, reverse=True)
    if len(rates) < 2:
        return ""
    listed = " and ".join(f"{rate} Hz" for rate in rates)
    return (
        f"The folder of {card.name} holds files at {listed}; they are not copies of one another as far as can be "
        "heard, so all of them were searched."
    )


def _named(files: Sequence[CardFile]) -> str:
    first = files[0]
    more = "" if len(files) == 1 else f" and {len(files) - 1} more"
    depth = f", {first.bits} bits" if first.bits else ""
    return f"{Path(first.path).name}{more} ({first.sample_rate_hz} Hz{depth})"


def _form(recording: Recording) -> tuple[int, int]:
    return recording.sample_rate_hz, recording.files[0].bits


def _rank(recording: Recording, rate_hz: int) -> tuple[bool, int, int]:
    """Smaller is preferred."""
    rate, bits = _form(recording)
    return rate != rate_hz, -bits, -rate


def _why(used: Recording, left_out: Recording, rate_hz: int) -> str:
    (rate, bits), (other_rate, other_bits) = _form(used), _form(left_out)
    if rate == rate_hz != other_rate:
        return f"the recorder runs at {rate_hz} Hz"
    return "it has fewer bits" if bits > other_bits else "it has the lower rate"


def _holds(whole: Recording, part: Recording, own: Envelope) -> bool:
    """Whether ``whole`` holds the sound of ``part`` from its beginning to its end."""
    places = list(_places(whole, part))
    if not places or not simple(_ratio(whole, part)):
        return False
    with whole.open() as theirs, part.open() as ours:
        return any(_same_at(theirs, ours, (whole.channel, part.channel), own, late) for late in places)


def _ratio(whole: Recording, part: Recording) -> Fraction:
    return Fraction(part.sample_rate_hz, whole.sample_rate_hz)


def _places(whole: Recording, part: Recording) -> Iterator[float]:
    """How many seconds after the start of ``whole`` that of ``part`` may lie, if it lies within it."""
    length, own = (each.frames / each.sample_rate_hz for each in (whole, part))
    if abs(length - own) <= _SLACK_SECONDS:
        yield 0.0  # programs that convert often keep no stamp, or count it at the old rate
    if whole.start_seconds is not None and part.start_seconds is not None and whole.date == part.date:
        late = part.start_seconds - whole.start_seconds
        if late >= -_SLACK_SECONDS and late + own <= length + _SLACK_SECONDS:
            yield late


def _same_at(whole: Reader, part: Reader, channels: tuple[int, int], envelope: Envelope, late_seconds: float) -> bool:
    """Whether the loudest second of every stretch is the same; a silent file is nobody's copy."""
    rate = whole.sample_rate_hz
    ours = part if part.sample_rate_hz == rate else ResampledReader(part, Fraction(part.sample_rate_hz, rate), rate)
    heard = 0
    for at in _loudest(envelope):
        first = round(at * rate)
        piece = ours.read_channel(channels[1], first, round(_WINDOW_SECONDS * rate))
        margin = round(_SLACK_SECONDS * rate)
        start = first + round(late_seconds * rate) - margin
        lead = max(-start, 0)
        around = whole.read_channel(channels[0], start + lead, piece.size + 2 * margin - lead)
        heard += 1
        if likeness_of_copies(around, piece, rate, min(rate, part.sample_rate_hz)) < SAME_SOUND:
            return False
    return heard > 0


def _loudest(envelope: Envelope) -> Iterator[float]:
    """The second in each of a few equal stretches that is loudest throughout, if it sounds at all; its start."""
    hops = int(_WINDOW_SECONDS / envelope.hop_seconds)
    levels = envelope.levels_dbfs()
    for stretch in np.array_split(np.arange(levels.size), max(min(_WINDOWS, levels.size // max(hops, 1)), 1)):
        means = [float(levels[h : h + hops].mean()) for h in stretch[:: max(hops // 2, 1)]]
        if means and max(means) > _LIVELY_DBFS:
            yield float(stretch[0] + int(np.argmax(means)) * max(hops // 2, 1)) * envelope.hop_seconds


def likeness_of_copies(around: Mono, piece: Mono, rate_hz: int, lower_rate_hz: int) -> float:
    """Highest correlation coefficient of ``piece`` (n,) with any place in ``around`` (n or more), both at ``rate_hz``.

    Compared is only what every converter leaves alone: the band below 0.35 of the lower rate of the two files.
    """
    n = piece.size
    if n == 0:
        return 0.0
    if around.size < n:
        around = np.concatenate([around, np.zeros(n - around.size, np.float32)])
    low = butter(6, 2.0 * _KEPT_BAND * lower_rate_hz / rate_hz, output="sos")
    wide, own = (sosfilt(low, each.astype(np.float64)) for each in (around, piece))
    products = fftconvolve(wide, own[::-1], mode="valid")
    energies = np.cumsum(np.concatenate([[0.0], wide**2]))
    energy = (energies[n:] - energies[: energies.size - n]) * float(own @ own)
    good = energy > 0.0
    return float(np.max(products[good] / np.sqrt(energy[good]))) if good.any() else 0.0


__all__ = ["Double", "findings_of_doubles", "tell_doubles", "without_doubles"]

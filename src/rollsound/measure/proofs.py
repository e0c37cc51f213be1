"""What the survey of a file says, as findings: one for each kind of fault on each track, with places to listen to."""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Callable, Sequence
from importlib import resources
from typing import Any

from rollsound.facts import cautions
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.measure.model import Fault, SurveyResult, TrackMeasures, TrackPair
from rollsound.measure.thresholds import source_of
from rollsound.quantities import show_level, show_time
from rollsound.timecode import Rate, timecode_of_samples

MOST_REFS = 50
_LEAST_SURE = 0.5
_WHOLE_TAKE = frozenset({"hum", "dc", "silent"})
_FAMILY = {"flat-top": "clip", "over-full-scale": "clip", "radio-hit": "hit", "silent": "dead", "not-a-number": "dead"}
_LISTEN_MARGIN_DB = 10.0
_FED_WORDS = ("playback", "click", "guide", "time code", "timecode", "ltc")
_NOT_ON_FED = frozenset({"mute", "dropout", "radio-hit", "repeat", "click", "silent", "dead"})  # these lines do stop
_FEWEST_FOR_PLACE = 4
_MIX_WORDS = ("mix", "mono")


@functools.cache
def _sentences() -> dict[str, dict[str, Any]]:
    text = resources.files("rollsound.measure").joinpath("sentences.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def findings_of(
    result: SurveyResult, path: str, names: Sequence[str], start_samples: int, rate: Rate | None
) -> list[Finding]:
    """Turn one file's survey into findings.

    Parameters
    ----------
    result:
        Of the survey.
    path:
        The file, for the places to listen to.
    names:
        Track names in file order; missing ones become "Track n".
    start_samples:
        Samples since midnight at which the file starts.
    rate:
        Time code rate the places are told in; without one they are told in time from the start of the file.

    Returns one finding for each kind of fault on each track, one for each pair of tracks that look alike, and a single
    "fine" one when there is nothing else to say.
    """
    teller = _Teller(result, path, names, start_samples, rate)
    found: list[Finding] = teller.place()
    for index, track in enumerate(result.tracks):
        found += teller.track(index, track)
    found += [finding for pair in result.pairs if (finding := teller.pair(pair))]
    if not any(finding.weight is not Weight.FINE for finding in found) and result.frames:
        found.append(teller.nothing_found())
    return found


class _Teller:
    """Knows the file's names and places."""

    def __init__(
        self, result: SurveyResult, path: str, names: Sequence[str], start_samples: int, rate: Rate | None
    ) -> None:
        self._result = result
        self._path = path
        self._names = names
        self._start = start_samples
        self._rate = rate
        self._humming = [
            (i, f)
            for i, t in enumerate(result.tracks)
            for f in t.faults
            if f.kind == "hum" and f.confidence >= _LEAST_SURE
        ]
        self._place = len(self._humming) >= max(_FEWEST_FOR_PLACE, 0.5 * len(result.tracks))

    def place(self) -> list[Finding]:
        """One finding for hum that most tracks share: it is in the place, or in what feeds them all."""
        if not self._place:
            return []
        told = _sentences()["hum-of-place"]
        loudest, fault = max(self._humming, key=lambda pair: pair[1].level_dbfs)
        what = (
            f"Hum of {fault.numbers['mains_hz']:.0f} Hz mains or a machine on {len(self._humming)} of "
            f"{len(self._result.tracks)} tracks, loudest on {self._name(loudest)} at {show_level(fault.level_dbfs)}."
        )
        return [
            Finding(
                area=Area.SIGNAL,
                weight=Weight.WATCH,
                subject="all tracks",
                kind="hum",
                what=what,
                why=str(told["why"]),
                remedy=str(told["remedy"]),
                source=source_of("hum."),
                numbers={"tracks": float(len(self._humming)), "loudest_dbfs": fault.level_dbfs, **fault.numbers},
                refs=tuple(self._ref(i, f) for i, f in self._humming),
            )
        ]

    def track(self, index: int, track: TrackMeasures) -> list[Finding]:
        """Everything to say about one track."""
        found = []
        by_kind: dict[str, list[Fault]] = {}
        fed = any(word in self._given(index) for word in _FED_WORDS)
        for fault in track.faults:
            told = not (fed and fault.kind in _NOT_ON_FED) and not (self._place and fault.kind == "hum")
            if fault.confidence >= _LEAST_SURE and told:
                by_kind.setdefault(fault.kind, []).append(fault)
        for kind, faults in by_kind.items():
            found.append(self._kind(index, track, kind, faults))
        if track.kind_guess == "time code":
            found.append(self._code(index))
        return found

    def _kind(self, index: int, track: TrackMeasures, kind: str, faults: list[Fault]) -> Finding:
        told = _sentences()[kind]
        seconds = sum(fault.length_samples for fault in faults) / self._result.sample_rate_hz
        worst = max(faults, key=lambda fault: (fault.length_samples * fault.confidence, fault.level_dbfs))
        numbers = {"count": float(len(faults)), "seconds": seconds, "confidence": max(f.confidence for f in faults)}
        loudest = max(fault.level_dbfs for fault in faults)
        if math.isfinite(loudest):
            numbers["loudest_dbfs"] = loudest
        numbers |= {f"worst_{key}": value for key, value in worst.numbers.items() if math.isfinite(value)}
        why = str(told["why"])
        if told.get("loud"):
            quieter = _listening_start_db(loudest, track)
            numbers["start_listening_db"] = quieter
            why += " " + listening_sentence(quieter)
        return Finding(
            area=Area.SIGNAL,
            weight=self._weight(told, kind, faults, seconds),
            subject=self._name(index),
            kind=kind,
            what=self._what(index, kind, faults, worst, told),
            why=why,
            remedy=str(told["remedy"]),
            source=source_of(_FAMILY.get(kind, kind) + ".") or "common practice, no source",
            numbers=numbers,
            refs=tuple(self._ref(index, fault) for fault in _worst_first(faults)[:MOST_REFS]),
        )

    def _what(self, index: int, kind: str, faults: list[Fault], worst: Fault, told: dict[str, Any]) -> str:
        place = f"on {self._name(index)}"
        if kind in _WHOLE_TAKE:
            return _WHOLE_SENTENCE[kind](worst, place)
        length = show_seconds(worst.length_samples / self._result.sample_rate_hz)
        level = f", {show_level(worst.level_dbfs)}" if math.isfinite(worst.level_dbfs) else ""
        if kind == "dead" and worst.length_samples >= self._result.frames:
            return f"Nothing alive {place} through the whole take{level}."
        if len(faults) == 1:
            return f"{_capital(_one(told))} of {length} {place} at {self._at(worst.start_sample)}{level}."
        first, last = min(f.start_sample for f in faults), max(f.start_sample for f in faults)
        return (
            f"{len(faults)} {told['many']} {place} between {self._at(first)} and {self._at(last)}; "
            f"the worst, of {length}, at {self._at(worst.start_sample)}{level}."
        )

    def _weight(self, told: dict[str, Any], kind: str, faults: list[Fault], seconds: float) -> Weight:
        if kind == "over-full-scale":
            return Weight.FINE
        sure = max(fault.confidence for fault in faults) >= 0.7
        died = kind == "dead" and any(fault.length_samples < self._result.frames for fault in faults)
        long = seconds > told.get("stop_seconds", math.inf)
        many = len(faults) >= told.get("stop_count", math.inf)
        return Weight.STOP if sure and (died or long or many) else Weight.WATCH

    def pair(self, pair: TrackPair) -> Finding | None:
        """What to say about two tracks that look alike."""
        names = _capital(f"{self._name(pair.first)} and {self._name(pair.second)}")
        refs = tuple(Ref(path=self._path, track=t + 1, timecode=self._label(0)) for t in (pair.first, pair.second))
        numbers = {"correlation": pair.correlation, "lag_samples": pair.lag_samples, **pair.numbers}
        lag_ms = 1000.0 * pair.lag_samples / self._result.sample_rate_hz
        weight = Weight.WATCH
        if pair.kind == "duplicate":
            same = "sample for sample" if pair.numbers.get("exact") else "but for gain"
            what = f"{names} carry the same sound, {same}."
            why = "One source is patched to two tracks, or a performer's own track was lost to another's."
            remedy = "Check the routing; if a mix track carried only this mic, nothing is wrong."
            if self._is_mix(pair.first) or self._is_mix(pair.second):
                weight = Weight.FINE
        elif pair.kind == "inverted":
            what = f"{names} carry the same voice in opposite polarity, {abs(lag_ms):.1f} ms apart."
            why = "Summed they cancel: the voice turns thin as soon as both are open."
            remedy = "Turn the polarity of one; find the cable, adaptor or setting that swaps it."
        else:
            what = f"{names} hear one voice, {abs(lag_ms):.1f} ms apart, in the same polarity."
            why = "Summed with a lag they comb; for post it is one voice on two tracks."
            remedy = "Open one at a time in the mix."
            weight = Weight.FINE
        return Finding(
            area=Area.SIGNAL, weight=weight, subject=names, kind=f"pair-{pair.kind}", what=what, why=why,
            remedy=remedy, source=source_of("pairs."), numbers=numbers, refs=refs,
        )  # fmt: skip

    def _code(self, index: int) -> Finding:
        return Finding(
            area=Area.SYNC,
            weight=Weight.FINE,
            subject=self._name(index),
            kind="time-code-track",
            what=f"{_capital(self._name(index))} carries linear time code; it was not searched for faults of sound.",
            source=source_of("timecode."),
            refs=(Ref(path=self._path, track=index + 1, timecode=self._label(0)),),
        )

    def nothing_found(self) -> Finding:
        """The one finding of a file without faults."""
        tracks = len(self._result.tracks)
        seconds = self._result.frames / self._result.sample_rate_hz
        return Finding(
            area=Area.SIGNAL,
            weight=Weight.FINE,
            subject="all tracks",
            kind="no-faults",
            what=f"No faults were found on {tracks} track{'s' if tracks != 1 else ''} in {show_time(seconds)}.",
            why="Clipping that was filtered afterwards, and radio trouble that sounds like speech, cannot be seen from"
            " one track alone.",
            source="measured here",
            numbers={"tracks": float(tracks), "seconds": seconds},
            refs=(Ref(path=self._path, timecode=self._label(0)),),
        )

    def _name(self, index: int) -> str:
        name = self._names[index] if index < len(self._names) else ""
        return f"track {index + 1} ({name})" if name and name != f"Track {index + 1}" else f"track {index + 1}"

    def _is_mix(self, index: int) -> bool:
        return any(word in self._given(index) for word in _MIX_WORDS)

    def _given(self, index: int) -> str:
        return self._names[index].lower() if index < len(self._names) else ""

    def _label(self, sample: int) -> str:
        if self._rate is None:
            return ""
        return str(timecode_of_samples(self._start + sample, self._result.sample_rate_hz, self._rate)[0])

    def _at(self, sample: int) -> str:
        return self._label(sample) or f"{show_seconds(sample / self._result.sample_rate_hz)} from the start"

    def _ref(self, index: int, fault: Fault) -> Ref:
        return Ref(
            path=self._path,
            track=index + 1,
            start_sample=fault.start_sample,
            length_samples=fault.length_samples,
            timecode=self._label(fault.start_sample),
        )


def show_seconds(seconds: float) -> str:
    """A short time as people say it: milliseconds below one second."""
    if seconds < 0.001:
        return f"{seconds * 1e3:.2f} ms"
    return f"{seconds * 1e3:.0f} ms" if seconds < 1.0 else show_time(seconds)


def listening_sentence(start_db: float) -> str:
    """The caution of a loud fault: how far under the usual level (in dB, negative) to start listening."""
    return f"{cautions('hearing')[0].text.split(': ')[0]}: {-start_db:.0f} dB under your usual level."


def _listening_start_db(loudest_dbfs: float, track: TrackMeasures) -> float:
    """How far under the usual level to start: the fault's lead over the track's own level, and a margin."""
    usual = track.rms_dbfs if math.isfinite(track.rms_dbfs) else -20.0
    return -(math.ceil(max(0.0, loudest_dbfs - usual) / 5.0) * 5.0 + _LISTEN_MARGIN_DB)


def _worst_first(faults: list[Fault]) -> list[Fault]:
    return sorted(faults, key=lambda fault: -fault.length_samples * fault.confidence)


def _silent(_: Fault, place: str) -> str:
    return f"Nothing but zeros {place} through the whole take."


def _hum(fault: Fault, place: str) -> str:
    mains = f"{fault.numbers['mains_hz']:.0f} Hz"
    return (
        f"Hum of {mains} mains {place} through the whole take, at {show_level(fault.level_dbfs)}, "
        f"strongest at {fault.numbers['strongest_hz']:.0f} Hz, {fault.numbers['rise_db']:.0f} dB over its surroundings."
    )


def _dc(fault: Fault, place: str) -> str:
    percent = f"{fault.numbers['dc_percent']:+.2f}".replace("-", "−")
    return f"DC offset of {percent} % of full scale {place} ({show_level(fault.level_dbfs)})."


_WHOLE_SENTENCE: dict[str, Callable[[Fault, str], str]] = {
    "hum": _hum,
    "dc": _dc,
    "silent": _silent,
}


def _one(told: dict[str, Any]) -> str:
    return f"one {told['one']}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

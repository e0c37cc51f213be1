"""What a live voice against its guide proves: in time, or which phrases are not, by how much, and whether it drifts."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.quantities import count, signed
from rollsound.song.guide import Against, Phrase

SOURCE = "onsets of both sounds, correlated; limits by common practice, no source"
MOST_TOLD = 4
_SURE_SIGMAS = 3.0
_STEADY_SHARE, _STEADY_S = 0.1, 0.005


def guide_proofs(
    answer: Against,
    *,
    name: str,
    guide: str,
    path: str,
    track: int,
    sample_rate_hz: int,
    limit_s: float,
    place: Callable[[float], str],
    click: bool = False,
) -> list[Finding]:
    """Judge one live track against its guide, at least one finding.

    Parameters
    ----------
    name, guide
        what they are called: ``Runa on 36T1``, ``Playback``
    place
        a time of the live sound in seconds, in words: its bar, or its time
    """

    def finding(weight: Weight, kind: str, what: str, phrases: list[Phrase] | None = None, **more: object) -> Finding:
        refs = tuple(
            Ref(
                path=path,
                track=track,
                start_sample=round(each.start_s * sample_rate_hz),
                length_samples=round((each.end_s - each.start_s) * sample_rate_hz),
            )
            for each in phrases or []
        )
        fields = {"refs": refs or (Ref(path=path, track=track),), "source": SOURCE, **more}
        return Finding.model_validate(
            {"area": Area.SYNC, "weight": weight, "subject": name, "kind": kind, "what": what, **fields}
        )

    if not answer.phrases:
        return [finding(Weight.FINE, "live against guide", f"Nothing is sung on {name}.")]
    told_of = any(each.verdict != "unsure" for each in answer.phrases) or click
    if not (answer.found and told_of):
        what = f"{name} could not be followed along {guide}: they have nothing in common that can be trusted."
        remedy = "If it does sing to this guide, name the right tracks; speech, or another song, follows nothing."
        return [finding(Weight.FINE, "live not followed", what, remedy=remedy)]
    told = [*_off(answer, name, guide, limit_s, place, finding), *_drift(answer, name, guide, limit_s, finding)]
    if told:
        return told
    unsure = sum(each.verdict == "unsure" for each in answer.phrases)
    rest = f"; {count(unsure, 'phrase')} could not be told" if unsure else ""
    what = (
        f"{name} is in time with {guide} to {_ms(limit_s)}: {_signed(answer.late_s)} ±{_ms(2 * answer.sigma_s)} over "
        f"{count(len(answer.phrases), 'phrase')}{rest}."
    )
    return [finding(Weight.FINE, "live against guide", what, numbers={"late_ms": 1000 * answer.late_s})]


def _off(
    answer: Against,
    name: str,
    guide: str,
    limit_s: float,
    place: Callable[[float], str],
    finding: Callable[..., Finding],
) -> Iterator[Finding]:
    off = [each for each in answer.phrases if each.verdict in ("early", "late")]
    if not off:
        return
    known = [each for each in answer.phrases if each.verdict != "unsure"]
    numbers = {"late_ms": 1000 * answer.late_s, "phrases_off": float(len(off)), "phrases_known": float(len(known))}
    spread = max(each.late_s for each in known) - min(each.late_s for each in known)
    if len(off) == len(known) and len(known) > 1 and spread <= limit_s:
        way = "late" if answer.late_s > 0 else "early"
        yield finding(
            Weight.WATCH,
            "live against guide",
            f"{name} is {way} against {guide} by {_ms(abs(answer.late_s))} throughout, on {count(len(off), 'phrase')}.",
            off,
            why="The same offset on every phrase is a delay in the way of the sound more often than a singer's habit.",
            remedy="Measure the delay of monitor feed and radio path; moved by so much, the track is in time.",
            numbers=numbers,
        )
        return
    worst = sorted(off, key=lambda each: -abs(each.late_s))
    words = [f"{place(each.start_s)} {each.verdict} by {_ms(abs(each.late_s))}" for each in worst[:MOST_TOLD]]
    more = f", and {len(off) - MOST_TOLD} more" if len(off) > MOST_TOLD else ""
    yield finding(
        Weight.WATCH,
        "live against guide",
        f"{name}: {len(off)} of {count(len(known), 'phrase')} {'is' if len(off) == 1 else 'are'} off {guide} by more "
        f"than {_ms(limit_s)}: {', '.join(words)}{more}.",
        worst[:20],
        remedy="Listen to these phrases against picture and playback before the company leaves the scene.",
        numbers=numbers,
    )


def _drift(
    answer: Against, name: str, guide: str, limit_s: float, finding: Callable[..., Finding]
) -> Iterator[Finding]:
    length_s = answer.phrases[-1].end_s - answer.phrases[0].start_s
    moved = answer.drift * length_s
    if abs(moved) <= limit_s or abs(answer.drift) < _SURE_SIGMAS * answer.drift_sigma:
        return
    if answer.scatter_s > _STEADY_SHARE * abs(moved) + _STEADY_S:  # phrases that are off each in its own way
        return
    yield finding(
        Weight.WATCH,
        "live drifts",
        f"{name} {'falls behind' if moved > 0 else 'runs ahead of'} {guide} steadily, by {_ms(abs(moved))} over "
        f"{length_s:.0f} s ({_signed(60 * answer.drift)} ±{_ms(120 * answer.drift_sigma)} a minute).",
        why="Two clocks drift like this, or a song that was heard at another speed than it was recorded.",
        remedy="Look at the speed of the playback on this take with 'rollsound songmap'.",
        numbers={"drift_ms_per_min": 60_000 * answer.drift, "drift_sigma_ms_per_min": 60_000 * answer.drift_sigma},
    )


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.0f} ms"


def _signed(seconds: float) -> str:
    return f"{signed(1000 * seconds)} ms"

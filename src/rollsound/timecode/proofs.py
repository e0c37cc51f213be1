"""What linear time code proves about the recording that carries it, as findings."""

from __future__ import annotations

from collections.abc import Sequence

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.quantities import show_ppm
from rollsound.timecode.chain import LtcEntry
from rollsound.timecode.clocks import CRYSTAL_LIMIT_PPM, stamp_error
from rollsound.timecode.decode import LtcDecoder
from rollsound.timecode.rates import Rate
from rollsound.timecode.samples import samples_of_timecode

_PRACTICE = "common practice, no source"
_STANDARD = "SMPTE ST 12-1"


def proofs_of_code(
    decoder: LtcDecoder,
    entries: Sequence[LtcEntry],
    *,
    path: str,
    track: int,
    start_samples: int | None = None,
    rate: Rate | None = None,
) -> list[Finding]:
    """Judge one track of time code after it was read to its end.

    Parameters
    ----------
    decoder : LtcDecoder
        finished; its gaps, jumps and speed are judged
    entries : sequence of LtcEntry
        all that it returned
    path, track
        where the code lies, for the reader of the finding; the track counts from 1
    start_samples : int, optional
        the file's own stamp, samples since midnight, to hold against the code
    rate : Rate, optional
        the frame rate that the file claims

    Returns
    -------
    list of Finding
        area sync; one fine finding when nothing is wrong, an empty list when there is no code
    """
    if not entries or decoder.rate is None:
        return []
    found = [
        *_rate(decoder, path, track, rate),
        *_stamp(decoder, entries, path, track, start_samples),
        *_breaks(decoder, path, track),
    ]
    if found:
        return found
    what = f"Time code on track {track} of {path} runs at {decoder.rate} without a break, {len(entries)} frames"
    return [_finding("ltc", Weight.FINE, path, what, source=_STANDARD)]


def _finding(kind: str, weight: Weight, path: str, what: str, **more: object) -> Finding:
    return Finding.model_validate(
        {"area": Area.SYNC, "weight": weight, "subject": path, "kind": kind, "what": what, **more}
    )


def _rate(decoder: LtcDecoder, path: str, track: int, claimed: Rate | None) -> list[Finding]:
    """The code's rate and speed against what the file claims."""
    rate, frame = decoder.rate, decoder.frame_samples
    if rate is None or frame is None:
        return []
    judged = claimed or rate
    ppm = (frame / float(judged.pair.samples_per_frame(decoder.sample_rate_hz)) - 1.0) * 1e6
    found = []
    if claimed is not None and (claimed.nominal, claimed.drop) != (rate.nominal, rate.drop):
        what = f"Time code on track {track} of {path} counts as {rate}, but the file claims {claimed}"
        remedy = "Find out which rate the show runs at, and correct the file's stamp or the generator"
        found.append(_finding("ltc-rate", Weight.STOP, path, what, remedy=remedy, source=_STANDARD))
    elif abs(ppm) > CRYSTAL_LIMIT_PPM:
        stamp = stamp_error(ppm)
        what = f"Time code on track {track} of {path} runs {show_ppm(ppm)} long against the sample clock at {judged}"
        why = stamp.sentence if stamp else "No crystal is so far off: the code was played at another speed"
        remedy = "Check sample rate and frame rate of recorder and generator before anybody conforms this file"
        weight = Weight.STOP if stamp else Weight.WATCH
        found.append(
            _finding(
                "ltc-speed", weight, path, what, why=why, remedy=remedy, source=_PRACTICE, numbers={"rate_ppm": ppm}
            )
        )
    if decoder.drop_flag_differs:
        what = f"The drop-frame flag of the code on track {track} of {path} contradicts {judged}"
        remedy = "Set the generator to the show's rate; in an hour the two counts part by 3.6 seconds"
        found.append(_finding("ltc-drop-flag", Weight.STOP, path, what, remedy=remedy, source=_STANDARD))
    return found


def _stamp(
    decoder: LtcDecoder, entries: Sequence[LtcEntry], path: str, track: int, start_samples: int | None
) -> list[Finding]:
    """The file's own stamp against the first label."""
    first = entries[0]
    if start_samples is None or first.direction != "forward":
        return []
    offset = start_samples + first.sample - float(samples_of_timecode(first.timecode, decoder.sample_rate_hz))
    frame = float(first.timecode.rate.samples_per_frame(decoder.sample_rate_hz))
    if abs(offset) <= 0.5 * frame:
        return []
    side = "later" if offset > 0 else "earlier"
    what = f"The stamp of {path} is {abs(offset) / frame:.1f} frames {side} than the time code on track {track}"
    return [
        _finding(
            "ltc-stamp",
            Weight.WATCH,
            path,
            what,
            why="Picture follows one of the two; sound placed by the other is out of sync by that much",
            remedy="Decide which clock picture was jammed from and place the sound by that one",
            source=_PRACTICE,
            numbers={"offset_samples": offset, "offset_frames": offset / frame},
        )
    ]


def _breaks(decoder: LtcDecoder, path: str, track: int) -> list[Finding]:
    """Gaps, jumps and labels that do not exist, one finding for each kind."""
    found = []
    if decoder.gaps:
        longest = max(decoder.gaps, key=lambda gap: gap.length_samples)
        seconds = longest.length_samples / decoder.sample_rate_hz
        count = len(decoder.gaps)
        times = "once" if count == 1 else f"{count} times, at most"
        what = f"Time code on track {track} of {path} is missing {times} for {seconds:.2f} s"
        refs = [
            Ref(path=path, track=track, start_sample=round(gap.start_sample), length_samples=round(gap.length_samples))
            for gap in decoder.gaps[:20]
        ]
        remedy = "Check the cable or radio link that carries the code"
        found.append(_finding("ltc-gap", Weight.WATCH, path, what, remedy=remedy, source=_PRACTICE, refs=refs))
    if decoder.jumps:
        first = decoder.jumps[0]
        what = f"Time code on track {track} of {path} jumps to {first.found} where {first.expected} was due"
        if len(decoder.jumps) > 1:
            what += f", and {len(decoder.jumps) - 1} more such jumps follow"
        refs = [
            Ref(path=path, track=track, start_sample=round(jump.sample), timecode=str(jump.found))
            for jump in decoder.jumps[:20]
        ]
        remedy = "If nobody jammed the generator on purpose there, use the code on one side of the jump only"
        found.append(_finding("ltc-jump", Weight.WATCH, path, what, remedy=remedy, source=_PRACTICE, refs=refs))
    if decoder.strange:
        what = f"Time code on track {track} of {path} holds labels that do not exist: {decoder.strange[0].sentence}"
        remedy = "The generator counts wrongly; set its rate and drop-frame switch again"
        found.append(_finding("ltc-label", Weight.STOP, path, what, remedy=remedy, source=_STANDARD))
    return found

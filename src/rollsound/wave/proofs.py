"""What a file's own bytes say about it, as findings: broken sizes, lost ends, metadata that contradicts itself."""

from __future__ import annotations

import shlex

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.quantities import group_bytes
from rollsound.wave.info import WaveInfo
from rollsound.wave.model import Assumption

BROKEN_SOURCE = "Microsoft RIFF and EBU Tech 3306: sizes in the header count the bytes that follow"
METADATA_SOURCE = "iXML usage guidelines: a value that is repeated must be equal in both places"


def findings_of_info(info: WaveInfo) -> list[Finding]:
    """Findings on the container and its metadata; none for a file that is as it should be."""
    path = str(info.path)
    found = _broken(info, path)
    found += [
        Finding(
            area=Area.MEDIA,
            weight=Weight.WATCH,
            subject=info.name,
            kind="metadata-disagrees",
            what=sentence,
            why="Post may read the one or the other.",
            remedy="Tell post which is right, and correct it on the recorder for the next roll.",
            source=METADATA_SOURCE,
            refs=(Ref(path=path),),
        )
        for sentence in info.disagreements
    ]
    if not info.frames:
        found.append(
            Finding(
                area=Area.MEDIA,
                weight=Weight.STOP,
                subject=info.name,
                kind="file-empty",
                what="The file holds no audio.",
                remedy="Look for this take on the recorder's other drive.",
                source=BROKEN_SOURCE,
                refs=(Ref(path=path),),
            )
        )
    return found


def _broken(info: WaveInfo, path: str) -> list[Finding]:
    """One finding for all that had to be assumed: it has one cause and one cure."""
    if not info.assumptions:
        return []
    told = sorted(info.assumptions, key=lambda assumption: not _costs_audio(assumption))
    audio = _costs_audio(told[0])
    missing = all(assumption.kind in _SETS for assumption in told if _costs_audio(assumption))
    cure = f"Make a whole copy with: rollsound recover {shlex.quote(path)}{_format_given(info)}" if audio else ""
    return [
        Finding(
            area=Area.MEDIA,
            weight=Weight.STOP if audio else Weight.WATCH,
            subject=info.name,
            kind="set-incomplete" if audio and missing else "file-not-whole",
            what=group_bytes(" ".join(assumption.sentence for assumption in told)),
            why="Other programs may read less of this file, or nothing." if audio and not missing else "",
            remedy="Look for the missing files on the recorder's other drive." if audio and missing else cure,
            source=BROKEN_SOURCE,
            numbers={key: float(value) for assumption in told for key, value in assumption.numbers.items()},
            refs=(Ref(path=path),),
        )
    ]


def _costs_audio(assumption: Assumption) -> bool:
    """Whether a program that assumes nothing reads less sound, or none: so too where the header is destroyed."""
    return assumption.audio or assumption.kind in _DESTROYED


def _format_given(info: WaveInfo) -> str:
    """What recovering needs to be told where the format itself is lost."""
    if all(assumption.kind != "format-given" for assumption in info.assumptions):
        return ""
    form = info.format
    bits = 8 * form.sample_format.bytes
    return f" --channels {form.channels} --bits {bits} --sample-rate {form.sample_rate_hz}"


_DESTROYED = frozenset({"header"})
_SETS = frozenset({"files-missing", "lengths", "starts"})

"""What a file's own bytes say about it, as findings: broken sizes, lost ends, metadata that contradicts itself."""

from __future__ import annotations

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.wave.info import WaveInfo

BROKEN_SOURCE = "Microsoft RIFF and EBU Tech 3306: sizes in the header count the bytes that follow"
METADATA_SOURCE = "iXML usage guidelines: a value that is repeated must be equal in both places"


def findings_of_info(info: WaveInfo) -> list[Finding]:
    """Findings on the container and its metadata; none for a file that is as it should be."""
    path = str(info.path)
    found = [
        Finding(
            area=Area.MEDIA,
            weight=Weight.STOP if assumption.audio else Weight.WATCH,
            subject=info.name,
            kind=f"file-{assumption.kind}",
            what=assumption.sentence,
            why="Other programs may read less of this file, or nothing." if assumption.audio else "",
            remedy=f"Make a whole copy with: rollsound recover '{info.name}'" if assumption.audio else "",
            source=BROKEN_SOURCE,
            numbers={key: float(value) for key, value in assumption.numbers.items()},
            refs=(Ref(path=path),),
        )
        for assumption in info.assumptions
    ]
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

"""What is proven about a day as a whole before it is handed over: one finding a check, whether it holds or not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from rollsound.finding import Area, Finding, Weight
from rollsound.log import TakeRow
from rollsound.turnover.model import Take
from rollsound.wave import WaveInfo

PRACTICE = "common practice, no source"


def day_checks(
    takes: Sequence[tuple[Take, Sequence[WaveInfo]]], rows: Sequence[TakeRow], unused_rows: Sequence[TakeRow]
) -> list[Finding]:
    """Every check of the day, in the order a mixer would make them.

    Parameters
    ----------
    takes
        each take with what its files say of themselves
    rows, unused_rows
        the takes sheet, and its lines for which no file was found
    """
    infos = [info for _, found in takes for info in found]
    checks = [_whole(infos), _one_format(infos), _timecode(takes), _overlap(takes), _named(takes)]
    if rows:
        checks.append(_sheet(takes, rows, unused_rows))
    return checks


def _begun(text: str) -> str:
    """With a capital at its head; names within stay as they are written."""
    return text[:1].upper() + text[1:]


def _check(kind: str, holds: bool, fine: str, trouble: str, remedy: str, weight: Weight = Weight.WATCH) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.FINE if holds else weight,
        subject="Day",
        kind=kind,
        what=fine if holds else trouble,
        remedy="" if holds else remedy,
        source=PRACTICE,
    )


def _list(names: Sequence[str], most: int = 6) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _whole(infos: Sequence[WaveInfo]) -> Finding:
    broken = [info.name for info in infos if any(assumption.audio for assumption in info.assumptions)]
    return _check(
        "files whole",
        not broken,
        f"All {len(infos)} files are whole.",
        f"Not whole as recorded: {_list(broken)}.",
        "Its mirror is whole; without one, add a copy made by recover.",
    )


def _one_format(infos: Sequence[WaveInfo]) -> Finding:
    formats = Counter(f"{info.format.sample_rate_hz} Hz {info.format.sample_format.value}" for info in infos)
    listed = ", ".join(f"{count} at {name}" for name, count in formats.most_common())
    return _check(
        "one format",
        len(formats) == 1,
        f"All files are {next(iter(formats), 'of one format')}.",
        f"The files differ: {listed}.",
        "Tell post which are meant to differ.",
    )


def _timecode(takes: Sequence[tuple[Take, Sequence[WaveInfo]]]) -> Finding:
    without = [found[0].name for _, found in takes if not found[0].has_timecode]
    rates = Counter(take.frame_rate for take, _ in takes if take.frame_rate)
    holds = not without and len(rates) == 1
    trouble = f"No time code: {_list(without)}." if without else f"Frame rates differ: {', '.join(rates)}."
    return _check(
        "time code",
        holds,
        f"Every take has time code at {next(iter(rates), '')} frames per second.",
        trouble if without or rates else "No take says its frame rate.",
        "Tell post the rate, and set the recorder's for tomorrow.",
    )


def _overlap(takes: Sequence[tuple[Take, Sequence[WaveInfo]]]) -> Finding:
    spans = sorted(
        (found[0].start_samples / found[0].format.sample_rate_hz, float(take.seconds), found[0].name)
        for take, found in takes
        if found[0].has_timecode
    )
    doubled = [
        f"{second[2]} begins before {first[2]} ends"
        for first, second in pairwise(spans)
        if first[0] + first[1] > second[0] + 0.001
    ]
    return _check(
        "time code runs on",
        not doubled,
        "No two takes share a time code.",
        f"{_list(doubled, 3)}.",
        "Tell post; files on one roll must be told apart by time code.",
    )


def _named(takes: Sequence[tuple[Take, Sequence[WaveInfo]]]) -> Finding:
    nameless = [
        found[0].name
        for take, found in takes
        if any(track.name.startswith("Track ") and track.name[6:].isdecimal() for track in take.tracks)
    ]
    return _check(
        "tracks named",
        not nameless,
        "Every track of every take has a name.",
        f"Tracks without a name in {_list(nameless)}.",
        "Give post a track sheet.",
    )


def _sheet(
    takes: Sequence[tuple[Take, Sequence[WaveInfo]]], rows: Sequence[TakeRow], unused: Sequence[TakeRow]
) -> Finding:
    missing = [row.file for row in unused]
    matched = len(rows) - len(unused)
    extra = len(takes) - matched
    trouble: list[str] = []
    if missing:
        trouble.append(f"on the sheet but not in the folder: {_list(missing)}")
    if extra > 0:
        trouble.append(f"{extra} in the folder but not on the sheet")
    return _check(
        "sheet and files agree",
        not trouble,
        f"All {len(rows)} takes on the sheet have their file, and every file is on the sheet.",
        _begun("; ".join(trouble)) + ".",
        "Look for the missing file on the recorder's drives before anything is erased.",
        Weight.STOP if missing else Weight.WATCH,
    )

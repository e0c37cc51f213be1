"""The sound of a site saved where the site stands: journalled in a show, or in the text itself, its comments kept."""

from __future__ import annotations

import copy
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from rollsound.actions.plan_write import keep_document
from rollsound.actions.survey_model import SurveySaved
from rollsound.actions.survey_read import AskedSite
from rollsound.errors import InputError
from rollsound.measure.place.decay import Decay
from rollsound.measure.place.model import SiteSound
from rollsound.measure.place.noise import NoiseFigures
from rollsound.measure.place.octaves import NAMES
from rollsound.measure.place.ratings import nc, nr

_NOISY = re.compile(
    r"(?:(\d{4}-\d\d-\d\d)\s+)?(\d{1,2}:\d\d)\s*(?:-|–|to)\s*(\d{1,2}:\d\d)\s+(.+?)(?:,\s*(\d+(?:[.,]\d+)?\s*dBA))?"
)
_NOT_OF_AN_ID = re.compile(r"[^a-z0-9]+")
MOST_TONES = 12


def noise_written(figures: NoiseFigures, full_scale_db_spl: float | None, told: str) -> dict[str, Any]:
    """The noise of a place as it is written; without a calibration only its tones, and how far they stand out."""
    tones, taken = [], set()
    for tone in figures.tones[:MOST_TONES]:
        at = f"{tone.freq_hz:.0f}-hz"
        while at in taken:
            at += "-2"
        taken.add(at)
        row: dict[str, Any] = {"id": at, "frequency": f"{tone.freq_hz:.1f} Hz"}
        if full_scale_db_spl is not None:
            row["level"] = f"{tone.level_db + full_scale_db_spl:.1f} dB SPL"
        row["over"] = f"{tone.over_db:.1f} dB"
        if tone.what:
            row["what"] = tone.what
        tones.append(row)
    if full_scale_db_spl is None:
        return {"tones": tones}
    levels = [level + full_scale_db_spl for level in figures.octaves_db]
    written: dict[str, Any] = {
        "calibration": told,
        "laeq": _dba(figures.laeq_db + full_scale_db_spl),
        "la10": _dba(figures.exceeded_db(10) + full_scale_db_spl),
        "la50": _dba(figures.exceeded_db(50) + full_scale_db_spl),
        "la90": _dba(figures.exceeded_db(90) + full_scale_db_spl),
        "nc": str(nc(levels) or ""),
        "nr": str(nr(levels) or ""),
        "octaves": [
            {"id": name, "level": f"{level:.1f} dB SPL"}
            for name, level in zip(NAMES, levels, strict=True)
            if math.isfinite(level)
        ],
        "tones": tones,
    }
    return written


def _dba(level: float) -> str:
    return f"{level:.1f} dBA"


def decays_written(found: Sequence[Decay]) -> dict[str, Any]:
    """Reverberation as it is written; figures that do not exist are left out."""
    rows = []
    for each in found:
        row: dict[str, Any] = {"id": NAMES[each.octave]}
        for name, fit in (("edt", each.edt), ("t20", each.t20), ("t30", each.t30)):
            if math.isfinite(fit.time_s):
                row[name] = f"{fit.time_s:.2f} s"
        row["range"] = f"{each.range_db:.0f} dB"
        if each.holds:
            row["holds"] = each.holds
        if each.why:
            row["note"] = each.why
        rows.append(row)
    return {"reverberation": rows}


def hours_written(asked: Sequence[str], before: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Noisy hours that were told, with those that were there; one of the same id takes its place.

    Raises
    ------
    InputError
        when hours are not told as they should be
    """
    rows = {str(row["id"]): dict(row) for row in before}
    for text in asked:
        found = _NOISY.fullmatch(text.strip())
        if found is None:
            raise InputError(
                f"'{text[:60]}' tells no noisy hours; write them as '07:45-08:30 school run', perhaps with a date "
                "before and a level after, as in '2031-02-18 06:10-07:00 tide, 58 dBA'"
            )
        date, first, last, what, level = found.groups()
        base = _NOT_OF_AN_ID.sub("-", what.lower()).strip("-")[:48].strip("-") or "noise"
        row = {"id": base, "from": first, "to": last, "what": what}
        at = base
        number = 2
        while at in rows and rows[at].get("from") != first:
            at, number = f"{base}-{number}", number + 1
        row["id"] = at
        if level:
            row["level"] = re.sub(r"\s*dBA$", " dBA", level)
        if date:
            row["date"] = date
        rows[at] = row
    return list(rows.values())


def merged(before: Mapping[str, Any], new: Mapping[str, Any], files: Sequence[str], recorded: str) -> dict[str, Any]:
    """What is kept with the new in its place; files of earlier visits stay named."""
    after = {**before, **new}
    if files:
        after["files"] = list(dict.fromkeys([*before.get("files", ()), *files]))
        if recorded:
            after["measured"] = recorded
    order = [field.alias or name for name, field in SiteSound.model_fields.items()]
    known = {name: after[name] for name in order if name in after}
    return {**known, **{name: value for name, value in after.items() if name not in known}}


def save_sound(asked: AskedSite, sound: Mapping[str, Any], sentence: str, name: str = "") -> SurveySaved:
    """Write the sound of a site into its plan.

    Raises
    ------
    ClashError
        when somebody changed it since it was read
    StorageError
        when the disk fails
    """
    if dict(sound) == asked.written:
        told = f"{asked.path} tells this of {asked.site.id} already; nothing was to change."
        return SurveySaved(path=str(asked.path), sentence=told, revision=asked.read.revision)
    # field by field, so that what somebody else writes beside it meanwhile stays
    kept = keep_document(asked.read, _with_sound(asked, dict(sound)), sentence, name, "nothing was to change")
    return SurveySaved(path=str(asked.path), sentence=kept.sentence, revision=kept.revision)


def _with_sound(asked: AskedSite, sound: dict[str, Any]) -> dict[str, Any]:
    document = copy.deepcopy(dict(asked.read.document))
    next(each for each in document["sites"] if each["id"] == asked.site.id)["sound"] = sound
    return document

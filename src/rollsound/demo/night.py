"""The whole night's work on the demo day, through the same doors that a mixer uses.

set/        what comes in from set: the recorder's drive and the cards (synthesised)
drive a/, drive b/   two proven copies
drive a/day 4/mirrors/   radio tracks rebuilt from cards
index/      measurements and waveform overviews
post/       the turnover
"""

from __future__ import annotations

import errno
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.conform import conform
from rollsound.actions.conform_result import ConformResult
from rollsound.actions.inspect import InspectResult, inspect
from rollsound.actions.offload import OffloadResult, offload
from rollsound.actions.turnover import TurnoverResult, turnover
from rollsound.actions.verify import VerifyResult, verify_folder
from rollsound.demo.agreement import Agreement, agreement
from rollsound.demo.build import build_day
from rollsound.demo.show import MEDIA_INDEX, make_show
from rollsound.demo.truth import Truth
from rollsound.errors import InputError, StorageError, storage
from rollsound.finding import Weight
from rollsound.measure import RADIO_FAULTS
from rollsound.progress import Progress

ResultT = TypeVar("ResultT")


class Step(BaseModel):
    """One part of the night and how long it took."""

    model_config = ConfigDict(frozen=True)

    name: str
    seconds: float


class NightResult(BaseModel):
    """What the night's work found, repaired and handed over."""

    model_config = ConfigDict(frozen=True)

    out: str
    show: str
    steps: tuple[Step, ...]
    offloads: tuple[OffloadResult, ...]
    recorder: InspectResult = Field(description="the recorder's files, inspected")
    conform: ConformResult
    mirrors: InspectResult = Field(description="the mirrors, inspected")
    turnover: TurnoverResult
    verify: VerifyResult
    agreement: Agreement = Field(description="how all this compares with the known truth of the synthesised day")

    @property
    def holds(self) -> bool:
        """Every copy is proven, the turnover is whole, and what was found agrees with the truth."""
        proven = all(each.complete for each in self.offloads) and self.turnover.complete and self.verify.proven
        return proven and not self.agreement.differences

    @property
    def seconds(self) -> float:
        """The whole night."""
        return sum(step.seconds for step in self.steps)


def run_night(out: Path, *, seed: int = 4, progress: Progress | None = None) -> NightResult:
    """Build the day and do the night's work on it, into ``out``. A stopped run goes on where it was.

    Raises
    ------
    InputError
        when ``out`` holds something that is not an earlier demo, or one that another version made
    RollsoundError
        as any of the parts
    """
    progress = progress or Progress()
    steps: list[Step] = []

    def step(name: str, work: Callable[[], ResultT]) -> ResultT:
        began = time.monotonic()
        result = work()
        steps.append(Step(name=name, seconds=time.monotonic() - began))
        return result

    field, index = out / "set", out / MEDIA_INDEX
    drives = [out / "drive a" / "day 4", out / "drive b" / "day 4"]
    day = drives[0]
    _check_folder(out, field)
    truth = step("build the day", lambda: _truth(field, seed, progress))
    offloads = step("offload", lambda: _offload(field, drives, progress))
    recorder = step("inspect", lambda: inspect([day / "recorder"], index=index, progress=progress))
    conformed = step("conform", lambda: _conform(out, day, progress))
    mirrors = step("inspect mirrors", lambda: inspect([day / "mirrors"], index=index, progress=progress))
    handed = step("turnover", lambda: _turnover(day, out / "post", index, progress))
    proven = step("verify", lambda: verify_folder(out / "post", progress))
    step("make the show", lambda: make_show(out))
    return NightResult(
        out=str(out),
        show=truth.project,
        steps=tuple(steps),
        offloads=tuple(offloads),
        recorder=recorder,
        conform=conformed,
        mirrors=mirrors,
        turnover=handed,
        verify=proven,
        agreement=agreement(truth, conformed),
    )


def _check_folder(out: Path, field: Path) -> None:
    with storage(out):
        out.mkdir(parents=True, exist_ok=True)
        strangers = [path.name for path in out.iterdir() if path.name not in _OURS and not path.name.startswith(".")]
    if strangers and not field.exists():
        raise InputError(f"{out} holds other things ({strangers[0]}); name an empty folder for the demo")


_OURS = frozenset({"set", "drive a", "drive b", "post", "media", "backups", "jobs", "show.sqlite"})


def _truth(field: Path, seed: int, progress: Progress) -> Truth:
    path = field / "truth.json"
    if path.is_file():
        truth = Truth.model_validate_json(path.read_bytes())
        if truth.seed == seed:
            return truth
        raise InputError(f"{field} holds a day built from seed {truth.seed}; name another folder for seed {seed}")
    return build_day(field, seed=seed, progress=progress)


def _offload(field: Path, drives: list[Path], progress: Progress) -> list[OffloadResult]:
    for drive in drives:
        with storage(drive):
            (drive / "cards").mkdir(parents=True, exist_ok=True)
    done = [offload(field / "recorder", drives, progress=progress)]
    places = [drive / "cards" for drive in drives]
    done += [offload(card, places, progress=progress) for card in sorted((field / "cards").iterdir())]
    for name in ("takes.csv", "wearers.csv"):
        if not (drives[0] / name).exists():
            with storage(field / name):
                shutil.copy2(field / name, drives[0] / name)
    return done


def _conform(out: Path, day: Path, progress: Progress) -> ConformResult:
    """Mirrors that an earlier version made by another plan are never overwritten, so this one cannot go on there."""
    try:
        return conform(
            day / "recorder",
            cards=day / "cards",
            out=day / "mirrors",
            wearers_sheet=day / "wearers.csv",
            progress=progress,
        )
    except StorageError as error:
        if error.detail.get("errno") != errno.EEXIST:
            raise
        raise InputError(
            f"{out} holds a demo that another version of Rollsound made, and its mirrors are never overwritten; "
            "name another folder for the demo, or remove this one",
            path=str(error.detail.get("path", "")),
        ) from error


def _turnover(day: Path, to: Path, index: Path, progress: Progress) -> TurnoverResult:
    return turnover(day, to, index=index, day_name="Day 4", mixer="Northbound Ferry sound", progress=progress)


def faulty_tracks(result: InspectResult) -> set[tuple[str, int]]:
    """Tracks (file name, place from 1) that show faults of a radio link."""
    return {
        (Path(file.path).name, track.index)
        for file in result.files
        for track in file.tracks
        if any(finding.kind in RADIO_FAULTS and finding.weight is not Weight.FINE for finding in track.findings)
    }


def rebuilt_tracks(result: ConformResult) -> set[tuple[str, int]]:
    """Tracks (file name, place in that file from 1) that came from a card."""
    found = set()
    for take in result.takes:
        for track in take.tracks:
            if track.action == "replace" and take.output:
                mono = len(take.output) > 1
                found.add((Path(take.output[track.index - 1 if mono else 0]).name, 1 if mono else track.index))
    return found

"""Does what a worker was asked for: the action behind each kind of job, and its answer in one sentence."""

from __future__ import annotations

from typing import Any, assert_never

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.conform import conform
from rollsound.actions.inspect import inspect
from rollsound.actions.offload import offload
from rollsound.actions.turnover import turnover
from rollsound.actions.verify import verify_folder
from rollsound.actions.worker_kinds import AnyJob, ConformJob, InspectJob, OffloadJob, TurnoverJob, VerifyJob
from rollsound.finding import Finding, Weight, heaviest
from rollsound.progress import Progress
from rollsound.quantities import count, show_size

MOST_FINDINGS = 200


class JobAnswer(BaseModel):
    """What a finished job tells: one sentence, how it weighs, and what must be known."""

    model_config = ConfigDict(frozen=True)

    sentence: str
    weight: Weight
    findings: tuple[Finding, ...] = Field(default=(), description="stop and watch, the first 200 of them")
    detail: dict[str, Any] = Field(default_factory=dict, description="the action's result, where no file holds it")


def perform(job: AnyJob, progress: Progress) -> JobAnswer:
    """Do a job.

    Raises
    ------
    InputError, StorageError, Halted
        as its action does
    """
    if isinstance(job, InspectJob):
        return _inspect(job, progress)
    if isinstance(job, OffloadJob):
        return _offload(job, progress)
    if isinstance(job, ConformJob):
        return _conform(job, progress)
    if isinstance(job, TurnoverJob):
        return _turnover(job, progress)
    if isinstance(job, VerifyJob):
        return _verify(job, progress)
    assert_never(job)


def _arguments(job: AnyJob, *leave_out: str) -> dict[str, Any]:
    return {name: getattr(job, name) for name in type(job).model_fields if name not in ("kind", *leave_out)}


def _inspect(job: InspectJob, progress: Progress) -> JobAnswer:
    result = inspect(job.paths, index=job.index, progress=progress)
    unread = f" {count(len(result.problems), 'file')} could not be read." if result.problems else ""
    # What was found lies in the index, beside its tracks, and weighs less where a card stood in; the page tells it.
    weight = Weight.STOP if result.problems else Weight.FINE
    return JobAnswer(sentence=f"{count(len(result.files), 'file')} measured.{unread}", weight=weight)


def _offload(job: OffloadJob, progress: Progress) -> JobAnswer:
    result = offload(**_arguments(job), progress=progress)
    size = f"{count(result.file_count, 'file')}, {show_size(result.size_bytes)}"
    places = count(len(result.destinations), "place")
    text = f"{size}: every file proven in {places}." if result.complete else f"{size}: not proven in every place."
    return _answer(text, result.findings, result.model_dump(mode="json", exclude={"files"}))


def _conform(job: ConformJob, progress: Progress) -> JobAnswer:
    result = conform(**_arguments(job), progress=progress)
    used = [track for take in result.takes for track in take.tracks if track.action != "keep"]
    done = {"mirror": "rebuilt from cards", "mend": "mended from cards", "compare": "compared with cards"}
    spans = count(sum(len(track.spans) for track in used), "damaged span")
    return _answer(f"{count(len(used), 'radio track')} {done[result.mode]}; {spans} on them.", result.findings)


def _turnover(job: TurnoverJob, progress: Progress) -> JobAnswer:
    result = turnover(**_arguments(job), progress=progress)
    size = f"{count(len(result.files), 'file')}, {show_size(result.size_bytes)}"
    missing = count(len(result.problems), "file")
    text = f"{size}, proven." if result.complete else f"{size}; {missing} could not be put in."
    return _answer(text, result.findings, result.model_dump(mode="json"))


def _verify(job: VerifyJob, progress: Progress) -> JobAnswer:
    result = verify_folder(job.path, progress)
    bad = len(result.changed) + len(result.missing) + len(result.unreadable)
    good = count(len(result.good), "file")
    text = f"{good} as recorded." if result.proven else f"{good} as recorded; {bad} not."
    return _answer(text, result.findings, result.model_dump(mode="json", exclude={"good"}))


def _answer(sentence: str, findings: tuple[Finding, ...], detail: dict[str, Any] | None = None) -> JobAnswer:
    told = [finding for finding in findings if finding.weight is not Weight.FINE]
    told.sort(key=lambda finding: list(Weight).index(finding.weight))
    return JobAnswer(
        sentence=sentence, weight=heaviest(findings), findings=tuple(told[:MOST_FINDINGS]), detail=detail or {}
    )

"""Make whole copies of files that a dead battery or a pulled card left broken; the sources are only read."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.gather import audio_files
from rollsound.errors import InputError, StorageError, storage
from rollsound.finding import Finding
from rollsound.progress import Progress
from rollsound.wave import AudioFormat, read_info, recover, recover_more
from rollsound.wave.proofs import findings_of_info


class RecoveredFile(BaseModel):
    """One file looked at: whole already, copied, or beyond reading."""

    model_config = ConfigDict(frozen=True)

    path: str
    outcome: str = Field(description="whole (nothing to do), recovered, already there, or lost")
    output: str = ""
    frames: int = 0
    further_outputs: tuple[str, ...] = Field(
        default=(), description="further audio chunks that lay in the file, each as a whole file of its own"
    )
    assumptions: tuple[str, ...] = Field(default=(), description="what had to be assumed to read it, one sentence each")
    problem: str = ""
    findings: tuple[Finding, ...] = ()


class RecoverResult(BaseModel):
    """What recovering did."""

    model_config = ConfigDict(frozen=True)

    files: tuple[RecoveredFile, ...]

    @property
    def problems(self) -> tuple[str, ...]:
        """Why files could not be recovered."""
        return tuple(file.problem for file in self.files if file.problem)


def recover_files(
    paths: Iterable[Path],
    *,
    out: Path | None = None,
    assume: AudioFormat | None = None,
    progress: Progress | None = None,
) -> RecoverResult:
    """Copy every broken file among ``paths`` into a whole one, beside it or into ``out``; whole files are left alone.

    Parameters
    ----------
    out
        folder for the copies; beside each source, with ``-recovered`` in the name, when left out
    assume
        the format to take where a header is destroyed

    Raises
    ------
    InputError, StorageError
        when nothing is found or ``out`` cannot be made; a single file beyond reading is reported and the rest goes on
    """
    progress = progress or Progress()
    files = audio_files(paths)
    if out is not None:
        with storage(out):
            out.mkdir(parents=True, exist_ok=True)
    done = []
    for number, path in enumerate(files):
        progress.tell("recover", number, len(files), "files", path.name)
        try:
            done.append(_one(path, out, assume, progress))
        except (InputError, StorageError) as error:
            done.append(RecoveredFile(path=str(path), outcome="lost", problem=error.sentence))
    return RecoverResult(files=tuple(done))


def _one(path: Path, out: Path | None, assume: AudioFormat | None, progress: Progress) -> RecoveredFile:
    info = read_info(path, assume=assume)
    sentences = tuple(assumption.sentence for assumption in info.assumptions)
    findings = tuple(findings_of_info(info))
    if not info.assumptions:
        return RecoveredFile(path=str(path), outcome="whole", frames=info.frames, findings=findings)
    target = out / path.name if out is not None else path.with_name(f"{path.stem}-recovered{path.suffix or '.wav'}")
    parts = [
        target.with_name(f"{target.stem}-part{number}{target.suffix}") for number in range(2, len(info.more_audio) + 2)
    ]
    _refuse_others([(target, info.frames, info.format)])
    _refuse_others([(part, each.frames, each.format) for part, each in zip(parts, info.more_audio, strict=True)])
    outcome = "already there"
    if not target.exists():
        outcome = "recovered"
        recover(path, target, assume=assume, progress=progress)
    for number, part in enumerate(parts, 2):
        if not part.exists():
            outcome = "recovered"
            recover_more(path, part, number, assume=assume, progress=progress)
    if parts:
        sentences = (*sentences, _told_of(parts))
    return RecoveredFile(
        path=str(path),
        outcome=outcome,
        output=str(target),
        further_outputs=tuple(str(part) for part in parts),
        frames=info.frames,
        assumptions=sentences,
        findings=findings,
    )


def _refuse_others(wanted: list[tuple[Path, int, AudioFormat]]) -> None:
    """Raise StorageError if another file has one of these names, before anything is written."""
    for target, frames, form in wanted:
        if target.exists():
            there = read_info(target)
            if there.assumptions or there.frames != frames or there.format != form:
                raise StorageError(f"{target} is there already and is another file; move it away or name another --out")


def _told_of(parts: list[Path]) -> str:
    names = ", ".join(part.name for part in parts)
    if len(parts) == 1:
        return (
            f"The second audio chunk was written to {names}: nothing says that it goes on from the first nor when it "
            "began, so it was not joined on and has no time stamp."
        )
    return (
        f"The further audio chunks were written to {names}: nothing says that they go on from one another nor when "
        "they began, so they were not joined and have no time stamps."
    )

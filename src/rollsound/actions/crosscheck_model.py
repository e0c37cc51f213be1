"""What the cross-check answers with: pairs, what is missing on one side, disagreements, and what was written."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class PairRow(_Result):
    """A take of the log and its files."""

    take: str = Field(description="id of the log's line; of a sheet, the name that it gives")
    name: str
    scene: str
    kind: str
    circled: bool
    files: tuple[str, ...]
    by: str = Field(description="how they were told: file name, time code or slate")


class RepairRow(_Result):
    """A disagreement, with the side that is likely to be right."""

    take: str = Field(description="id of the log's line")
    name: str
    field: str = Field(description="scene, take, sound roll, circled, kind, track name, time code in, time code out")
    log: str = Field(description="what the log says; of a track's name, the plan")
    file: str
    right: str = Field(description="log or file")
    why: str
    files: tuple[str, ...] = ()
    channel: int = Field(default=0, description="of a track's name: place in the file, from 1")


class WrittenFile(_Result):
    """A corrected copy."""

    source: str
    path: str
    outcome: str = Field(description="written, there already, or failed")
    changed: tuple[str, ...] = Field(default=(), description="what is other than in the source")
    problem: str = ""


class CrosscheckResult(_Result):
    """A day's log held against its media and the plan."""

    path: str
    name: str
    day: str
    day_name: str
    log_is: str = Field(description="the log, or the sheet of takes where the log has none")
    takes: int
    files: int
    pairs: tuple[PairRow, ...]
    without_file: tuple[str, ...] = Field(description="takes of the log that no file is")
    without_line: tuple[str, ...] = Field(description="files that no line of the log is")
    repairs: tuple[RepairRow, ...]
    findings: tuple[Finding, ...]
    written: tuple[WrittenFile, ...] = ()
    sidecars: tuple[str, ...] = Field(default=(), description="lists that were written beside")
    notes: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """The worst finding."""
        return heaviest(self.findings)

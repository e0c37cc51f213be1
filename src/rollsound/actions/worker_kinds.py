"""The arguments of each kind of job. Paths are whole paths, so that a job means the same wherever its process starts.

Kept apart from the actions themselves, so that the pages can check an order without loading signal code.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from rollsound.errors import MistakesError
from rollsound.mistakes import mistakes_of


def _whole(path: Path) -> Path:
    if not path.is_absolute():
        raise ValueError("should be a whole path, from the root of its drive")
    return path


WholePath = Annotated[Path, AfterValidator(_whole)]


class _Job(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class InspectJob(_Job):
    """Measure files and folders into the show's index."""

    kind: Literal["inspect"] = "inspect"
    paths: tuple[WholePath, ...] = Field(min_length=1)
    index: WholePath


class OffloadJob(_Job):
    """Copy a card or drive to several places at once, proven in each."""

    kind: Literal["offload"] = "offload"
    source: WholePath
    destinations: tuple[WholePath, ...] = Field(min_length=1)
    algorithm: str = "xxh64"
    also_md5: bool = False
    name: str = ""


class ConformJob(_Job):
    """Find which card is which track, and rebuild, mend or compare the radio tracks."""

    kind: Literal["conform"] = "conform"
    recorder: WholePath
    cards: WholePath
    out: WholePath
    mode: Literal["mirror", "mend", "compare"] = "mirror"
    takes_sheet: WholePath | None = None
    wearers_sheet: WholePath | None = None


class TurnoverJob(_Job):
    """Put a day together for sound post."""

    kind: Literal["turnover"] = "turnover"
    day: WholePath
    to: WholePath
    conformed: tuple[WholePath, ...] = ()
    takes_sheet: WholePath | None = None
    wearers_sheet: WholePath | None = None
    index: WholePath | None = None
    show: str = ""
    day_name: str = ""
    date: str = ""
    mixer: str = ""
    algorithm: str = "xxh64"
    also_md5: bool = False


class VerifyJob(_Job):
    """Prove a folder by the manifests in it."""

    kind: Literal["verify"] = "verify"
    path: WholePath


Job = Annotated[InspectJob | OffloadJob | ConformJob | TurnoverJob | VerifyJob, Field(discriminator="kind")]
AnyJob = InspectJob | OffloadJob | ConformJob | TurnoverJob | VerifyJob
_ADAPTER: TypeAdapter[AnyJob] = TypeAdapter(Job)


def job_of(kind: str, arguments: dict[str, Any]) -> AnyJob:
    """The job that is asked for.

    Raises
    ------
    MistakesError
        with every argument that cannot be used
    """
    try:
        return _ADAPTER.validate_python({**arguments, "kind": kind})
    except ValidationError as error:
        raise MistakesError("the job", mistakes_of(error)) from error

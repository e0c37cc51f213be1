"""Media: days, takes, waveforms and sound. Takes are named by ids of ours; no path goes out, and none comes in but
from the machine itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, Field

from rollsound.errors import StorageError
from rollsound.log.changes import changes_between
from rollsound.web import loading
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.media_model import MediaTake

router = APIRouter(prefix="/api/v1/media", tags=["media"], responses=PROBLEMS)

MOST_SAMPLES = 1 << 50
Id = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=64)]


class DayFolders(BaseModel, extra="forbid"):
    """Where the recordings of a day lie; paths from the show's folder, or whole."""

    id: Id
    day: str = Field(default="", max_length=64)
    recorder: str = Field(default="", max_length=4000)
    cards: str = Field(default="", max_length=4000)
    conformed: str = Field(default="", max_length=4000)
    turnover: str = Field(default="", max_length=4000)
    takes_sheet: str = Field(default="", max_length=4000)
    wearers_sheet: str = Field(default="", max_length=4000)


class TakeState(BaseModel):
    """One take in the list."""

    id: str
    name: str
    role: str
    other: str
    scene: str
    take: str
    timecode: str
    seconds: float
    tracks: int
    weight: str
    stops: int
    watches: int
    measured: bool
    problem: str


class DayState(BaseModel):
    """One day's media."""

    id: str
    label: str
    mode: str
    radio_tracks: int
    rebuilt_tracks: int
    mended_spans: int
    problems: list[str]
    takes: list[TakeState]


class MediaAnswer(BaseModel):
    """All media of the show."""

    days: list[DayState]


class FoldersSaved(BaseModel):
    """What was written into the plan."""

    sentence: str
    revision: int


@router.get("", response_model=MediaAnswer)
def media(desk: TheDesk, visitor: TheVisitor) -> Any:
    """Every day's media, take by take."""
    loading.wait()
    from rollsound.actions.media import media_of

    return {
        "days": [
            {
                **day.model_dump(include={"id", "label", "mode", "problems"}),
                "radio_tracks": day.radio_tracks,
                "rebuilt_tracks": day.rebuilt_tracks,
                "mended_spans": day.mended_spans,
                "takes": [_state(take) for take in day.takes],
            }
            for day in media_of(desk.show).days
        ]
    }


@router.post("", response_model=FoldersSaved, dependencies=[needs(Right.MACHINE)])
def name_folders(desk: TheDesk, visitor: TheVisitor, folders: DayFolders) -> Any:
    """Write a day's folders into the plan, or change them. Only from the machine that holds them."""
    given = {name: value.strip() for name, value in folders.model_dump(exclude={"id"}).items()}
    head = desk.show.store.head()
    entries = [each for each in head.document.get("media") or [] if isinstance(each, dict)]
    known = next((each for each in entries if each.get("id") == folders.id), {"id": folders.id})
    # what this form does not know of an entry stays; a folder that was emptied goes
    entry = {key: value for key, value in known.items() if key not in given}
    entry |= {name: value for name, value in given.items() if value}
    changed = [entry if each.get("id") == folders.id else each for each in entries]
    if entry not in changed:
        changed.append(entry)
    changes = changes_between(head.document, {**head.document, "media": changed})
    if not changes:
        return {"sentence": w("media.folders_same"), "revision": head.revision}
    saved = desk.show.edit(changes, visitor.author(), base_revision=head.revision)
    desk.tell_saved(saved)
    desk.live.publish("media", {})
    return {"sentence": w("media.folders_saved"), "revision": saved.revision}


@router.get("/{take_id}", response_model=None, responses={200: {"description": "The take, its tracks and findings."}})
def take(desk: TheDesk, visitor: TheVisitor, take_id: str) -> dict[str, Any]:
    """One take: its files as they are now, its tracks, findings and spots."""
    return _take(desk, take_id).model_dump(mode="json")


@router.get(
    "/{take_id}/waveform",
    response_model=None,
    responses={200: {"content": {"application/json": {}}, "description": "Lows and highs by track."}},
)
def slice_of(
    desk: TheDesk,
    visitor: TheVisitor,
    take_id: str,
    tracks: Annotated[str, Query(pattern=r"^(\d{1,4}(,\d{1,4})*)?$", max_length=600)] = "",
    start: Annotated[int, Query(alias="from", ge=0, le=MOST_SAMPLES)] = 0,
    stop: Annotated[int, Query(alias="to", ge=0, le=MOST_SAMPLES)] = MOST_SAMPLES,
    columns: Annotated[int, Query(ge=1, le=4000)] = 800,
) -> Response:
    """A part of the waveforms: lowest and highest sample of each column, in 1/32767 of full scale.

    ``tracks`` are numbers from 1 with commas between; all when left out.
    """
    from rollsound.actions.media_waveform import waveform

    found = _take(desk, take_id)
    wanted = [int(each) for each in tracks.split(",")] if tracks else []
    try:
        shown = waveform(found, wanted, start, stop, columns)
    except StorageError as error:
        raise _gone(found, error) from error
    return Response(shown.model_dump_json(), media_type="application/json")


@router.get(
    "/{take_id}/listen",
    response_model=None,
    responses={200: {"content": {"audio/wav": {}}, "description": "16-bit sound of one track."}},
)
def sound(
    desk: TheDesk,
    visitor: TheVisitor,
    take_id: str,
    track: Annotated[int, Query(ge=1, le=4096)] = 1,
    start: Annotated[int, Query(alias="from", ge=0, le=MOST_SAMPLES)] = 0,
    seconds: Annotated[float, Query(gt=0, le=30)] = 5.0,
) -> Response:
    """A stretch of one track as a WAV file, at the level it was recorded at: players begin low."""
    from rollsound.actions.listen import listen

    found = _take(desk, take_id)
    try:
        return Response(listen(found, track, start, seconds), media_type="audio/wav")
    except StorageError as error:
        raise _gone(found, error) from error


def _take(desk: Desk, take_id: str) -> MediaTake:
    loading.wait()
    from rollsound.actions.media import media_of

    found = media_of(desk.show).take(take_id)
    if found is None:
        raise missing(w("media.no_such_take"))
    return found


def _gone(take: MediaTake, error: StorageError) -> Exception:
    """A drive that was pulled is no fault of ours: one sentence, with no folder of this machine in it."""
    from rollsound.actions.media_build import told_of

    path = next((each.path for each in take.members if str(each.path) in error.sentence), take.members[0].path)
    return missing(told_of(error, path))


def _state(take: MediaTake) -> dict[str, Any]:
    weights = [finding.weight.value for finding in take.findings]
    return {
        **take.model_dump(include={"id", "name", "role", "other", "scene", "take", "timecode", "problem"}),
        "seconds": take.seconds,
        "tracks": len(take.tracks),
        "weight": take.weight.value,
        "stops": weights.count("stop"),
        "watches": weights.count("watch"),
        "measured": take.measured,
    }

"""Script: the breakdown, scenes put on days, a script or draft that is read, and names that are settled."""

from __future__ import annotations

import base64
import binascii
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field

from rollsound.actions import script_page
from rollsound.actions.script_model import ScriptResult
from rollsound.errors import InputError
from rollsound.web.api.radio import Base, RadioSaved, saved
from rollsound.web.desk import TheDesk, TheVisitor, needs
from rollsound.web.once import TheKey
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/script", tags=["script"], responses=PROBLEMS)

Number = Annotated[str, Field(min_length=1, max_length=20, description="of a scene, as on the slate")]
MaybeDay = Annotated[str, Field(max_length=64, pattern=r"^([a-z0-9][a-z0-9-]*)?$")]
Name = Annotated[str, Field(min_length=1, max_length=80)]
LONGEST_BASE64 = 1_900_000


class ScheduledGiven(BaseModel, extra="forbid"):
    """Where a scene goes. It leaves ``from_day`` only; on other days it stays."""

    scene: Number
    day: MaybeDay = Field(default="", description="id of the day; none takes the scene off its day")
    from_day: MaybeDay = ""
    before: Annotated[str, Field(max_length=20, description="the scene that follows it; last when left out")] = ""
    base_revision: Base = None


class ScriptGiven(BaseModel, extra="forbid"):
    """A script's file."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    data: Annotated[str, Field(max_length=LONGEST_BASE64, description="its bytes, in base64")]


class NamesGiven(BaseModel, extra="forbid"):
    """Two characters that look alike, and whether they are one."""

    keep: Name
    other: Name
    same: bool


class ScriptSaid(RadioSaved):
    """As every change, with what could not be read as it was meant."""

    remarks: tuple[str, ...] = ()


@router.get("", response_model=ScriptResult)
def today(desk: TheDesk) -> Any:
    """The script with its scenes, characters, days and findings."""
    result = script_page.state_of(desk.show).result
    if result is None:
        raise missing(w("script.empty"))
    # where the show lies is for this machine only
    return result.model_copy(update={"path": desk.show.folder.name})


@router.put("/schedule", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def put_on_day(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: ScheduledGiven) -> Any:
    """Put a scene on a day, or take it off."""

    def edit(document: Any) -> Any:
        return script_page.with_scene_on(document, given.scene, given.day, from_day=given.from_day, before=given.before)

    told = (
        w("script.put", scene=given.scene, day=_day(desk, given.day))
        if given.day
        else w("script.taken_off", scene=given.scene, day=_day(desk, given.from_day))
    )
    return saved(desk, visitor, key, edit, told, base=given.base_revision)


@router.post("", response_model=ScriptSaid, dependencies=[needs(Right.PLAN)])
def take(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: ScriptGiven) -> Any:
    """Read a script in Fountain, or a breakdown as a sheet. What people wrote of scenes and characters stays."""
    try:
        data = base64.b64decode(given.data, validate=True)
    except (binascii.Error, ValueError) as error:
        raise InputError(w("script.no_data")) from error
    head = desk.show.store.head()
    taken = script_page.take_script(desk.show, head, given.name, data)
    answer = saved(desk, visitor, key, lambda _document: taken.document, taken.sentence, base=head.revision)
    return {**answer, "remarks": taken.remarks}


@router.put("/names", response_model=RadioSaved, dependencies=[needs(Right.PLAN)])
def settle_names(desk: TheDesk, visitor: TheVisitor, key: TheKey, given: NamesGiven) -> Any:
    """Say whether two characters that look alike are one."""
    head = desk.show.store.head()
    made = script_page.with_names_settled(desk.show, head, given.keep, given.other, same=given.same)
    told = "script.are_one" if given.same else "script.are_two"
    sentence = w(told, keep=given.keep, other=given.other)
    return saved(desk, visitor, key, lambda _document: made, sentence, base=head.revision)


def _day(desk: TheDesk, id: str) -> str:
    number = next((each.number for each in desk.show.plan().schedule.days if each.id == id), None)
    return w("frame.day", number=number) if number is not None else id

"""Join codes: made by the mixer, shown as six signs and as a picture for cameras."""

from __future__ import annotations

import io
from typing import Literal

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response
from pydantic import BaseModel, Field

from rollsound.web.addresses import addresses
from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.codes import JoinCode
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/join-codes", tags=["devices"], responses=PROBLEMS, dependencies=[needs(Right.PLAN)])


class CodeGiven(BaseModel):
    """Whom to let in."""

    role: Literal["mixer", "crew", "guest"] = Field(
        default="crew", description="of anybody; a person of the plan has the role that the plan gives them"
    )
    person_id: str = Field(default="", max_length=100, description="id of the person in the plan, if it is for one")
    uses: int = Field(default=1, ge=1, le=20)


class CodeAnswer(BaseModel):
    """A code that is open."""

    id: str
    code: str
    role: str
    person_id: str
    uses_left: int
    seconds_left: int
    url: str = Field(description="what the picture holds; opens the page with the code filled in")
    addresses: list[str] = Field(description="the page where devices give the code")


class CodesAnswer(BaseModel):
    """The codes that are open now."""

    codes: list[CodeAnswer]


class Closed(BaseModel):
    """The code opens nothing any more."""

    id: str


@router.get("", response_model=CodesAnswer)
def codes(desk: TheDesk) -> CodesAnswer:
    """The codes that are open now."""
    return CodesAnswer(codes=codes_of(desk))


@router.post("", response_model=CodeAnswer, dependencies=[needs(Right.PLAN)])
def make(desk: TheDesk, visitor: TheVisitor, given: CodeGiven) -> CodeAnswer:
    """Make a code. A code for another mixer is made on this machine only."""
    if not desk.doors.lan:
        raise HTTPException(409, w("settings.no_lan"))
    people = desk.doors.people.now() or {}
    if given.person_id and given.person_id not in people:
        raise missing(w("settings.no_person"))
    role = people[given.person_id].role if given.person_id else given.role
    if role == "mixer" and not visitor.may(Right.MACHINE):
        raise HTTPException(403, w("settings.mixer_code_here"))
    made = desk.doors.codes.make(role, person_id=given.person_id, uses=given.uses)
    desk.live.publish("devices", {"code": made.id})
    return _answer(desk, made)


@router.delete("/{code_id}", response_model=Closed, dependencies=[needs(Right.PLAN)])
def close(desk: TheDesk, code_id: str) -> Closed:
    """Take a code back."""
    desk.doors.codes.close(code_id)
    desk.live.publish("devices", {"closed": code_id})
    return Closed(id=code_id)


@router.get("/{code_id}/picture", responses={200: {"content": {"image/svg+xml": {}}}}, response_class=Response)
def picture(desk: TheDesk, code_id: str) -> Response:
    """The code as a picture for cameras."""
    found = next((each for each in desk.doors.codes.open_codes() if each.id == code_id), None)
    if found is None:
        raise missing(w("settings.code_ended"))
    import segno  # only here, so that the server answers sooner

    drawn = io.BytesIO()
    segno.make(_answer(desk, found).url, error="m", micro=False).save(
        drawn, kind="svg", scale=6, border=2, dark="#000", light="#fff", xmldecl=False
    )
    return Response(drawn.getvalue(), media_type="image/svg+xml")


def codes_of(desk: Desk) -> list[CodeAnswer]:
    """The open codes, as they are shown."""
    return [_answer(desk, code) for code in desk.doors.codes.open_codes()]


def _answer(desk: Desk, code: JoinCode) -> CodeAnswer:
    doors = desk.doors
    person = (doors.people.now() or {}).get(code.person_id)
    found = [f"{'https' if doors.tls else 'http'}://{name}:{doors.port}/join" for name in (*doors.names, *addresses())]
    return CodeAnswer(
        id=code.id,
        code=code.code,
        role=code.role if person is None else person.role,
        person_id=code.person_id,
        uses_left=code.uses_left,
        seconds_left=round(doors.codes.seconds_left(code)),
        url=f"{found[0]}?code={code.code}" if found else "",
        addresses=found,
    )

"""How a browser becomes a device of the show: the key of this machine, or a join code."""

from __future__ import annotations

import math
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import RedirectResponse, Response

from rollsound.web.desk import Desk, TheDesk
from rollsound.web.rendering import render
from rollsound.web.security.codes import Tried
from rollsound.web.security.cookies import LONGEST_S
from rollsound.web.security.doors import is_loopback
from rollsound.web.words import w

router = APIRouter(include_in_schema=False)


@router.get("/enter")
def enter(request: Request, desk: TheDesk, key: Annotated[str, Query(max_length=100)] = "") -> Response:
    """Make this browser the mixer's, by the key that the command printed; from this machine only."""
    address = _address(request)
    if not is_loopback(address):
        raise HTTPException(403, w("doors.enter_elsewhere"))
    if request.scope["state"]["visitor"] is not None:
        desk.doors.keys.use(key)
        return RedirectResponse("/", 303)
    if not desk.doors.keys.use(key):
        raise HTTPException(403, w("doors.enter_used"))
    name, person_id = _mixer(desk)
    _, token = desk.doors.devices.join(
        name=w("doors.this_machine"), role="mixer", person=name, person_id=person_id, at_machine=True, address=address
    )
    return _welcome(desk, token)


@router.get("/join")
def join_page(request: Request, desk: TheDesk, code: Annotated[str, Query(max_length=20)] = "") -> Response:
    """Ask for the code; from the picture on the mixer's screen it is filled in already."""
    status = 200 if desk.doors.lan else 401
    why = desk.doors.why_not(request.cookies.get(desk.doors.cookie_name, ""))
    return render(
        request, "join.html", status=status, code=code, lan=desk.doors.lan, refused=why and f"{why}.", name=""
    )


@router.post("/join")
def join(
    request: Request,
    desk: TheDesk,
    code: Annotated[str, Form(max_length=20)] = "",
    name: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Let a device in that gives an open code."""
    address = _address(request)
    name = " ".join("".join(sign if sign.isprintable() else " " for sign in name).split())
    if not desk.doors.lan and not is_loopback(address):
        raise HTTPException(403, w("doors.unknown"))
    refused, status = "", 403
    tried = desk.doors.codes.use(code, address) if name else Tried()
    if tried.closed:
        desk.live.publish("devices", {"closed": tried.closed})
    if not name:
        refused, status = w("join.no_name"), 422
    elif tried.wait_s:
        refused, status = w("join.wait", n=math.ceil(tried.wait_s / 60)), 429
    elif (used := tried.code) is None:
        refused = w("join.wrong")
    elif used.person_id and used.person_id not in (people := desk.doors.people.now() or {}):
        refused = w("join.gone")
    else:
        person = people[used.person_id] if used.person_id else None
        device, token = desk.doors.devices.join(
            name=name,
            role=used.role if person is None else person.role,
            at_machine=False,
            address=address,
            person="" if person is None else person.name,
            person_id=used.person_id,
        )
        desk.live.publish("devices", {"joined": device.id})
        return _welcome(desk, token)
    return render(request, "join.html", status=status, code=code, lan=desk.doors.lan, refused=refused, name=name)


def _welcome(desk: Desk, token: str) -> Response:
    answer = RedirectResponse("/", 303)
    doors = desk.doors
    answer.set_cookie(
        doors.cookie_name,
        doors.signer.cookie(token),
        max_age=LONGEST_S,
        path="/",
        secure=doors.tls,
        httponly=True,
        samesite="strict",
    )
    return answer


def _mixer(desk: Desk) -> tuple[str, str]:
    """Name and id of the show's mixer, as far as the plan says who that is."""
    plan = desk.plan()
    found = next((person for person in plan.people if person.role == "mixer"), None) if plan is not None else None
    return (found.name, found.id) if found is not None else ("", "")


def _address(request: Request) -> str:
    return request.client.host if request.client is not None else ""

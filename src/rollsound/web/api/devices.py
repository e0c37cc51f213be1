"""Devices that joined."""

from __future__ import annotations

from datetime import datetime

from fastapi import APIRouter, HTTPException
from pydantic import BaseModel, Field

from rollsound.web.desk import Desk, TheDesk, TheVisitor, needs
from rollsound.web.problems import PROBLEMS, missing
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

router = APIRouter(prefix="/api/v1/devices", tags=["devices"], responses=PROBLEMS)


class DeviceAnswer(BaseModel):
    """A device that joined; nothing that would let anybody in."""

    id: str
    name: str
    person: str
    role: str
    at_machine: bool
    joined: datetime
    seen: datetime
    revoked: datetime | None
    address: str
    open: bool = Field(description="it has a page open now")
    asking: bool = Field(description="it is the one that asks")


class DevicesAnswer(BaseModel):
    """All devices, the latest seen first."""

    devices: list[DeviceAnswer]


@router.get("", response_model=DevicesAnswer)
def devices(desk: TheDesk, visitor: TheVisitor) -> DevicesAnswer:
    """All devices that ever joined."""
    return DevicesAnswer(devices=devices_of(desk, visitor))


@router.post("/{device_id}/revoke", response_model=DeviceAnswer, dependencies=[needs(Right.PLAN)])
def revoke(desk: TheDesk, visitor: TheVisitor, device_id: str) -> DeviceAnswer:
    """Shut a device out at once; its open pages lose the live stream."""
    device = desk.doors.devices.get(device_id)
    if device is None:
        raise missing(w("settings.no_device"))
    if device.at_machine and not visitor.may(Right.MACHINE):
        raise HTTPException(403, w("settings.not_the_machine"))
    desk.shut_out(device_id)
    return next(each for each in devices_of(desk, visitor) if each.id == device_id)


def devices_of(desk: Desk, visitor: Visitor) -> list[DeviceAnswer]:
    """All devices, as they are shown."""
    listening = desk.live.listening
    doors = desk.doors
    return [
        DeviceAnswer(
            id=device.id,
            name=device.name,
            person=device.person,
            role=device.role,
            at_machine=device.at_machine,
            joined=device.joined,
            seen=device.seen,
            revoked=device.revoked,
            address=device.address if visitor.may(Right.PLAN) else "",
            open=device.id in listening and device.revoked is None,
            asking=device.id == visitor.device.id,
        )
        for device in (doors.standing(each) or each for each in doors.devices.all())
    ]

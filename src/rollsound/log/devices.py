"""Devices that joined a show."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Row, select

from rollsound.errors import InputError
from rollsound.log.base import Base
from rollsound.log.keeping import now, time_of, time_text
from rollsound.log.model import DeviceRow
from rollsound.log.tables import devices


class Devices(Base):
    """The part of the store that knows the devices."""

    def add_device(self, device: DeviceRow) -> None:
        """Let a device in. Raises InputError when its id or token is known already."""
        with self._writing() as connection:
            taken = (devices.c.id == device.id) | (devices.c.token_hash == device.token_hash)
            if connection.execute(select(devices.c.id).where(taken)).first() is not None:
                raise InputError("this device has joined already; revoke it before it joins again")
            row = {
                **vars(device),
                "joined": time_text(device.joined),
                "seen": time_text(device.seen),
                "revoked": None if device.revoked is None else time_text(device.revoked),
                "at_machine": int(device.at_machine),
            }
            connection.execute(devices.insert(), [row])

    def device(self, token_hash: str) -> DeviceRow | None:
        """The device with this token, also when it was revoked."""
        with self._reading() as connection:
            row = connection.execute(select(devices).where(devices.c.token_hash == token_hash)).one_or_none()
            return None if row is None else _device(row)

    def devices(self) -> list[DeviceRow]:
        """All devices there ever were, in the order they joined."""
        with self._reading() as connection:
            rows = connection.execute(select(devices).order_by(devices.c.joined, devices.c.id)).all()
            return [_device(row) for row in rows]

    def touch_device(self, device_id: str, seen: datetime | None = None, address: str = "") -> None:
        """Note that a device was heard of, and from where if that is known."""
        values = {"seen": time_text(seen or now()), **({"address": address} if address else {})}
        with self._writing() as connection:
            connection.execute(devices.update().where(devices.c.id == device_id).values(values))

    def revoke_device(self, device_id: str, at: datetime | None = None) -> None:
        """Keep a device out from now on. Raises InputError when there is none of this id."""
        with self._writing() as connection:
            found = connection.execute(
                devices.update()
                .where(devices.c.id == device_id, devices.c.revoked.is_(None))
                .values(revoked=time_text(at or now()))
            )
            known = select(devices.c.id).where(devices.c.id == device_id)
            if not found.rowcount and connection.execute(known).first() is None:
                raise InputError("no device of this show has this id; look at the list again")


def _device(row: Row[Any]) -> DeviceRow:
    return DeviceRow(
        id=row.id,
        token_hash=row.token_hash,
        name=row.name,
        person=row.person,
        person_id=row.person_id,
        role=row.role,
        joined=time_of(row.joined),
        seen=time_of(row.seen),
        revoked=None if row.revoked is None else time_of(row.revoked),
        at_machine=bool(row.at_machine),
        address=row.address,
    )

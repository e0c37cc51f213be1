"""The devices that joined: known by a token that only the device itself keeps; the show keeps its hash."""

from __future__ import annotations

import hashlib
import secrets
import threading
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Protocol

from rollsound.log.model import DeviceRow

_TOKEN_BYTES = 32
_AT_MACHINE = "here-"
_TOUCH_EVERY = timedelta(minutes=1)


@dataclass(frozen=True)
class Device:
    """One browser that joined. ``at_machine`` says that it came in by the key of this machine."""

    id: str
    token_hash: str
    name: str
    person: str
    person_id: str
    role: str
    joined: datetime
    seen: datetime
    revoked: datetime | None = None
    address: str = ""

    @property
    def at_machine(self) -> bool:
        """True for a browser of the machine itself; its id says so, for the store has no field for it."""
        return self.id.startswith(_AT_MACHINE)


class DeviceStore(Protocol):
    """Where devices are kept between runs."""

    read_only: bool

    def add_device(self, device: DeviceRow) -> None:
        """Keep a new one."""

    def devices(self) -> list[DeviceRow]:
        """All that ever joined, revoked ones too."""

    def touch_device(self, device_id: str, seen: datetime | None = None) -> None:
        """Note when it was last here."""

    def revoke_device(self, device_id: str) -> None:
        """Shut it out."""


def hash_of(token: str) -> str:
    """What is kept of a token; nobody can make the token from it."""
    return hashlib.sha256(token.encode()).hexdigest()


class Devices:
    """All devices, in memory for speed and in the store for good. Safe to use from several threads.

    A show that is open for reading only keeps them in memory alone.
    """

    def __init__(self, store: DeviceStore) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._by_id = {row.id: Device(**vars(row)) for row in store.devices()}
        self._by_hash = {device.token_hash: device.id for device in self._by_id.values()}

    def join(
        self, *, name: str, role: str, at_machine: bool, address: str, person: str = "", person_id: str = ""
    ) -> tuple[Device, str]:
        """Take in a new device; its token leaves here once and is kept nowhere."""
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        id = f"{_AT_MACHINE if at_machine else ''}{secrets.token_hex(6)}"
        now = datetime.now(UTC)
        row = DeviceRow(id, hash_of(token), name, person or name, person_id, role, now, now)
        if not self._store.read_only:
            self._store.add_device(row)
        device = Device(**vars(row), address=address)
        with self._lock:
            self._by_id[device.id] = device
            self._by_hash[device.token_hash] = device.id
        return device, token

    def by_token(self, token: str) -> Device | None:
        """The device that holds this token, unless it was shut out."""
        with self._lock:
            device = self._by_id.get(self._by_hash.get(hash_of(token), ""))
        return device if device is not None and device.revoked is None else None

    def get(self, id: str) -> Device | None:
        """One device by its id."""
        with self._lock:
            return self._by_id.get(id)

    def all(self) -> list[Device]:
        """Every device, the latest seen first."""
        with self._lock:
            return sorted(self._by_id.values(), key=lambda device: device.seen, reverse=True)

    def revoke(self, id: str) -> Device | None:
        """Shut a device out, from its next request on."""
        now = datetime.now(UTC)
        with self._lock:
            device = self._by_id.get(id)
            if device is None or device.revoked is not None:
                return device
            device = self._by_id[id] = replace(device, revoked=now)
        if not self._store.read_only:
            self._store.revoke_device(id)
        return device

    def stale(self, device: Device) -> bool:
        """True when it is worth noting again that the device is here."""
        return datetime.now(UTC) - device.seen > _TOUCH_EVERY

    def touch(self, device: Device, address: str) -> None:
        """Note that the device is here."""
        now = datetime.now(UTC)
        with self._lock:
            kept = self._by_id.get(device.id)
            if kept is None:
                return
            self._by_id[device.id] = replace(kept, seen=now, address=address)
        if not self._store.read_only:
            self._store.touch_device(device.id, now)

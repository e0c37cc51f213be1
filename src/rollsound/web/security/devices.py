"""The devices that joined: known by a token that only the device itself keeps; the show keeps its hash."""

from __future__ import annotations

import hashlib
import secrets
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from rollsound.log.model import DeviceRow
from rollsound.log.store import Store

_TOKEN_BYTES = 32
_TOUCH_EVERY = timedelta(minutes=1)


def hash_of(token: str) -> str:
    """What is kept of a token; nobody can make the token from it."""
    return hashlib.sha256(token.encode()).hexdigest()


class Devices:
    """All devices, in memory for speed and in the store for good. Safe to use from several threads.

    A show that is open for reading only keeps them in memory alone.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._by_id = {row.id: row for row in store.devices()}
        self._by_hash = {device.token_hash: device.id for device in self._by_id.values()}

    def join(
        self, *, name: str, role: str, at_machine: bool, address: str, person: str = "", person_id: str = ""
    ) -> tuple[DeviceRow, str]:
        """Take in a new device; its token leaves here once and is kept nowhere."""
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        now = datetime.now(UTC)
        device = DeviceRow(
            id=secrets.token_hex(6),
            token_hash=hash_of(token),
            name=name,
            person=person or name,
            person_id=person_id,
            role=role,
            joined=now,
            seen=now,
            at_machine=at_machine,
            address=address,
        )
        if not self._store.read_only:
            self._store.add_device(device)
        with self._lock:
            self._by_id[device.id] = device
            self._by_hash[device.token_hash] = device.id
        return device, token

    def by_token(self, token: str) -> DeviceRow | None:
        """The device that holds this token, unless it was shut out."""
        device = self.ever_by_token(token)
        return device if device is not None and device.revoked is None else None

    def ever_by_token(self, token: str) -> DeviceRow | None:
        """The device that holds this token, also when it was shut out."""
        with self._lock:
            return self._by_id.get(self._by_hash.get(hash_of(token), ""))

    def get(self, id: str) -> DeviceRow | None:
        """One device by its id."""
        with self._lock:
            return self._by_id.get(id)

    def all(self) -> list[DeviceRow]:
        """Every device, the latest seen first."""
        with self._lock:
            return sorted(self._by_id.values(), key=lambda device: device.seen, reverse=True)

    def revoke(self, id: str) -> DeviceRow | None:
        """Shut a device out, from its next request on."""
        now = datetime.now(UTC)
        with self._lock:
            device = self._by_id.get(id)
            if device is None or device.revoked is not None:
                return device
            device = self._by_id[id] = replace(device, revoked=now)
        if not self._store.read_only:
            self._store.revoke_device(id, now)
        return device

    def stale(self, device: DeviceRow) -> bool:
        """True when it is worth noting again that the device is here."""
        return datetime.now(UTC) - device.seen > _TOUCH_EVERY

    def touch(self, device: DeviceRow, address: str) -> None:
        """Note that the device is here."""
        now = datetime.now(UTC)
        with self._lock:
            kept = self._by_id.get(device.id)
            if kept is None:
                return
            self._by_id[device.id] = replace(kept, seen=now, address=address)
        if not self._store.read_only:
            self._store.touch_device(device.id, now, address)

    def keep_again(self) -> None:
        """Write all that is known into a store that went back to an earlier state."""
        with self._lock:
            known = dict(self._by_id)
        kept = {row.id: row for row in self._store.devices()}
        for id, device in known.items():
            if id not in kept:
                self._store.add_device(device)
            elif device.revoked is not None and kept[id].revoked is None:
                self._store.revoke_device(id, device.revoked)

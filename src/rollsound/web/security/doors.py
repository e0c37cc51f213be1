"""All doors of one served show: who is at the door, and what may come from where."""

from __future__ import annotations

import ipaddress
import secrets
from dataclasses import dataclass, field, replace

from rollsound.log.model import Author, DeviceRow
from rollsound.log.store import Store
from rollsound.web.security.codes import EnterKeys, JoinCodes
from rollsound.web.security.cookies import Signer
from rollsound.web.security.devices import Devices
from rollsound.web.security.pace import Flow
from rollsound.web.security.rights import Right, right_of
from rollsound.web.security.standing import People
from rollsound.web.words import w

_LOCAL_NAMES = ("127.0.0.1", "localhost", "[::1]")
_CHANGES_PER_S = 20.0
_CHANGES_AT_ONCE = 100
"""Far more than anybody types; what waited on a device through a gap goes out at once."""


@dataclass(frozen=True)
class Visitor:
    """Who asks: a device that joined, and what it may do now."""

    device: DeviceRow
    right: Right
    token: str = field(repr=False)

    def may(self, right: Right) -> bool:
        """True when the visitor has this right."""
        return self.right >= right

    def author(self) -> Author:
        """Under whose name changes are kept; a device that stands for nobody of the plan stands for itself."""
        return Author(self.device.person, self.device.person_id or self.device.id, self.device.name)


class Doors:
    """The doors of one show.

    Parameters
    ----------
    lan
        let devices of the network in; without it only this machine
    names
        further names (no port) by which devices reach this machine
    tls
        the pages are served under TLS
    port
        the port devices see; it also names the cookie, for browsers share cookies between ports
    """

    def __init__(
        self, store: Store, *, port: int, lan: bool = False, names: tuple[str, ...] = (), tls: bool = False
    ) -> None:
        self.lan = lan
        self.tls = tls
        self.port = port
        self.names = frozenset(name.lower() for name in names)
        self.devices = Devices(store)
        self.people = People(store)
        self.codes = JoinCodes()
        self.keys = EnterKeys()
        self.changes = Flow(_CHANGES_PER_S, _CHANGES_AT_ONCE)
        self.signer = Signer(kept_name(store, "web-secret", 32))
        self.cookie_name = f"{'__Host-' if tls else ''}rollsound-{port}"

    def host_is_ours(self, host: str, reached: tuple[str, int] | None) -> bool:
        """True when the Host header names this machine.

        A page elsewhere can make its own name point at this machine; such a name is not ours. On the network the
        address must be the one that the connection really reached.
        """
        name, port = _split(host)
        if port != self.port and not (port == 0 and self._default_port()):
            return False
        if name in _LOCAL_NAMES or name in self.names:
            return True
        return self.lan and reached is not None and _same_address(name, reached[0])

    def origin_is_ours(self, origin: str, host: str) -> bool:
        """True when a change comes from a page of ours."""
        return origin == f"{'https' if self.tls else 'http'}://{host}"

    def visitor(self, cookie: str, address: str) -> Visitor | None:
        """Who carries this cookie; nobody when it is forged, old or shut out, or its person is not in the plan.

        The cookie of this machine opens nothing from elsewhere, should it be stolen.
        """
        token = self.signer.token(cookie) if cookie else None
        device = self.devices.by_token(token) if token else None
        if device is None or token is None:
            return None
        if device.at_machine and not is_loopback(address):
            return None
        if not device.at_machine and not self.lan and not is_loopback(address):
            return None
        standing = self.standing(device)
        return None if standing is None else Visitor(standing, right_of(standing.role, device.at_machine), token)

    def standing(self, device: DeviceRow) -> DeviceRow | None:
        """The device with the name and role that its person has in the plan now; nothing when they are not in it.

        The machine itself stays the mixer's: its key made it so, and nobody else could let anybody in again.
        """
        people = self.people.now() if device.person_id and not device.at_machine else None
        if people is None:
            return device
        found = people.get(device.person_id)
        return None if found is None else replace(device, person=found.name, role=found.role)

    def why_not(self, cookie: str) -> str:
        """Why a device that had joined is let in no more; empty for one that never had."""
        token = self.signer.token(cookie) if cookie else None
        device = self.devices.ever_by_token(token) if token else None
        if device is None:
            return ""
        if self.standing(device) is None:
            return w("doors.taken_out", name=device.person)
        return w("doors.shut_out") if device.revoked is not None else ""

    def _default_port(self) -> bool:
        return self.port == (443 if self.tls else 80)


def is_loopback(address: str) -> bool:
    """True for an address of this machine itself."""
    try:
        parsed = ipaddress.ip_address(address.split("%")[0])
    except ValueError:
        return False
    mapped = getattr(parsed, "ipv4_mapped", None)
    return bool((mapped or parsed).is_loopback)


def kept_name(store: Store, name: str, length: int) -> str:
    """A random name of the show, made when it is first asked for."""
    kept = store.get(name)
    if not isinstance(kept, str) or len(kept) < 2 * length:
        kept = secrets.token_hex(length)
        if not store.read_only:
            store.put(name, kept)
    return kept


def _split(host: str) -> tuple[str, int]:
    """Name and port of a Host header; port 0 when none is written, -1 when it is nonsense."""
    name, colon, port = host.lower().rpartition(":")
    if not colon or (host.startswith("[") and host.endswith("]")):
        return host.lower(), 0
    return name, int(port) if port.isascii() and port.isdigit() and len(port) <= 5 else -1


def _same_address(name: str, reached: str) -> bool:
    try:
        return ipaddress.ip_address(name.strip("[]")) == ipaddress.ip_address(reached.split("%")[0])
    except ValueError:
        return False

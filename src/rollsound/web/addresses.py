"""The addresses of this machine on its networks."""

from __future__ import annotations

import contextlib
import socket

# Nothing is sent: a datagram socket that is told where it would send to says which address it would send from.
_TOWARDS = ("192.168.255.254", "10.255.255.254", "172.31.255.254", "169.254.255.254", "198.51.100.1")


def addresses() -> list[str]:
    """Every address by which other devices may reach this machine, the likeliest first."""
    found: dict[str, None] = {}
    for target in _TOWARDS:
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
            asked.connect((target, 9))
            found[str(asked.getsockname()[0])] = None
    with contextlib.suppress(OSError):
        for *_, place in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET):
            found[str(place[0])] = None
    return [each for each in found if not each.startswith(("127.", "0."))]

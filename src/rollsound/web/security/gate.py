"""The gate before every route: Host, who asks, Origin, page token, size and pace of what comes; headers on what leaves.

Everything is shut unless it is opened here: a route forgets nothing by forgetting to ask.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Mapping
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import HTTPConnection, Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rollsound.web.problems import answer_to
from rollsound.web.security.doors import Doors, Visitor
from rollsound.web.words import w

MOST_BYTES = 8_000_000
_READING = frozenset({"GET", "HEAD"})
_OPEN = ("/static/", "/join", "/enter", "/manifest.webmanifest", "/worker.js", "/favicon.ico")
_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "media-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "frame-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # with no-referrer browsers send "Origin: null" with a form of ours, as if it came from a foreign page
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class Gate:
    """The outermost part of the app."""

    def __init__(self, app: ASGIApp, doors: Doors) -> None:
        self._app = app
        self._doors = doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        sender = _with_headers(send)
        visitor: Visitor | None = None
        try:
            visitor = self._check(scope)
        except HTTPException as refused:
            # what is still being sent is not read: the connection ends with the answer
            headers = {"connection": "close", **(refused.headers or {})}
            told = HTTPException(refused.status_code, refused.detail, headers)
            await answer_to(Request(scope), told)(scope, receive, sender)
            return
        scope.setdefault("state", {})["visitor"] = visitor
        if visitor is not None and self._doors.devices.stale(visitor.device):
            await asyncio.to_thread(self._doors.devices.touch, visitor.device, _address(scope))
        await self._app(scope, _counted(receive), sender)

    def _check(self, scope: Scope) -> Visitor | None:
        headers = Headers(scope=scope)
        path: str = scope["path"]
        host = headers.get("host", "")
        if not self._doors.host_is_ours(host, scope.get("server")):
            raise HTTPException(421, w("doors.foreign_host"))
        _check_length(headers)
        site = headers.get("sec-fetch-site", "")
        if site == "cross-site" and headers.get("sec-fetch-mode") != "navigate":
            raise HTTPException(403, w("doors.foreign_origin"))
        cookie = HTTPConnection(scope).cookies.get(self._doors.cookie_name, "")
        visitor = self._doors.visitor(cookie, _address(scope))
        writes = scope["method"] not in _READING
        if writes and not self._doors.origin_is_ours(headers.get("origin", ""), host):
            raise HTTPException(403, w("doors.foreign_origin"))
        if visitor is None:
            if _is_open(path):
                return None
            unknown = w("doors.unknown_lan" if self._doors.lan else "doors.unknown")
            raise HTTPException(401, self._doors.why_not(cookie) or unknown)
        if writes and path != "/join":
            given = headers.get("x-rollsound-token", "")
            if not self._doors.signer.page_token_holds(given, visitor.token):
                raise HTTPException(403, w("doors.page_token"))
            wait_s = 0.0 if visitor.device.at_machine else self._doors.changes.wait_s(visitor.device.id)
            if wait_s:
                raise HTTPException(429, w("doors.pace"), {"retry-after": str(math.ceil(wait_s))})
        return visitor


def _is_open(path: str) -> bool:
    return any(path == each or (each.endswith("/") and path.startswith(each)) for each in _OPEN)


def _check_length(headers: Mapping[str, str]) -> None:
    length = headers.get("content-length")
    if length is None:
        return
    if not (length.isascii() and length.isdigit()):
        raise HTTPException(400, w("doors.length"))
    if len(length) > 18 or int(length) > MOST_BYTES:
        raise HTTPException(413, w("doors.too_large", most=MOST_BYTES // 1_000_000))


def _counted(receive: Receive) -> Receive:
    """Receive what is sent, and refuse it once it is too large, however it is cut into pieces."""
    seen = 0

    async def counting() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > MOST_BYTES:
                sentence = w("doors.too_large", most=MOST_BYTES // 1_000_000)
                raise HTTPException(413, sentence, {"connection": "close"})
        return message

    return counting


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return sending


def _address(scope: Mapping[str, Any]) -> str:
    client = scope.get("client")
    return str(client[0]) if client else ""

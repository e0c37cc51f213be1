"""A change that is sent twice counts once: the first answer is kept under the change's key and given again."""

from __future__ import annotations

import asyncio
import threading
from typing import Annotated

from fastapi import Depends, Header
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rollsound.log.model import Reply
from rollsound.log.store import Store
from rollsound.web.desk import TheVisitor
from rollsound.web.problems import answer_to
from rollsound.web.security.doors import Visitor
from rollsound.web.words import w

_LEAST, _MOST = 8, 100
_LARGEST_KEPT_BYTES = 1_000_000


_CHANGE_NOTHING = frozenset({"/api/v1/plan/check"})


def key_of(
    request: Request, visitor: TheVisitor, idempotency_key: Annotated[str, Header(max_length=_MOST)] = ""
) -> str:
    """The change's own key, as the journal keeps it: nobody sends the key of another device, or of another act."""
    return _whole_key(visitor, request.scope, idempotency_key) if idempotency_key else ""


def _whole_key(visitor: Visitor, scope: Scope, given: str) -> str:
    return f"{visitor.device.id}:{scope['method']} {scope['path']}:{given}"


TheKey = Annotated[str, Depends(key_of)]


class Once:
    """Answers a repeated change with its first answer, also after the server was started anew.

    Only what was done is kept: a change that was refused did nothing, and may be tried again with the same key.
    """

    def __init__(self, app: ASGIApp, store: Store) -> None:
        self._app = app
        self._store = store
        self._running: set[str] = set()
        self._lock = threading.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        given = Headers(scope=scope).get("idempotency-key", "") if scope["type"] == "http" else ""
        visitor: Visitor | None = scope.get("state", {}).get("visitor")
        reads = not given or scope["method"] in ("GET", "HEAD") or scope["path"] in _CHANGE_NOTHING
        if reads or visitor is None or self._store.read_only:
            await self._app(scope, receive, send)
            return
        if not (_LEAST <= len(given) <= _MOST and given.isascii() and given.isprintable()):
            await _refuse(scope, receive, send, HTTPException(400, w("doors.key", least=_LEAST, most=_MOST)))
            return
        key = _whole_key(visitor, scope, given)
        with self._lock:
            busy = key in self._running
            self._running.add(key)
        if busy:
            await _refuse(scope, receive, send, HTTPException(425, w("doors.key_busy"), {"retry-after": "1"}))
            return
        try:
            kept = await asyncio.to_thread(self._store.reply, key)
            if kept is not None:
                headers = {"idempotency-replayed": "true"}
                answer = Response(kept.body, kept.status, headers, media_type="application/json" if kept.body else None)
                await answer(scope, receive, send)
                return
            await self._first(key, scope, receive, send)
        finally:
            with self._lock:
                self._running.discard(key)

    async def _first(self, key: str, scope: Scope, receive: Receive, send: Send) -> None:
        status = 0
        body = bytearray()
        held: list[Message] = []

        async def keeping(message: Message) -> None:
            nonlocal status
            held.append(message)
            if message["type"] == "http.response.start":
                status = message["status"]
                return
            body.extend(message.get("body", b""))
            if message.get("more_body") and len(body) <= _LARGEST_KEPT_BYTES:
                return
            # kept before it is told: whoever hears that it was done may rely on it
            if 200 <= status < 300 and not message.get("more_body") and len(body) <= _LARGEST_KEPT_BYTES:
                await asyncio.to_thread(self._store.keep_reply, key, Reply(status, body.decode()))
            for each in held:
                await send(each)
            held.clear()

        await self._app(scope, receive, keeping)


async def _refuse(scope: Scope, receive: Receive, send: Send, refused: HTTPException) -> None:
    await answer_to(Request(scope), refused)(scope, receive, send)

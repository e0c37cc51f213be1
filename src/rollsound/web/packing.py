"""Pages and answers leave packed where the browser can unpack them; streams and sound are left alone.

To a browser of this machine figures go as they are: packing a waveform would take longer than the way there.
"""

from __future__ import annotations

import gzip

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rollsound.web.security.doors import is_loopback

_LEAST_BYTES = 800
_LEVEL = 5
_FIGURES = ("application/json",)
_PACKED = ("text/html", "application/json", "application/problem+json", "text/plain", "application/yaml")


class Packing:
    """Packs answers that come in one piece."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http" or "gzip" not in Headers(scope=scope).get("accept-encoding", ""):
            await self._app(scope, receive, send)
            return
        client = scope.get("client")
        near = client is not None and is_loopback(str(client[0]))
        held: Message | None = None

        async def packing(message: Message) -> None:
            nonlocal held
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                kind = headers.get("content-type", "")
                packs = kind.startswith(_PACKED) and not (near and kind.startswith(_FIGURES))
                if packs and "content-encoding" not in headers:
                    held = message
                    return
            elif held is not None and message["type"] == "http.response.body":
                start, held = held, None
                body = message.get("body", b"")
                headers = MutableHeaders(scope=start)
                headers.add_vary_header("accept-encoding")
                if not message.get("more_body") and len(body) >= _LEAST_BYTES:
                    body = gzip.compress(body, _LEVEL, mtime=0)
                    headers["content-encoding"] = "gzip"
                    headers["content-length"] = str(len(body))
                    message = {**message, "body": body}
                await send(start)
            await send(message)

        await self._app(scope, receive, packing)

"""Faults of ours become an answer here, inside the gate: it carries the same headers as any other."""

from __future__ import annotations

from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rollsound.web.problems import fault_answer


class Catching:
    """Answers where the app failed; an answer that had begun is cut off, so that nobody takes it for whole."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        begun = False

        async def noting(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            await self._app(scope, receive, noting)
        except Exception as error:
            answer = fault_answer(Request(scope), error)
            if begun:
                raise
            await answer(scope, receive, send)

"""Routes that are added when the first request for one of them comes: their code takes a moment to load.

After the first page was answered, the rest of it is loaded ahead, in passing.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from importlib import import_module

from anyio.to_thread import run_sync
from fastapi import FastAPI
from starlette.types import ASGIApp, Receive, Scope, Send

from rollsound.web import loading


class Routes:
    """The routes of an app that are not there from the start.

    Parameters
    ----------
    modules
        by the first part of a path (``/radio``, ``/pages/radio/...``): modules with a ``router``, whose routes all
        begin so
    """

    def __init__(self, app: FastAPI, modules: Mapping[str, tuple[str, ...]]) -> None:
        self._app = app
        self._firsts = frozenset(modules)
        self._missing = dict(modules)
        self._lock = threading.Lock()
        self._ahead = loading.Ahead("routes", *(name for names in modules.values() for name in names))

    def has(self, path: str) -> bool:
        """Whether a path may be one of these, there or not."""
        return _first(path) in self._firsts

    def missing(self, path: str) -> bool:
        """Whether a path may be one of those that are not there yet."""
        return _first(path) in self._missing

    def add(self, path: str) -> None:
        """Add the routes that begin as a path does, where they are not there yet."""
        self._add(_first(path))

    def add_all(self) -> None:
        """Add all that are not there yet: for those who look at the routes themselves."""
        for first in tuple(self._missing):
            self._add(first)

    def ahead(self) -> None:
        """Begin to load what is not there yet, without waiting for it."""
        if self._missing:
            self._ahead.loaded()

    def _add(self, first: str) -> None:
        with self._lock:
            if first not in self._missing:
                return
            with loading.building:
                for router in [import_module(name).router for name in self._missing[first]]:
                    self._app.include_router(router)
            del self._missing[first]  # only now: whoever asks meanwhile waits above


class Later:
    """Sees to it that a request finds its routes; loading them is done on a thread and holds up nobody else."""

    def __init__(self, app: ASGIApp, routes: Routes) -> None:
        self._app = app
        self._routes = routes
        self._begun = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        path = scope.get("path", "") if scope["type"] == "http" else None
        if path is not None and self._routes.missing(path):
            await run_sync(self._routes.add, path)
        await self._app(scope, receive, send)
        if path is not None and not self._begun and self._routes.has(path):
            self._begun = True
            loading.answered.set()
            self._routes.ahead()


def _first(path: str) -> str:
    parts = path.split("/")
    return parts[2] if len(parts) > 2 and parts[1] == "pages" else parts[1] if len(parts) > 1 else ""

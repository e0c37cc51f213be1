"""The app of one served show."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

import rollsound
from rollsound.errors import RollsoundError
from rollsound.web import api, entrance, events, loading, offline, pages
from rollsound.web.catching import Catching
from rollsound.web.desk import Desk, TheVisitor
from rollsound.web.later import Later, Routes
from rollsound.web.once import Once
from rollsound.web.packing import Packing
from rollsound.web.problems import answer_to
from rollsound.web.security.gate import Gate
from rollsound.web.statics import static_answer


def create_app(desk: Desk) -> FastAPI:
    """The app around a desk: the gate outside, then the pages, the JSON interface and the live stream."""
    with loading.building:
        return _created(desk)


def _created(desk: Desk) -> FastAPI:
    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        yield
        desk.live.close()

    app = FastAPI(
        title="Rollsound",
        version=rollsound.__version__,
        description="Everything the pages do. A browser that joined carries its cookie; a change carries `Origin`, "
        "the page's token in `X-Rollsound-Token`, and an `Idempotency-Key` that makes it count once.",
        openapi_url="/api/v1/openapi.json",
        docs_url=None,  # those pages load scripts from elsewhere
        redoc_url=None,
        lifespan=lifespan,
        redirect_slashes=False,
    )
    app.state.desk = desk
    app.include_router(entrance.router)
    app.include_router(events.router)
    app.include_router(offline.router)
    app.add_api_route("/", _home, include_in_schema=False)
    app.add_api_route("/static/{version}/{name:path}", _static, include_in_schema=False)
    for refused in (RollsoundError, HTTPException, RequestValidationError):
        app.add_exception_handler(refused, _refused)
    routes = Routes(app, {"api": api.MODULES, **{each.name: (pages.module_of(each.name),) for each in pages.PAGES}})
    app.state.routes = routes
    app.add_middleware(Later, routes=routes)
    app.add_middleware(Catching)
    app.add_middleware(Once, store=desk.show.store)
    app.add_middleware(Packing)
    app.add_middleware(Gate, doors=desk.doors)
    return app


def _home(visitor: TheVisitor) -> Response:
    return RedirectResponse(pages.page_of(pages.FIRST).path, 303)


def _static(request: Request, version: str, name: str) -> Response:
    return static_answer(request, version, name)


async def _refused(request: Request, error: Exception) -> Response:
    return answer_to(request, error)

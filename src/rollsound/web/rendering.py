"""Pages from templates: everything is escaped, every word is from the catalogue, a name that is missing is a fault."""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

import rollsound
from rollsound.web.live import TOPICS
from rollsound.web.security.rights import Right
from rollsound.web.statics import static_url, version
from rollsound.web.words import w, words_for_scripts

if TYPE_CHECKING:
    from rollsound.web.page import Badge, Page
    from rollsound.web.security.doors import Visitor

GROUPS = ("", "before", "day", "after", "show")


@functools.cache
def environment() -> Environment:
    """The one environment of all templates."""
    made = Environment(
        loader=PackageLoader("rollsound.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.globals.update(w=w, static=static_url, Right=Right, release=rollsound.__version__)
    made.filters["for_script"] = lambda value: json.dumps(value, ensure_ascii=False)
    made.filters["clock"] = _clock
    made.filters["day"] = _day
    return made


def render(
    request: Request,
    template: str,
    *,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
    framed: bool = True,
    **values: Any,
) -> HTMLResponse:
    """A page or a part of one.

    Templates find ``page`` (or none), ``visitor`` (or none), ``pages`` for the way around, and ``page_token``.
    """
    visitor: Visitor | None = request.scope.get("state", {}).get("visitor")
    page: Page | None = values.pop("page", None)
    whole = not template.startswith("parts/")
    around = _around(request, visitor if framed else None) if whole else {}
    text = environment().get_template(template).render(request=request, visitor=visitor, page=page, **around, **values)
    return HTMLResponse(text, status, dict(headers or {}))


def _around(request: Request, visitor: Visitor | None) -> dict[str, Any]:
    """What the frame of a whole page shows."""
    from rollsound.web.pages import PAGES

    desk = getattr(request.app.state, "desk", None) if "app" in request.scope else None
    groups: list[tuple[str, list[tuple[Page, Badge | None]]]] = []
    if desk is not None and visitor is not None:
        for group in GROUPS:
            listed = [(each, each.badge_now(desk)) for each in PAGES if each.group == group and visitor.may(each.right)]
            if listed:
                groups.append((group, listed))
    return {
        "groups": groups,
        "strip": desk.strip() if desk is not None and visitor is not None else None,
        "static_version": version(),
        "show_id": desk.show_id if desk is not None and visitor is not None else "",
        "topics": " ".join(TOPICS),
        "page_token": desk.doors.signer.page_token(visitor.token) if desk is not None and visitor is not None else "",
        "script_words": words_for_scripts(request.scope["path"].strip("/").split("/")[0] or "ready"),
    }


def _clock(at: datetime) -> str:
    return at.astimezone().strftime("%H:%M")


def _day(at: datetime) -> str:
    local = at.astimezone()
    return f"{local.day} {local.strftime('%b %Y, %H:%M')}"

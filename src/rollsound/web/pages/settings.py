"""Settings: people and roles, joined devices, backups, theme, and what this is."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from rollsound.web.desk import TheDesk, TheVisitor
from rollsound.web.page import Page
from rollsound.web.rendering import render

PAGE = Page("settings", "/settings", "show")
router = APIRouter(include_in_schema=False)


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The whole page."""
    return render(request, "settings.html", page=PAGE, people=desk.show.plan().people)


@router.get("/")
def home(visitor: TheVisitor) -> Response:
    """Where a browser begins."""
    from rollsound.web.pages import PAGES

    return RedirectResponse(PAGES[0].path, 303)

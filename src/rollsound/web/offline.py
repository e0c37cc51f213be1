"""What makes the pages installable: manifest, worker, icon."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from rollsound.web.statics import files, static_url
from rollsound.web.words import w

router = APIRouter(include_in_schema=False)


@router.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a device shows when the pages are put on its home screen."""
    icons = [
        {"src": static_url(f"icons/mark-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    content = {
        "name": w("frame.name"),
        "short_name": w("frame.name"),
        "id": "/",
        "start_url": "/",
        "display": "standalone",
        "background_color": "#f5f5f2",
        "theme_color": "#1d1b18",
        "icons": [*icons, {**icons[1], "purpose": "maskable"}],
    }
    return JSONResponse(content, media_type="application/manifest+json", headers={"cache-control": "no-cache"})


@router.get("/worker.js")
def worker() -> Response:
    """The worker that keeps last seen pages; it stands at the root so that it may serve all of them."""
    file = files()["js/worker.js"]
    return Response(file.body, media_type=file.type, headers={"cache-control": "no-cache"})


@router.get("/favicon.ico")
def icon(request: Request) -> Response:
    """Where browsers look without being told."""
    return RedirectResponse(static_url("icons/mark.svg"), 308)

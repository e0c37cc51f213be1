"""The pages of the app, in the order of the day's work.

How to add a page
-----------------
1. One line in PAGES below: ``Page("<name>", "/<name>", "after", Right.READ)`` (groups: "", "before", "day", "after",
   "show"), with ``badge=_badge("<name>")`` where its module has a ``badge(desk)``.
2. ``web/pages/<name>.py``: ``PAGE = page_of("<name>")`` and a ``router = APIRouter(include_in_schema=False)``. It is
   loaded when its page is first asked for. Its page::

       @router.get(PAGE.path)
       def page(request: Request, desk: TheDesk) -> Response:
           return render(request, "media.html", page=PAGE, index=media_of(desk.show))

   Its further pages stand under ``/<name>/...``. Parts of it, to be fetched anew when news comes, stand under
   ``/pages/<name>/part/<part>`` and use templates ``parts/<name>_<part>.html`` (no frame). Handlers are plain ``def``:
   they run on a thread and may read the disk.
3. ``web/templates/<name>.html``: ``{% extends "base.html" %}{% block main %}…{% endblock %}``; further style in
   ``{% block styles %}<link rel="stylesheet" href="{{ static('css/<name>.css') }}">{% endblock %}``, scripts in
   ``{% block scripts %}<script type="module" src="{{ static('js/<name>.js') }}"></script>{% endblock %}``.
   No inline script or style (also no ``style=`` and ``onclick=``): the browser is told to refuse them.
4. ``web/words/<name>.toml``: every word of it. In templates ``{{ w('<name>.title') }}``,
   ``{{ w('<name>.files', n=3) }}`` (a table with ``one`` and ``other``), values by name ``{who}``. ``title`` and
   ``nav`` are asked for by the frame. Keys that begin with ``js_`` reach the page's scripts: ``words("<name>.key")``
   of ``js/words.js``.

News: ``<div id="files" hx-get="/pages/media/part/files" hx-trigger="live-media from:body" hx-swap="outerMorph">``
fetches its part anew after ``desk.live.publish("media", {...})``; topics are plan, jobs, media, devices, ready, search.
``live-anew`` is raised after a gap that was too long: add it beside (``hx-trigger="live-media from:body, live-anew
from:body"``).

Changes: ``<form data-send="PUT /api/v1/people/mina" data-keep="person-mina">`` sends its fields as one JSON object
through the outbox (kept on the device, sent once); ``data-type="number"`` and ``"boolean"`` on fields; the answer's
sentence goes into the form's ``<p data-outcome role="status"></p>``. ``data-keep`` keeps what is typed through a lost
connection or a closed page. Scripts import ``send`` of ``js/outbox.js``.

How to add a JSON router
------------------------
``web/api/<name>.py``: ``router = APIRouter(prefix="/api/v1/<name>", tags=["<name>"], responses=PROBLEMS)``; each
route has a ``response_model`` (pydantic), a docstring, and every route that changes something
``dependencies=[needs(Right.PLAN)]`` (a test looks for it). Errors of the tree (``RollsoundError``) may simply rise:
they become problem details; ``raise missing("…")`` is a 404. Its name goes into ``web/api/__init__.py``.

How to test
-----------
``tests/web/conftest.py`` has ``desk`` (the demo plan in a new show), ``mixer``, ``crew``, ``guest`` and ``stranger``:
httpx clients of one app; ``mixer.put(url, json=…)`` carries what a page's change carries.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING

from rollsound.web import loading
from rollsound.web.page import Badge, Page

if TYPE_CHECKING:
    from rollsound.web.desk import Desk


def _badge(name: str) -> Callable[[Desk], Badge | None]:
    """The figure that a page's module has; the first page of all waits for no other page's."""

    def asked(desk: Desk) -> Badge | None:
        if name != FIRST and not loading.answered.is_set():
            return None
        found: Badge | None = import_module(module_of(name)).badge(desk)
        return found

    return asked


FIRST = "ready"
"""Where a browser begins."""
PAGES: tuple[Page, ...] = (
    Page("ready", "/ready", "", badge=_badge("ready")),
    Page("plan", "/plan", "before"),
    Page("script", "/script", "before", badge=_badge("script")),
    Page("packs", "/packs", "before", badge=_badge("packs")),
    Page("rig", "/rig", "before", badge=_badge("rig")),
    Page("radio", "/radio", "before", badge=_badge("radio")),
    Page("reach", "/reach", "before"),
    Page("power", "/power", "before", badge=_badge("power")),
    Page("kit", "/kit", "before", badge=_badge("kit")),
    Page("floor", "/floor", "day"),
    Page("takes", "/takes", "day"),
    Page("media", "/media", "after", badge=_badge("media")),
    Page("song", "/song", "after", badge=_badge("song")),
    Page("turnover", "/turnover", "after", badge=_badge("turnover")),
    Page("settings", "/settings", "show"),
)


def page_of(name: str) -> Page:
    """The page of a name, for its own module."""
    return next(each for each in PAGES if each.name == name)


def module_of(name: str) -> str:
    """The module with a page's routes; it is loaded when the page is first asked for."""
    return f"{__name__}.{name}"

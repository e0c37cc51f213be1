"""The pages of the app, in the order of the day's work.

How to add a page
-----------------
1. ``web/pages/<name>.py``: a constant ``PAGE = Page("<name>", "/<name>", "after", Right.READ)`` (groups: "", "before",
   "day", "after", "show") and a ``router = APIRouter(include_in_schema=False)``. Its page::

       @router.get(PAGE.path)
       def page(request: Request, desk: TheDesk) -> Response:
           return render(request, "media.html", page=PAGE, index=media_of(desk.show))

   Parts of it, to be fetched anew when news comes, stand under ``/pages/<name>/part/<part>`` and use templates
   ``parts/<name>_<part>.html`` (no frame). Handlers are plain ``def``: they run on a thread and may read the disk.
2. ``web/templates/<name>.html``: ``{% extends "base.html" %}{% block main %}…{% endblock %}``; further style in
   ``{% block styles %}<link rel="stylesheet" href="{{ static('css/<name>.css') }}">{% endblock %}``, scripts in
   ``{% block scripts %}<script type="module" src="{{ static('js/<name>.js') }}"></script>{% endblock %}``.
   No inline script or style (also no ``style=`` and ``onclick=``): the browser is told to refuse them.
3. ``web/words/<name>.toml``: every word of it. In templates ``{{ w('<name>.title') }}``,
   ``{{ w('<name>.files', n=3) }}`` (a table with ``one`` and ``other``), values by name ``{who}``. ``title`` and
   ``nav`` are asked for by the frame. Keys that begin with ``js_`` reach the page's scripts: ``words("<name>.key")``
   of ``js/words.js``.
4. One line in PAGES and ROUTERS below.

News: ``<div id="files" hx-get="/pages/media/part/files" hx-trigger="live-media from:body" hx-swap="outerMorph">``
fetches its part anew after ``desk.live.publish("media", {...})``; topics are plan, jobs, media, devices, ready.
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
they become problem details; ``raise missing("…")`` is a 404. Its line goes into ``web/api/__init__.py``.

How to test
-----------
``tests/web/conftest.py`` has ``desk`` (the demo plan in a new show), ``mixer``, ``crew``, ``guest`` and ``stranger``:
httpx clients of one app; ``mixer.put(url, json=…)`` carries what a page's change carries.
"""

from __future__ import annotations

from fastapi import APIRouter

from rollsound.web.page import Page
from rollsound.web.pages import media, plan, radio, reach, ready, settings, turnover

PAGES: tuple[Page, ...] = (ready.PAGE, plan.PAGE, radio.PAGE, reach.PAGE, media.PAGE, turnover.PAGE, settings.PAGE)
ROUTERS: tuple[APIRouter, ...] = (
    ready.router,
    plan.router,
    radio.router,
    reach.router,
    media.router,
    turnover.router,
    settings.router,
)

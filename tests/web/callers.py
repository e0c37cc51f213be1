"""Browsers of a desk's pages: whose changes carry what a page's changes carry, at this machine or on the network."""

from __future__ import annotations

import re
import warnings
from typing import Any

import httpx

from rollsound.web.app import create_app
from rollsound.web.desk import Desk

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it would rather have a client of another name
    from starlette.testclient import TestClient

PORT = 8060
HOME = f"http://127.0.0.1:{PORT}"
LAN_HOME = f"http://192.168.7.1:{PORT}"
LAN = ("192.168.7.20", 50000)


class Caller(TestClient):
    """A browser: it keeps cookies, and its changes carry what a page's changes carry."""

    _page_token = ""

    def page_token(self) -> str:
        """The token of a page; empty for a stranger."""
        if not self._page_token:
            found = re.search(r'name="rollsound-token" content="([^"]+)"', self.get("/settings").text)
            self._page_token = found[1] if found else ""
        return self._page_token

    def request(self, method: str, url: Any, **more: Any) -> httpx.Response:  # type: ignore[override]
        """A request; a header given as None is left out."""
        if method not in ("GET", "HEAD"):
            headers = {
                "origin": str(self.base_url).rstrip("/"),
                "x-rollsound-token": self.page_token(),
                **dict(more.pop("headers", None) or {}),
            }
            more["headers"] = {name: value for name, value in headers.items() if value is not None}
        return super().request(method, url, **more)


def caller(desk: Desk, client: tuple[str, int] = ("127.0.0.1", 50000), home: str = HOME) -> Caller:
    return Caller(create_app(desk), base_url=home, client=client, follow_redirects=False, raise_server_exceptions=False)


def joined(desk: Desk, role: str, name: str) -> Caller:
    made = caller(desk, LAN, LAN_HOME)
    code = desk.doors.codes.make(role).code
    assert made.post("/join", data={"code": code, "name": name}).status_code == 303
    return made


def plain(html: str) -> str:
    """A page as it is read."""
    text = re.sub(r"<[^>]+>", " ", html).replace("&#39;", "'").replace("&amp;", "&")
    return " ".join(text.split())

"""What somebody on the network may try. docs/security.md lists each of these; none may succeed."""

from __future__ import annotations

import logging
import re
import socket
import time
from collections.abc import Callable
from typing import Any

import pytest
from loops import run

from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author
from rollsound.web.desk import Desk
from rollsound.web.security.cookies import Signer
from rollsound.web.security.rights import Right

PRIVATE = ("/settings", "/api/v1/show", "/api/v1/plan", "/api/v1/history", "/api/v1/openapi.json", "/events")


def cookie_of(browser: Any, desk: Desk) -> str:
    return str(browser.cookies.get(desk.doors.cookie_name))


def with_cookie(browser: Any, desk: Desk, cookie: str) -> Any:
    browser.cookies.set(desk.doors.cookie_name, cookie)
    return browser


# Coming in


@pytest.mark.parametrize("path", PRIVATE)
def test_without_a_code_nothing_is_seen(stranger: Any, path: str) -> None:
    answer = stranger.get(path)
    assert answer.status_code in (401, 303)
    assert "Northbound Ferry" not in answer.text


def test_a_guessed_code_opens_nothing_and_guessing_ends_soon(stranger: Any, desk: Desk) -> None:
    right = desk.doors.codes.make("crew").code
    statuses = [stranger.post("/join", data={"code": f"AAAA{n:02}", "name": "X"}).status_code for n in range(20)]
    assert 303 not in statuses
    assert statuses.count(429) >= 10
    # even the right code opens nothing now from there
    assert stranger.post("/join", data={"code": right, "name": "X"}).status_code == 429


def test_an_expired_code_opens_nothing(stranger: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    code = desk.doors.codes.make("crew").code
    monkeypatch.setattr(desk.doors.codes, "_clock", lambda: time.monotonic() + 601)
    assert stranger.post("/join", data={"code": code, "name": "X"}).status_code == 403


def test_a_code_works_until_it_expires(stranger: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    code = desk.doors.codes.make("crew").code
    monkeypatch.setattr(desk.doors.codes, "_clock", lambda: time.monotonic() + 595)
    assert stranger.post("/join", data={"code": code, "name": "X"}).status_code == 303


def test_a_used_code_opens_nothing_again(visitors: Callable[..., Any], desk: Desk) -> None:
    code = desk.doors.codes.make("crew").code
    first, second = (visitors(client=(f"192.168.7.{n}", 1), home="http://192.168.7.1:8060") for n in (30, 31))
    assert first.post("/join", data={"code": code, "name": "X"}).status_code == 303
    assert second.post("/join", data={"code": code, "name": "Y"}).status_code == 403


def test_a_code_that_was_taken_back_opens_nothing(stranger: Any, mixer: Any, desk: Desk) -> None:
    made = mixer.post("/api/v1/join-codes", json={"role": "crew"}).json()
    assert mixer.delete(f"/api/v1/join-codes/{made['id']}").status_code == 200
    assert stranger.post("/join", data={"code": made["code"], "name": "X"}).status_code == 403


def test_an_address_that_exhausts_its_tries_locks_out_nobody_else(
    stranger: Any, visitors: Callable[..., Any], desk: Desk
) -> None:
    for n in range(60):
        stranger.post("/join", data={"code": f"CCCC{n:02}", "name": "X"})
    mixer = visitors()
    assert mixer.get(f"/enter?key={desk.doors.keys.make()}").status_code == 303
    assert mixer.get("/settings").status_code == 200
    crew = visitors(client=("192.168.7.40", 1), home="http://192.168.7.1:8060")
    code = desk.doors.codes.make("crew").code
    assert crew.post("/join", data={"code": code, "name": "Tomas"}).status_code == 303


def test_the_key_of_the_machine_works_once(visitors: Callable[..., Any], desk: Desk) -> None:
    key = desk.doors.keys.make()
    assert visitors().get(f"/enter?key={key}").status_code == 303
    assert visitors().get(f"/enter?key={key}").status_code == 403


def test_the_key_of_the_machine_opens_nothing_from_the_network(visitors: Callable[..., Any], desk: Desk) -> None:
    key = desk.doors.keys.make()
    elsewhere = visitors(client=("192.168.7.20", 1), home="http://192.168.7.1:8060")
    assert elsewhere.get(f"/enter?key={key}").status_code == 403
    assert elsewhere.get("/api/v1/show").status_code == 401


def test_nobody_joins_a_show_that_is_not_on_the_network(stranger: Any, desk: Desk) -> None:
    code = desk.doors.codes.make("mixer").code
    desk.doors.lan = False
    assert stranger.post("/join", data={"code": code, "name": "X"}).status_code in (403, 421)
    assert stranger.get("/api/v1/show").status_code in (401, 421)


# Cookies


def test_an_old_cookie_opens_nothing_after_revoking(crew: Any, mixer: Any, desk: Desk, stranger: Any) -> None:
    stolen = cookie_of(crew, desk)
    device = next(each for each in mixer.get("/api/v1/devices").json()["devices"] if each["person"] == "Tomas")
    assert mixer.post(f"/api/v1/devices/{device['id']}/revoke").status_code == 200
    assert crew.get("/api/v1/show").status_code == 401
    assert with_cookie(stranger, desk, stolen).get("/api/v1/show").status_code == 401


def test_a_cookie_that_is_too_old_opens_nothing(crew: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    assert crew.get("/api/v1/show").status_code == 200
    monkeypatch.setattr("rollsound.web.security.cookies.LONGEST_S", -1)
    assert crew.get("/api/v1/show").status_code == 401


@pytest.mark.parametrize("forge", ["other secret", "changed letter", "no signature", "raw hash", "rubbish"])
def test_a_forged_cookie_opens_nothing(crew: Any, stranger: Any, desk: Desk, forge: str) -> None:
    real = cookie_of(crew, desk)
    device = next(each for each in desk.doors.devices.all() if each.person == "Tomas")
    forged = {
        "other secret": Signer("0" * 64).cookie(str(desk.doors.signer.token(real))),
        "changed letter": ("A" if real[0] != "A" else "B") + real[1:],
        "no signature": real.rpartition(".")[0],
        "raw hash": desk.doors.signer.cookie(device.token_hash),
        "rubbish": "x" * 3000,
    }[forge]
    assert with_cookie(stranger, desk, forged).get("/api/v1/show").status_code == 401


def test_the_machines_own_cookie_opens_nothing_elsewhere(mixer: Any, stranger: Any, desk: Desk) -> None:
    stolen = cookie_of(mixer, desk)
    assert with_cookie(stranger, desk, stolen).get("/api/v1/show").status_code == 401


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(stranger: Any, desk: Desk) -> None:
    code = desk.doors.codes.make("crew").code
    answer = stranger.post("/join", data={"code": code, "name": "X"})
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "path=/" in cookie


def test_under_tls_cookies_never_travel_in_the_clear(visitors: Callable[..., Any], desk: Desk) -> None:
    desk.doors.tls = True
    browser = visitors(home="https://127.0.0.1:8060")
    answer = browser.get(f"/enter?key={desk.doors.keys.make()}")
    assert "secure" in answer.headers["set-cookie"].lower()


# Other sites in a browser that joined


def test_a_foreign_origin_changes_nothing(mixer: Any) -> None:
    answer = mixer.post("/api/v1/join-codes", json={"role": "crew"}, headers={"origin": "http://evil.example"})
    assert answer.status_code == 403
    assert mixer.get("/api/v1/join-codes").json()["codes"] == []


@pytest.mark.parametrize("origin", [None, "null", "", "http://127.0.0.1:8061", "https://127.0.0.1:8060"])
def test_no_origin_or_another_port_or_scheme_changes_nothing(mixer: Any, origin: str | None) -> None:
    answer = mixer.post("/api/v1/join-codes", json={"role": "crew"}, headers={"origin": origin})
    assert answer.status_code == 403
    assert mixer.get("/api/v1/join-codes").json()["codes"] == []


@pytest.mark.parametrize("host", ["evil.example:8060", "evil.example", "192.168.7.99:8060", "127.0.0.1:1", "", "[::1"])
@pytest.mark.parametrize("path", ["/api/v1/plan", "/join", "/static/x/css/base.css"])
def test_a_name_that_was_made_to_point_here_is_refused(mixer: Any, host: str, path: str) -> None:
    assert mixer.get(path, headers={"host": host}).status_code == 421


def test_reading_from_a_page_of_another_site_is_refused(mixer: Any) -> None:
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors", "sec-fetch-dest": "script"}
    assert mixer.get("/api/v1/plan", headers=headers).status_code == 403


@pytest.mark.parametrize("token", [None, "", "x.y", "é.é", "nonce." + "0" * 64])
def test_a_change_without_the_pages_token_is_refused(mixer: Any, token: str | None) -> None:
    given = token.encode() if token is not None else None
    answer = mixer.post("/api/v1/join-codes", json={"role": "crew"}, headers={"x-rollsound-token": given})
    assert answer.status_code == 403


def test_the_token_of_another_device_is_refused(mixer: Any, crew: Any) -> None:
    answer = mixer.post("/api/v1/join-codes", json={"role": "crew"}, headers={"x-rollsound-token": crew.page_token()})
    assert answer.status_code == 403


def test_page_tokens_differ_from_view_to_view(mixer: Any) -> None:
    seen = {re.search(r'rollsound-token" content="([^"]+)"', mixer.get("/settings").text)[1] for _ in range(3)}  # type: ignore[index]
    assert len(seen) == 3


@pytest.mark.parametrize("path", ["/settings", "/join", "/api/v1/plan", "/nowhere", "/api/v1/nowhere"])
def test_no_page_can_be_framed_or_run_foreign_script(mixer: Any, path: str) -> None:
    headers = mixer.get(path).headers
    policy = headers["content-security-policy"]
    assert "frame-ancestors 'none'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-frame-options"] == "DENY"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_refusals_carry_the_same_headers(stranger: Any) -> None:
    answer = stranger.get("/api/v1/plan", headers={"host": "evil.example"})
    assert "default-src 'none'" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("path", ["/settings", "/api/v1/plan", "/api/v1/devices", "/join"])
def test_private_pages_are_not_kept_by_caches(mixer: Any, path: str) -> None:
    assert mixer.get(path).headers["cache-control"] == "no-store"


# Rights


CHANGES: tuple[tuple[str, str, Any], ...] = (
    ("put", "/api/v1/plan/text", {"text": "show: {title: Mine}", "base_revision": 1}),
    ("post", "/api/v1/plan/edits", {"changes": [{"path": "/show/title", "before": "x", "after": "y"}]}),
    ("post", "/api/v1/undo", None),
    ("post", "/api/v1/redo", None),
    ("post", "/api/v1/people", {"name": "Mallory"}),
    ("put", "/api/v1/people/ines", {"name": "Mallory"}),
    ("delete", "/api/v1/people/ines", None),
    ("post", "/api/v1/devices/x/revoke", None),
    ("post", "/api/v1/join-codes", {"role": "mixer"}),
    ("get", "/api/v1/join-codes", None),
    ("delete", "/api/v1/join-codes/x", None),
    ("post", "/api/v1/backups", None),
    ("post", "/api/v1/backups/x/restore", None),
)


@pytest.mark.parametrize("role", ["guest", "crew"])
@pytest.mark.parametrize(("method", "path", "body"), CHANGES)
def test_guest_and_crew_change_nothing_of_the_mixers(
    visitors: Callable[..., Any], desk: Desk, role: str, method: str, path: str, body: Any
) -> None:
    browser = visitors(role, "Odile")
    before = desk.show.store.head().revision
    assert browser.request(method.upper(), path, json=body).status_code == 403
    assert desk.show.store.head().revision == before


def test_every_route_that_changes_something_asks_for_a_right(desk: Desk) -> None:
    from rollsound.web.app import create_app

    bare, looked_at = _bare(create_app(desk))
    assert bare == []
    described = create_app(desk)
    described.state.routes.add_all()
    changing = [each for path in described.openapi()["paths"].values() for each in path if each != "get"]
    assert looked_at >= len(changing) > 20


def test_a_route_that_asks_for_no_right_is_found(desk: Desk) -> None:
    from fastapi import APIRouter

    from rollsound.web.app import create_app

    app, router = create_app(desk), APIRouter(prefix="/api/v1/loose")
    router.add_api_route("/end", lambda: None, methods=["DELETE"])
    router.add_api_route("", lambda: None, methods=["GET"])
    app.include_router(router)
    app.add_api_route("/api/v1/open", lambda: None, methods=["POST"])
    assert sorted(_bare(app)[0]) == ["/api/v1/loose/end", "/api/v1/open"]


def _bare(app: Any) -> tuple[list[str], int]:
    """Paths of routes that change something and ask for no right, and how many routes that change were looked at."""
    from fastapi.routing import APIRoute

    from rollsound.web.desk import Needs

    bare, looked_at = [], 0
    for route in _routes(app):
        if not isinstance(route, APIRoute) or route.methods <= {"GET", "HEAD"} or route.path == "/join":
            continue
        looked_at += 1
        asked = [each.call for each in route.dependant.dependencies if isinstance(each.call, Needs)]
        if not asked:
            bare.append(route.path)
    return bare, looked_at


def _routes(app: Any) -> list[Any]:
    """Every route, also of routers that the app holds as a whole, and of what is loaded later."""
    app.state.routes.add_all()
    found = []
    for route in app.routes:
        held = getattr(route, "original_router", None)
        found += held.routes if held is not None else [route]
    return found


def test_a_mixer_elsewhere_lets_no_further_mixer_in_and_goes_back_to_no_backup(visitors: Callable[..., Any]) -> None:
    elsewhere = visitors("mixer", "Second mixer")
    assert elsewhere.post("/api/v1/join-codes", json={"role": "crew"}).status_code == 200
    assert elsewhere.post("/api/v1/join-codes", json={"role": "mixer"}).status_code == 403
    assert elsewhere.post("/api/v1/backups/x/restore").status_code == 403


def test_a_mixer_elsewhere_makes_nobody_a_mixer(visitors: Callable[..., Any], mixer: Any) -> None:
    """A device has its person's role: who is a mixer in the plan would let a further mixer in."""
    elsewhere = visitors("mixer", "Second mixer")
    assert elsewhere.put("/api/v1/people/tomas", json={"job": "boom"}).status_code == 200
    assert elsewhere.put("/api/v1/people/tomas", json={"role": "guest"}).status_code == 200
    refused = elsewhere.put("/api/v1/people/tomas", json={"role": "mixer"})
    assert (refused.status_code, "mixer's own machine" in refused.json()["detail"]) == (403, True)
    text = elsewhere.get("/api/v1/plan/text").json()
    sent = {"text": text["text"].replace("role: guest", "role: mixer"), "base_revision": text["revision"]}
    assert sent["text"] != text["text"]
    assert elsewhere.put("/api/v1/plan/text", json=sent).status_code == 403
    assert elsewhere.post("/api/v1/people", json={"name": "Mallory", "role": "mixer"}).status_code == 403
    assert elsewhere.post("/api/v1/join-codes", json={"role": "crew", "person_id": "ines"}).status_code == 403
    assert mixer.put("/api/v1/people/tomas", json={"role": "mixer"}).status_code == 200


def test_paths_of_the_machine_are_for_the_machine_alone(visitors: Callable[..., Any], mixer: Any, desk: Desk) -> None:
    """The right that routes with paths ask for is held by no device of the network."""
    visitors("mixer", "Second mixer")
    for device in desk.doors.devices.all():
        from rollsound.web.security.rights import right_of

        assert (right_of(device.role, device.at_machine) is Right.MACHINE) == device.at_machine


def test_the_machine_is_not_shut_out_from_elsewhere(visitors: Callable[..., Any], mixer: Any, desk: Desk) -> None:
    elsewhere = visitors("mixer", "Second mixer")
    here = next(each for each in desk.doors.devices.all() if each.at_machine)
    assert elsewhere.post(f"/api/v1/devices/{here.id}/revoke").status_code == 403
    assert mixer.get("/api/v1/show").status_code == 200


# What is sent


@pytest.mark.parametrize(
    "path",
    [
        "/static/x/../desk.py",
        "/static/x/..%2fdesk.py",
        "/static/x/%2e%2e/%2e%2e/desk.py",
        "/static/x//etc/passwd",
        "/static/../../../../etc/passwd",
        "/static/x/..\\desk.py",
        "/static/x/css/base.css%00.py",
    ],
)
def test_no_path_leads_out_of_the_static_files(stranger: Any, path: str) -> None:
    answer = stranger.get(path)
    assert answer.status_code in (303, 401, 404)
    assert "root:" not in answer.text
    assert "class Desk" not in answer.text


@pytest.mark.parametrize("name", ["..%2f..%2fshow.sqlite", "../show.sqlite", "%2e%2e", "show.sqlite"])
def test_no_name_leads_out_of_the_backups(mixer: Any, name: str) -> None:
    assert mixer.post(f"/api/v1/backups/{name}/restore").status_code in (404, 405)


def test_an_oversized_body_is_refused_unread(served: Any) -> None:
    client = served.client()
    with socket.create_connection(("127.0.0.1", served.port), timeout=10) as wire:
        wire.sendall(_head(served, client, "content-length: 2147483648"))
        answer = wire.recv(65536).decode()
    assert answer.startswith("HTTP/1.1 413")
    assert "connection: close" in answer.lower()


def test_an_oversized_body_in_pieces_is_refused_before_it_ends(served: Any) -> None:
    client = served.client()
    piece = b"10000\r\n" + b"x" * 65536 + b"\r\n"
    sent = 0
    with socket.create_connection(("127.0.0.1", served.port), timeout=10) as wire:
        wire.sendall(_head(served, client, "transfer-encoding: chunked"))
        try:
            while sent < 200_000_000:
                wire.sendall(piece)
                sent += 65536
        except OSError:
            pass  # the server closed its side
        try:
            answer = wire.recv(65536).decode()
        except ConnectionResetError:
            answer = ""
    assert sent < 64_000_000, "what is too large is read to its end"
    assert answer == "" or answer.startswith("HTTP/1.1 413")
    assert client.get("/api/v1/show").status_code == 200


def _head(served: Any, client: Any, length: str) -> bytes:
    cookie = f"{served.desk.doors.cookie_name}={client.cookies.get(served.desk.doors.cookie_name)}"
    lines = (
        "PUT /api/v1/plan/text HTTP/1.1",
        f"host: 127.0.0.1:{served.port}",
        f"origin: {served.home}",
        f"x-rollsound-token: {client.headers['x-rollsound-token']}",
        f"cookie: {cookie}",
        "content-type: application/json",
        length,
        "",
        "",
    )
    return "\r\n".join(lines).encode()


@pytest.mark.parametrize("length", ["-1", "1e9", "9" * 30, "0x10", "١٢"])
def test_a_length_that_is_no_number_is_refused(mixer: Any, length: str) -> None:
    answer = mixer.post("/api/v1/undo", headers={"content-length": length.encode()})
    assert answer.status_code in (400, 413)


SCRIPT = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>"


def test_script_in_a_joining_name_is_only_text(visitors: Callable[..., Any], mixer: Any) -> None:
    visitors("crew", SCRIPT[:60])
    page = mixer.get("/settings").text
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert "&lt;script&gt;" in page


def test_script_in_a_code_given_back_is_only_text(stranger: Any) -> None:
    answer = stranger.get("/join", params={"code": '"><script>x'})
    assert "<script>x" not in answer.text
    answer = stranger.post("/join", data={"code": '"><script>x', "name": '"><script>y'})
    assert "<script>x" not in answer.text
    assert "<script>y" not in answer.text


@pytest.mark.parametrize("name", ["Tomas\r\nSet-Cookie: a=b", "Tomas\x00\x1b[2J", "To\nmas"])
def test_line_ends_in_a_name_reach_no_header(stranger: Any, desk: Desk, name: str) -> None:
    code = desk.doors.codes.make("crew").code
    answer = stranger.post("/join", data={"code": code, "name": name})
    assert answer.status_code == 303
    assert len(answer.headers.get_list("set-cookie")) == 1
    kept = next(iter(desk.doors.devices.all())).name
    assert kept.isprintable()


@pytest.mark.parametrize("path", ["/enter?key=a%0d%0aset-cookie:%20a=b", "/join?code=a%0d%0ax:y", "/x%0d%0ax:y"])
def test_line_ends_in_an_address_reach_no_header(stranger: Any, path: str) -> None:
    answer = stranger.get(path)
    assert "x" not in answer.headers
    assert "set-cookie" not in answer.headers


def test_the_live_stream_needs_a_cookie_and_ends_with_it(served: Any) -> None:
    import httpx

    assert httpx.get(f"{served.home}/events").status_code == 401
    client = served.client()
    device = next(iter(served.desk.doors.devices.all()))
    with client.stream("GET", "/events") as stream:
        lines = stream.iter_lines()
        assert next(lines).startswith("retry")
        served.desk.doors.devices.revoke(device.id)
        served.desk.live.end(device.id)
        list(lines)  # it ends
    assert client.get("/events").status_code == 401


def test_one_device_does_not_take_all_streams(desk: Desk) -> None:
    async def open_many() -> int:
        opened = []
        for _ in range(40):
            if not desk.live.room_for("one"):
                break
            stream = desk.live.stream("one", "", {})
            await anext(stream)
            opened.append(stream)
        assert desk.live.room_for("another")
        for stream in opened:
            await stream.aclose()
        return len(opened)

    assert run(open_many()) < 40


def test_a_flood_of_changes_from_one_device_ends_and_holds_up_nobody_else(
    visitors: Callable[..., Any], mixer: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [0.0]
    monkeypatch.setattr(desk.doors.changes, "_clock", lambda: now[0])
    flood, other = visitors("mixer", "Flood"), visitors("mixer", "Second mixer")

    def change(browser: Any, number: int) -> Any:
        key = {"idempotency-key": f"key of {id(browser)} {number}"}
        return browser.put("/api/v1/people/ines", json={"note": f"note {id(browser)} {number}"}, headers=key)

    before = desk.show.store.head().revision
    answers = [change(flood, number) for number in range(140)]
    assert [answer.status_code for answer in answers] == [200] * 100 + [429] * 40
    assert answers[-1].headers["retry-after"] == "1"
    assert desk.show.store.head().revision == before + 100  # what was refused left nothing in the show
    assert change(other, 0).status_code == 200
    assert all(change(mixer, number).status_code == 200 for number in range(120))  # the machine's own owner
    now[0] += 1.0
    assert [change(flood, 200 + number).status_code for number in range(22)] == [200] * 20 + [429] * 2
    now[0] += 3600.0
    assert change(flood, 300).status_code == 200


def test_no_secret_is_logged_or_kept_in_a_report(
    visitors: Callable[..., Any], desk: Desk, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG)
    key = desk.doors.keys.make()
    browser = visitors()
    browser.get(f"/enter?key={key}")
    code = desk.doors.codes.make("crew").code
    browser.post("/join", data={"code": code, "name": "X"})

    def fault() -> None:
        raise ValueError("a fault of ours")

    monkeypatch.setattr(desk.show, "plan", fault)
    answer = browser.get("/settings")
    assert answer.status_code == 500
    report = re.search(r"is in ([^\s<]+\.txt)", answer.text)
    assert report is not None
    from pathlib import Path

    # what the test's own client writes about its requests is not the server's log
    logged = "\n".join(record.getMessage() for record in caplog.records if record.name != "httpx")
    text = logged + Path(report[1]).read_text("utf-8")
    Path(report[1]).unlink()
    cookie = cookie_of(browser, desk)
    for secret in (key, code, cookie, cookie.partition(".")[0], desk.doors.signer._secret.decode()):
        assert secret not in text


def test_where_a_report_lies_is_told_on_the_machine_only(
    crew: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fault() -> None:
        raise ValueError("a fault of ours")

    monkeypatch.setattr(desk.show, "plan", fault)
    answer = crew.get("/settings")
    assert answer.status_code == 500
    assert ".txt" not in answer.text
    assert "ValueError" not in answer.text


def test_no_answer_names_a_path_of_the_machine_to_the_network(crew: Any, desk: Desk) -> None:
    for path in ("/settings", "/api/v1/show", "/api/v1/devices", "/api/v1/backups", "/api/v1/nowhere"):
        assert str(desk.show.folder) not in crew.get(path).text


def test_methods_that_mirror_or_tunnel_do_nothing(mixer: Any) -> None:
    for method in ("TRACE", "CONNECT", "OPTIONS", "PROPFIND"):
        assert mixer.request(method, "/settings").status_code == 405


def test_a_mixer_elsewhere_points_the_plan_at_no_folder(mixer: Any, visitors: Callable[..., Any], desk: Desk) -> None:
    assert mixer.post("/api/v1/media", json={"id": "day-4", "recorder": "day 4"}).status_code == 200
    other = visitors("mixer", "Second")
    kept = desk.show.document()
    item = kept["media"][0]
    moved = [{**item, "recorder": "/home"}]
    wishes = [
        {"path": f"/media/day-4/{field}", "after": "/home"}
        for field in ("cards", "conformed", "turnover", "takes_sheet", "wearers_sheet")
    ]
    wishes += [
        {"path": "/media/day-4/recorder", "before": "day 4", "after": "/home"},
        {"path": "/media/day-4", "before": item},
        {"path": "/media/day-5", "after": {"id": "day-5", "recorder": "/home"}},
        {"path": "/media", "before": [item], "after": moved},
        {"path": "", "before": kept, "after": {**kept, "media": moved}},
    ]
    for wish in wishes:
        answer = other.post("/api/v1/plan/edits", json={"changes": [wish]})
        assert answer.status_code == 403, (wish, answer.text)
        assert "only on that machine" in answer.json()["detail"]
    text = other.get("/api/v1/plan/text").json()
    sent = {"text": text["text"].replace("recorder: day 4", "recorder: /home"), "base_revision": text["revision"]}
    assert sent["text"] != text["text"]
    assert other.put("/api/v1/plan/text", json=sent).status_code == 403
    assert desk.show.document() == kept
    renamed = {"changes": [{"path": "/people/tomas/name", "before": "Tomas", "after": "Tomas B."}]}
    assert other.post("/api/v1/plan/edits", json=renamed).status_code == 200, "everything else stays the mixer's"


def test_undo_and_redo_elsewhere_bring_no_folder_back(mixer: Any, visitors: Callable[..., Any], desk: Desk) -> None:
    other = visitors("mixer", "Second")
    device = next(each for each in desk.show.store.devices() if each.name and not each.at_machine)
    author = Author(device.person, device.person_id or device.id, device.name)
    desk.show.edit([Change("/media/day-4", ABSENT, {"id": "day-4", "recorder": "day 4"})], author)
    assert other.post("/api/v1/undo").status_code == 403
    desk.show.undo(author)
    assert other.post("/api/v1/redo").status_code == 403
    assert "media" not in desk.show.document() or not desk.show.document()["media"]

"""Settings: people and roles, joined devices and codes, backups, theme, and what this is."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from rollsound.facts import cautions
from rollsound.log.backups import backups_of
from rollsound.web.addresses import addresses
from rollsound.web.api.devices import devices_of
from rollsound.web.api.join_codes import codes_of
from rollsound.web.api.people import people_of
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.pages import page_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right

PAGE = page_of("settings")
ROLES = ("mixer", "crew", "guest")
router = APIRouter(include_in_schema=False)


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The whole page."""
    values = {**_people(desk), **_devices(desk, visitor), **_backups(desk)}
    return render(request, "settings.html", page=PAGE, cautions=cautions("hearing", "media"), **values)


@router.get("/pages/settings/part/people")
def people(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """Who is in the plan."""
    return render(request, "parts/settings_people.html", **_people(desk))


@router.get("/pages/settings/part/devices")
def devices(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """Which devices are in, and the codes that are open."""
    return render(request, "parts/settings_devices.html", **_devices(desk, visitor))


@router.get("/pages/settings/part/backups")
def backups(request: Request, desk: TheDesk, visitor: TheVisitor) -> Response:
    """The backups beside the show."""
    return render(request, "parts/settings_backups.html", **_backups(desk))


def _people(desk: Desk) -> dict[str, Any]:
    return {"people": people_of(desk), "all_roles": ROLES, "revision": desk.show.revision}


def _devices(desk: Desk, visitor: Visitor) -> dict[str, Any]:
    found = devices_of(desk, visitor)
    names = {person.id: person.name for person in people_of(desk)}
    return {
        "devices": [device for device in found if device.revoked is None],
        "shut_out": [device for device in found if device.revoked is not None][:20],
        "codes": [(code, names.get(code.person_id, "")) for code in codes_of(desk)] if visitor.may(Right.PLAN) else [],
        "guessed": desk.doors.codes.guessed,
        "people": people_of(desk),
        "roles": ROLES if visitor.may(Right.MACHINE) else ROLES[1:],
        "lan": desk.doors.lan,
        "addresses": addresses() if desk.doors.lan else [],
    }


def _backups(desk: Desk) -> dict[str, Any]:
    return {"backups": backups_of(desk.show.store.path)[:40]}

"""The JSON interface, one router a subject. How to add one is told in `rollsound.web.pages`."""

from __future__ import annotations

from fastapi import APIRouter

from rollsound.web.api import (
    backups,
    devices,
    history,
    jobs,
    join_codes,
    media,
    people,
    plan,
    radio,
    radio_search,
    reach,
    ready,
    show,
    turnover,
)

ROUTERS: tuple[APIRouter, ...] = (
    show.router,
    plan.router,
    history.router,
    people.router,
    devices.router,
    join_codes.router,
    backups.router,
    media.router,
    jobs.router,
    ready.router,
    turnover.router,
    radio.router,
    radio_search.router,
    reach.router,
)

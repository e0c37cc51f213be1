"""The JSON interface, one router a subject. How to add one is told in `rollsound.web.pages`."""

from __future__ import annotations

from fastapi import APIRouter

ROUTERS: tuple[APIRouter, ...] = ()

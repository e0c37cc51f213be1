"""The show that is served, and who asks."""

from __future__ import annotations

from datetime import datetime

from fastapi import APIRouter
from pydantic import BaseModel, Field

import rollsound
from rollsound.web.desk import TheDesk, TheVisitor
from rollsound.web.problems import PROBLEMS
from rollsound.web.statics import version

router = APIRouter(prefix="/api/v1", tags=["show"], responses=PROBLEMS)


class ShowAnswer(BaseModel):
    """The show, and what the asking device is in it."""

    title: str
    revision: int
    read_only: bool
    person: str
    device: str
    device_id: str
    role: str
    at_machine: bool = Field(description="the asking device is the machine that serves")
    release: str
    pages_version: str = Field(description="changes when the pages' files change")
    started: datetime


@router.get("/show", response_model=ShowAnswer)
def show(desk: TheDesk, visitor: TheVisitor) -> ShowAnswer:
    """The show that is served here, and who asks."""
    device = visitor.device
    return ShowAnswer(
        title=desk.title(),
        revision=desk.show.revision,
        read_only=desk.show.read_only,
        person=device.person,
        device=device.name,
        device_id=device.id,
        role=device.role,
        at_machine=device.at_machine,
        release=rollsound.__version__,
        pages_version=version(),
        started=desk.started,
    )

"""Ready: every proof there is, weighed."""

from __future__ import annotations

from fastapi import APIRouter

from rollsound.actions.ready import ready as weigh
from rollsound.review.model import Verdict
from rollsound.web.desk import TheDesk
from rollsound.web.problems import PROBLEMS

router = APIRouter(prefix="/api/v1/ready", tags=["ready"], responses=PROBLEMS)


@router.get("", response_model=Verdict)
def ready(desk: TheDesk) -> Verdict:
    """Everything that was proven of the plan, the media, the drives and the backups; nothing that was not checked."""
    return weigh(desk.show)

"""Where browsers listen to the live stream."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, HTTPException, Query
from fastapi.responses import StreamingResponse

from rollsound.web.desk import TheDesk, TheVisitor, you
from rollsound.web.words import w

router = APIRouter()


@router.get("/events", include_in_schema=False)
async def events(
    desk: TheDesk,
    visitor: TheVisitor,
    after: Annotated[str, Query(max_length=40)] = "",
    last_event_id: Annotated[str, Header(max_length=40)] = "",
) -> StreamingResponse:
    """The live stream of one browser; it goes on after the news named last."""
    if not desk.live.room_for(visitor.device.id):
        raise HTTPException(429, w("doors.streams"), {"retry-after": "5"})
    stream = desk.live.stream(visitor.device.id, last_event_id or after, you(visitor.device.role))
    return StreamingResponse(
        stream, media_type="text/event-stream", headers={"cache-control": "no-store", "x-accel-buffering": "no"}
    )

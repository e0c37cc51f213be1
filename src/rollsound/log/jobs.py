"""Long jobs, small settings, and replies kept for requests that are sent twice."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from sqlalchemy import Row, select

from rollsound.errors import InputError
from rollsound.log.base import Base
from rollsound.log.keeping import now, text_of, time_of, time_text, value_of
from rollsound.log.model import Author, JobRow, Reply
from rollsound.log.tables import jobs, replies, settings

# A device that was away for a week of shooting still gets its answer instead of a second deed.
REPLIES_KEPT = timedelta(days=14)


class Jobs(Base):
    """The part of the store that knows the jobs."""

    def add_job(self, job: JobRow) -> None:
        """Note a new job. Raises InputError when its id is taken."""
        with self._writing() as connection:
            if connection.execute(select(jobs.c.id).where(jobs.c.id == job.id)).first() is not None:
                raise InputError("a job of this id is there already; give the new one another")
            connection.execute(jobs.insert(), [_row(job)])

    def update_job(self, job: JobRow) -> None:
        """Put a job's row in the place of the one of its id. Raises InputError when there is none."""
        with self._writing() as connection:
            if not connection.execute(jobs.update().where(jobs.c.id == job.id).values(_row(job))).rowcount:
                raise InputError("no job of this show has this id; look at the list again")

    def job(self, job_id: str) -> JobRow | None:
        """One job."""
        with self._reading() as connection:
            row = connection.execute(select(jobs).where(jobs.c.id == job_id)).one_or_none()
            return None if row is None else _job(row)

    def jobs(self, limit: int = 200) -> list[JobRow]:
        """The jobs, newest first."""
        with self._reading() as connection:
            rows = connection.execute(select(jobs).order_by(jobs.c.made.desc(), jobs.c.id.desc()).limit(limit)).all()
            return [_job(row) for row in rows]


class Settings(Base):
    """The part of the store that keeps small values by name."""

    def get(self, name: str, default: Any = None) -> Any:
        """A small value, or the default where it was never set."""
        with self._reading() as connection:
            text = connection.execute(select(settings.c.value).where(settings.c.name == name)).scalar()
            return default if text is None else value_of(text)

    def put(self, name: str, value: Any) -> None:
        """Keep a small value (anything that JSON has)."""
        text = text_of(value)
        with self._writing() as connection:
            if not connection.execute(settings.update().where(settings.c.name == name).values(value=text)).rowcount:
                connection.execute(settings.insert(), [{"name": name, "value": text}])


class Replies(Base):
    """The part of the store that answers a repeated request with its first answer."""

    def reply(self, key: str) -> Reply | None:
        """What the first request with this key was answered with."""
        with self._reading() as connection:
            row = connection.execute(select(replies).where(replies.c.key == key)).one_or_none()
        return None if row is None else Reply(row.status, row.body)

    def keep_reply(self, key: str, reply: Reply) -> Reply:
        """Keep an answer and return the one that counts: the first that was kept for this key."""
        with self._writing() as connection:
            row = connection.execute(select(replies).where(replies.c.key == key)).one_or_none()
            if row is not None:
                return Reply(row.status, row.body)
            moment = now()
            connection.execute(replies.delete().where(replies.c.at < time_text(moment - REPLIES_KEPT)))
            connection.execute(
                replies.insert(), [{"key": key, "at": time_text(moment), "status": reply.status, "body": reply.body}]
            )
            return reply


def _row(job: JobRow) -> dict[str, Any]:
    return {
        "id": job.id,
        "kind": job.kind,
        "arguments": text_of(job.arguments),
        "person": job.author.person,
        "person_id": job.author.person_id,
        "device": job.author.device,
        "state": job.state,
        "made": time_text(job.made),
        "changed": time_text(job.changed),
        "progress": text_of(job.progress),
        "result": None if job.result is None else text_of(job.result),
        "error": None if job.error is None else text_of(job.error),
    }


def _job(row: Row[Any]) -> JobRow:
    return JobRow(
        id=row.id,
        kind=row.kind,
        arguments=value_of(row.arguments),
        author=Author(row.person, row.person_id, row.device),
        state=row.state,
        made=time_of(row.made),
        changed=time_of(row.changed),
        progress=value_of(row.progress),
        result=None if row.result is None else value_of(row.result),
        error=None if row.error is None else value_of(row.error),
    )

"""The tables of a show's database, as its newest schema has them. The migrations make them; a test compares the two."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Column, ForeignKey, Integer, MetaData, Table, Text

# "Roll" in ASCII: marks a SQLite file as a show.
APPLICATION_ID = 0x526F6C6C
# Every schema there was, oldest first.
SCHEMAS = ("0001", "0002", "0003")

metadata = MetaData()

schema = Table("alembic_version", metadata, Column("version_num", Text, primary_key=True))

# One row: the document as it is now, as compact JSON.
state = Table(
    "state",
    metadata,
    Column("id", Integer, CheckConstraint("id = 1"), primary_key=True),
    Column("revision", Integer, nullable=False),
    Column("document", Text, nullable=False),
    Column("comments", Text, nullable=False),
    Column("digest", Text, nullable=False),
)

# Everything that was ever done. Rows are only added; `undone_by` alone is changed later.
journal = Table(
    "journal",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("at", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("person_id", Text, nullable=False),
    Column("device", Text, nullable=False),
    Column("sentence", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("key", Text, unique=True),
    Column("refers_to", Integer, ForeignKey("journal.number")),
    Column("undone_by", Integer, ForeignKey("journal.number")),
    Column("comments", Text),  # the comments after this edit, where it changed them
    Column("digest", Text, nullable=False),
)

# The values an entry changed, as JSON; NULL where there was, or is, no value.
changes = Table(
    "changes",
    metadata,
    Column("number", Integer, ForeignKey("journal.number"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("path", Text, nullable=False, index=True),
    Column("before", Text),
    Column("after", Text),
)

# The whole document now and then, so that an old revision need not be rebuilt from far away.
snapshots = Table(
    "snapshots",
    metadata,
    Column("revision", Integer, primary_key=True),
    Column("document", Text, nullable=False),
    Column("digest", Text, nullable=False),
)

settings = Table(
    "settings",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

devices = Table(
    "devices",
    metadata,
    Column("id", Text, primary_key=True),
    Column("token_hash", Text, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("person_id", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("joined", Text, nullable=False),
    Column("seen", Text, nullable=False),
    Column("revoked", Text),
    Column("at_machine", Integer, nullable=False),
    Column("address", Text, nullable=False),
)

jobs = Table(
    "jobs",
    metadata,
    Column("id", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("arguments", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("person_id", Text, nullable=False),
    Column("device", Text, nullable=False),
    Column("state", Text, nullable=False),
    Column("made", Text, nullable=False, index=True),
    Column("changed", Text, nullable=False),
    Column("progress", Text, nullable=False),
    Column("result", Text),
    Column("error", Text),
)

replies = Table(
    "replies",
    metadata,
    Column("key", Text, primary_key=True),
    Column("at", Text, nullable=False, index=True),
    Column("status", Integer, nullable=False),
    Column("body", Text, nullable=False),
)

# The log of the day as it stands, a row a line; `line` is all of it as JSON, the columns before it are for searching.
lines = Table(
    "lines",
    metadata,
    Column("id", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("day", Text, nullable=False, index=True),
    Column("moment", Text, nullable=False),
    Column("line", Text, nullable=False),
    Column("made", Integer, ForeignKey("journal.number"), nullable=False),
    Column("changed", Integer, ForeignKey("journal.number"), nullable=False),
    Column("digest", Text, nullable=False),
)

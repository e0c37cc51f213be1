"""The plan, its journal, snapshots and settings."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "state",
        sa.Column("id", sa.Integer, sa.CheckConstraint("id = 1"), primary_key=True),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("comments", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
    )
    op.create_table(
        "journal",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("person_id", sa.Text, nullable=False),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("sentence", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("key", sa.Text, unique=True),
        sa.Column("refers_to", sa.Integer, sa.ForeignKey("journal.number")),
        sa.Column("undone_by", sa.Integer, sa.ForeignKey("journal.number")),
        sa.Column("comments", sa.Text),
        sa.Column("digest", sa.Text, nullable=False),
    )
    op.create_table(
        "changes",
        sa.Column("number", sa.Integer, sa.ForeignKey("journal.number"), primary_key=True),
        sa.Column("position", sa.Integer, primary_key=True),
        sa.Column("path", sa.Text, nullable=False),
        sa.Column("before", sa.Text),
        sa.Column("after", sa.Text),
    )
    op.create_index("ix_changes_path", "changes", ["path"])
    op.create_table(
        "snapshots",
        sa.Column("revision", sa.Integer, primary_key=True),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
    )
    op.create_table(
        "settings",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("value", sa.Text, nullable=False),
    )

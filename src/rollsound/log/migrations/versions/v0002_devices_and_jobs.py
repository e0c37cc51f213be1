"""Devices that joined, long jobs, and replies kept for requests that are sent twice."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add what several devices need."""
    op.create_table(
        "devices",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("token_hash", sa.Text, nullable=False, unique=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("person_id", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("joined", sa.Text, nullable=False),
        sa.Column("seen", sa.Text, nullable=False),
        sa.Column("revoked", sa.Text),
        sa.Column("at_machine", sa.Integer, nullable=False),
        sa.Column("address", sa.Text, nullable=False),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("arguments", sa.Text, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("person_id", sa.Text, nullable=False),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("made", sa.Text, nullable=False),
        sa.Column("changed", sa.Text, nullable=False),
        sa.Column("progress", sa.Text, nullable=False),
        sa.Column("result", sa.Text),
        sa.Column("error", sa.Text),
    )
    op.create_index("ix_jobs_made", "jobs", ["made"])
    op.create_table(
        "replies",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("status", sa.Integer, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_index("ix_replies_at", "replies", ["at"])

"""The log of the day: one row for each of its lines as they stand; what was done to them is in the journal."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the lines of the day."""
    op.create_table(
        "lines",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("day", sa.Text, nullable=False),
        sa.Column("moment", sa.Text, nullable=False),
        sa.Column("line", sa.Text, nullable=False),
        sa.Column("made", sa.Integer, sa.ForeignKey("journal.number"), nullable=False),
        sa.Column("changed", sa.Integer, sa.ForeignKey("journal.number"), nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
    )
    op.create_index("ix_lines_day", "lines", ["day"])

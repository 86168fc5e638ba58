"""Calls and their events."""

import sqlalchemy as sa
from alembic import op

from triage.store.tables.base import UtcDateTime

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Take the tables up."""
    op.create_table(
        "calls",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("client_id", sa.String(64), nullable=False, unique=True),
        sa.Column("network_id", sa.String(200), nullable=False),
        sa.Column("network_version", sa.Integer, nullable=False),
        sa.Column("caller", sa.String(200), nullable=False),
        sa.Column("opened_at", UtcDateTime, nullable=False),
        sa.Column("opened_by", sa.String(100), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("is_open", sa.Boolean, nullable=False),
    )
    op.create_index("ix_calls_opened_at", "calls", ["opened_at"])
    op.create_index("ix_calls_is_open", "calls", ["is_open"])
    op.create_table(
        "events",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("call_id", sa.Integer, sa.ForeignKey("calls.id"), nullable=False),
        sa.Column("sequence", sa.Integer, nullable=False),
        sa.Column("client_id", sa.String(64), nullable=False),
        sa.Column("part", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("payload", sa.JSON, nullable=False),
        sa.Column("at", UtcDateTime, nullable=False),
        sa.Column("by", sa.String(100), nullable=False),
        sa.UniqueConstraint("call_id", "sequence"),
        sa.UniqueConstraint("client_id", "part"),
    )
    op.create_index("ix_events_call_id", "events", ["call_id"])


def downgrade() -> None:
    """Take the tables down."""
    op.drop_table("events")
    op.drop_table("calls")

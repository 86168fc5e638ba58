"""Vans, visits, stock, closed jobs."""

import sqlalchemy as sa
from alembic import op

from triage.store.tables.base import UtcDateTime

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Take the tables up."""
    op.create_table(
        "vans",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("technician_id", sa.Integer(), nullable=True),
        sa.Column("is_active", sa.Boolean(), nullable=False),
        sa.Column("feed_secret", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["technician_id"], ["users.id"], name="fk_vans_technician_id_users"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_vans"),
        sa.UniqueConstraint("feed_secret", name="uq_vans_feed_secret"),
        sa.UniqueConstraint("name", name="uq_vans_name"),
    )
    op.create_table(
        "closings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("client_id", sa.String(length=64), nullable=False),
        sa.Column("call_id", sa.Integer(), nullable=False),
        sa.Column("outcome", sa.String(length=30), nullable=False),
        sa.Column("causes", sa.JSON(), nullable=False),
        sa.Column("repairs", sa.JSON(), nullable=False),
        sa.Column("is_unsure", sa.Boolean(), nullable=False),
        sa.Column("verification", sa.String(length=30), nullable=False),
        sa.Column("minutes", sa.Double(), nullable=True),
        sa.Column("visits", sa.Integer(), nullable=False),
        sa.Column("callback_of_id", sa.Integer(), nullable=True),
        sa.Column("callback_kind", sa.String(length=10), nullable=False),
        sa.Column("labour_minor", sa.Integer(), nullable=False),
        sa.Column("fee_minor", sa.Integer(), nullable=False),
        sa.Column("tax_minor", sa.Integer(), nullable=False),
        sa.Column("total_minor", sa.Integer(), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("promised", sa.JSON(), nullable=False),
        sa.Column("network_version", sa.Integer(), nullable=False),
        sa.Column("closed_at", UtcDateTime(), nullable=False),
        sa.Column("closed_by", sa.String(length=100), nullable=False),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["call_id"], ["calls.id"], name="fk_closings_call_id_calls"),
        sa.ForeignKeyConstraint(
            ["callback_of_id"], ["calls.id"], name="fk_closings_callback_of_id_calls"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_closings"),
        sa.UniqueConstraint("call_id", name="uq_closings_call_id"),
        sa.UniqueConstraint("client_id", name="uq_closings_client_id"),
    )
    with op.batch_alter_table("closings") as batch_op:
        batch_op.create_index("ix_closings_closed_at", ["closed_at"])
        batch_op.create_index("ix_closings_outcome", ["outcome"])

    op.create_table(
        "stock_moves",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("client_id", sa.String(length=64), nullable=False),
        sa.Column("van_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.String(length=100), nullable=False),
        sa.Column("variant", sa.String(length=100), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(length=20), nullable=False),
        sa.Column("call_id", sa.Integer(), nullable=True),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("by", sa.String(length=100), nullable=False),
        sa.ForeignKeyConstraint(["call_id"], ["calls.id"], name="fk_stock_moves_call_id_calls"),
        sa.ForeignKeyConstraint(["van_id"], ["vans.id"], name="fk_stock_moves_van_id_vans"),
        sa.PrimaryKeyConstraint("id", name="pk_stock_moves"),
        sa.UniqueConstraint(
            "client_id", "part_id", "variant", name="uq_stock_moves_client_id_part_id_variant"
        ),
    )
    with op.batch_alter_table("stock_moves") as batch_op:
        batch_op.create_index("ix_stock_moves_part_id", ["part_id"])
        batch_op.create_index("ix_stock_moves_van_id", ["van_id"])

    op.create_table(
        "visits",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("client_id", sa.String(length=64), nullable=False),
        sa.Column("call_id", sa.Integer(), nullable=False),
        sa.Column("van_id", sa.Integer(), nullable=False),
        sa.Column("starts_at", UtcDateTime(), nullable=False),
        sa.Column("ends_at", UtcDateTime(), nullable=False),
        sa.Column("window_starts_at", UtcDateTime(), nullable=False),
        sa.Column("window_ends_at", UtcDateTime(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("late_minutes", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("uid", sa.String(length=100), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("booked_at", UtcDateTime(), nullable=False),
        sa.Column("booked_by", sa.String(length=100), nullable=False),
        sa.Column("changed_at", UtcDateTime(), nullable=False),
        sa.CheckConstraint("ends_at > starts_at", name="ends_after_start"),
        sa.ForeignKeyConstraint(["call_id"], ["calls.id"], name="fk_visits_call_id_calls"),
        sa.ForeignKeyConstraint(["van_id"], ["vans.id"], name="fk_visits_van_id_vans"),
        sa.PrimaryKeyConstraint("id", name="pk_visits"),
        sa.UniqueConstraint("client_id", name="uq_visits_client_id"),
        sa.UniqueConstraint("uid", name="uq_visits_uid"),
    )
    with op.batch_alter_table("visits") as batch_op:
        batch_op.create_index("ix_visits_call_id", ["call_id"])
        batch_op.create_index("ix_visits_starts_at", ["starts_at"])
        batch_op.create_index("ix_visits_van_id", ["van_id"])

    op.create_table(
        "parts_used",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("closing_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.String(length=100), nullable=False),
        sa.Column("variant", sa.String(length=100), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("price_minor", sa.Integer(), nullable=False),
        sa.Column("was_aboard", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["closing_id"], ["closings.id"], name="fk_parts_used_closing_id_closings"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_parts_used"),
    )
    with op.batch_alter_table("parts_used") as batch_op:
        batch_op.create_index("ix_parts_used_closing_id", ["closing_id"])


def downgrade() -> None:
    """Take the tables down."""
    op.drop_table("parts_used")
    op.drop_table("visits")
    op.drop_table("stock_moves")
    op.drop_table("closings")
    op.drop_table("vans")

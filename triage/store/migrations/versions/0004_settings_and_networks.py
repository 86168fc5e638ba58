"""Settings, the owner's own lists, versions of the networks."""

import sqlalchemy as sa
from alembic import op

from triage.store.tables.base import UtcDateTime

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Take the tables up."""
    op.create_table(
        "network_versions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("network_id", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("parent_version", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("why", sa.JSON(), nullable=False),
        sa.Column("proposed_at", UtcDateTime(), nullable=False),
        sa.Column("proposed_by", sa.String(length=100), nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.Column("decided_at", UtcDateTime(), nullable=True),
        sa.Column("decided_by", sa.String(length=100), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_network_versions"),
        sa.UniqueConstraint("network_id", "version", name="uq_network_versions_network_id_version"),
    )
    with op.batch_alter_table("network_versions") as batch_op:
        batch_op.create_index("ix_network_versions_network_id", ["network_id"])

    op.create_table(
        "networks_in_use",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("network_id", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("since", UtcDateTime(), nullable=False),
        sa.Column("by", sa.String(length=100), nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_networks_in_use"),
    )
    with op.batch_alter_table("networks_in_use") as batch_op:
        batch_op.create_index("ix_networks_in_use_network_id", ["network_id"])

    op.create_table(
        "plate_notes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("plate", sa.String(length=100), nullable=False),
        sa.Column("part_id", sa.String(length=100), nullable=False),
        sa.Column("variant", sa.String(length=100), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("by", sa.String(length=100), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_plate_notes"),
    )
    with op.batch_alter_table("plate_notes") as batch_op:
        batch_op.create_index("ix_plate_notes_kind", ["kind"])
        batch_op.create_index("ix_plate_notes_plate", ["plate"])

    op.create_table(
        "settings",
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("by", sa.String(length=100), nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.PrimaryKeyConstraint("version", name="pk_settings"),
    )


def downgrade() -> None:
    """Take the tables down."""
    op.drop_table("settings")
    op.drop_table("plate_notes")
    op.drop_table("networks_in_use")
    op.drop_table("network_versions")

"""Where versions of networks come from, files of closed jobs, long work with its progress."""

import sqlalchemy as sa
from alembic import op

from triage.store.tables.base import UtcDateTime

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Take the tables up."""
    with op.batch_alter_table("network_versions") as batch_op:
        batch_op.add_column(
            sa.Column("origin", sa.String(length=20), nullable=False, server_default="shipped")
        )
        batch_op.add_column(
            sa.Column("digest", sa.String(length=64), nullable=False, server_default="")
        )
        batch_op.add_column(
            sa.Column("decided_reason", sa.String(length=500), nullable=False, server_default="")
        )

    op.create_table(
        "job_files",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("client_id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("columns", sa.JSON(), nullable=False),
        sa.Column("sent_at", UtcDateTime(), nullable=False),
        sa.Column("sent_by", sa.String(length=100), nullable=False),
        sa.Column("imported_at", UtcDateTime(), nullable=True),
        sa.Column("jobs", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_job_files"),
        sa.UniqueConstraint("client_id", name="uq_job_files_client_id"),
    )
    op.create_table(
        "learning_runs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("client_id", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("network_id", sa.String(length=200), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("step", sa.String(length=200), nullable=False),
        sa.Column("steps_done", sa.Integer(), nullable=False),
        sa.Column("steps", sa.Integer(), nullable=False),
        sa.Column("request", sa.JSON(), nullable=False),
        sa.Column("result", sa.JSON(), nullable=False),
        sa.Column("problem", sa.Text(), nullable=False),
        sa.Column("asked_at", UtcDateTime(), nullable=False),
        sa.Column("asked_by", sa.String(length=100), nullable=False),
        sa.Column("seen_at", UtcDateTime(), nullable=False),
        sa.Column("ended_at", UtcDateTime(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_learning_runs"),
        sa.UniqueConstraint("client_id", name="uq_learning_runs_client_id"),
    )
    with op.batch_alter_table("learning_runs") as batch_op:
        batch_op.create_index("ix_learning_runs_kind", ["kind"])

    op.create_table(
        "timed_steps",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("call_id", sa.Integer(), nullable=False),
        sa.Column("minutes", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["call_id"], ["calls.id"], name="fk_timed_steps_call_id_calls"),
        sa.PrimaryKeyConstraint("id", name="pk_timed_steps"),
        sa.UniqueConstraint("call_id", name="uq_timed_steps_call_id"),
    )


def downgrade() -> None:
    """Take the tables down."""
    op.drop_table("timed_steps")
    op.drop_table("learning_runs")
    op.drop_table("job_files")
    with op.batch_alter_table("network_versions") as batch_op:
        batch_op.drop_column("decided_reason")
        batch_op.drop_column("digest")
        batch_op.drop_column("origin")

"""People of the shop, customers and their machines, photos."""

import sqlalchemy as sa
from alembic import op

from triage.store.tables.base import UtcDateTime

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Take the tables up."""
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("by", sa.String(length=100), nullable=False),
        sa.Column("action", sa.String(length=60), nullable=False),
        sa.Column("subject", sa.String(length=200), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_audit"),
    )
    with op.batch_alter_table("audit") as batch_op:
        batch_op.create_index("ix_audit_action", ["action"])
        batch_op.create_index("ix_audit_at", ["at"])

    op.create_table(
        "customers",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("name_folded", sa.String(length=200), nullable=False),
        sa.Column("phone_text", sa.String(length=60), nullable=False),
        sa.Column("phone_e164", sa.String(length=20), nullable=False),
        sa.Column("street", sa.String(length=200), nullable=False),
        sa.Column("town", sa.String(length=100), nullable=False),
        sa.Column("postcode", sa.String(length=20), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("added_at", UtcDateTime(), nullable=False),
        sa.Column("erased_at", UtcDateTime(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_customers"),
    )
    with op.batch_alter_table("customers") as batch_op:
        batch_op.create_index("ix_customers_name_folded", ["name_folded"])
        batch_op.create_index("ix_customers_phone_e164", ["phone_e164"])

    op.create_table(
        "users",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("login", sa.String(length=60), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("password_hash", sa.String(length=200), nullable=False),
        sa.Column("must_change_password", sa.Boolean(), nullable=False),
        sa.Column("is_active", sa.Boolean(), nullable=False),
        sa.Column("session_number", sa.Integer(), nullable=False),
        sa.Column("added_at", UtcDateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_users"),
        sa.UniqueConstraint("login", name="uq_users_login"),
    )
    op.create_table(
        "machines",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column("network_id", sa.String(length=200), nullable=False),
        sa.Column("drive", sa.String(length=60), nullable=False),
        sa.Column("bought_year", sa.Integer(), nullable=True),
        sa.Column("plate_text", sa.String(length=300), nullable=False),
        sa.Column("place", sa.String(length=200), nullable=False),
        sa.Column("added_at", UtcDateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["customer_id"], ["customers.id"], name="fk_machines_customer_id_customers"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_machines"),
    )
    with op.batch_alter_table("machines") as batch_op:
        batch_op.create_index("ix_machines_customer_id", ["customer_id"])

    op.create_table(
        "tokens",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("user_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("added_at", UtcDateTime(), nullable=False),
        sa.Column("used_at", UtcDateTime(), nullable=True),
        sa.Column("revoked_at", UtcDateTime(), nullable=True),
        sa.ForeignKeyConstraint(["user_id"], ["users.id"], name="fk_tokens_user_id_users"),
        sa.PrimaryKeyConstraint("id", name="pk_tokens"),
        sa.UniqueConstraint("digest", name="uq_tokens_digest"),
    )
    op.create_table(
        "photos",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("call_id", sa.Integer(), nullable=False),
        sa.Column("client_id", sa.String(length=64), nullable=False),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("by", sa.String(length=100), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("media_type", sa.String(length=40), nullable=False),
        sa.Column("image", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["call_id"], ["calls.id"], name="fk_photos_call_id_calls"),
        sa.PrimaryKeyConstraint("id", name="pk_photos"),
        sa.UniqueConstraint("client_id", name="uq_photos_client_id"),
    )
    with op.batch_alter_table("photos") as batch_op:
        batch_op.create_index("ix_photos_call_id", ["call_id"])

    with op.batch_alter_table("calls") as batch_op:
        batch_op.add_column(sa.Column("customer_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("machine_id", sa.Integer(), nullable=True))
        batch_op.create_index("ix_calls_customer_id", ["customer_id"])
        batch_op.create_index("ix_calls_machine_id", ["machine_id"])
        batch_op.create_foreign_key(
            "fk_calls_customer_id_customers", "customers", ["customer_id"], ["id"]
        )
        batch_op.create_foreign_key(
            "fk_calls_machine_id_machines", "machines", ["machine_id"], ["id"]
        )

    with op.batch_alter_table("events") as batch_op:
        batch_op.add_column(sa.Column("network_version", sa.Integer(), nullable=True))


def downgrade() -> None:
    """Take the tables down."""
    with op.batch_alter_table("calls") as batch_op:
        batch_op.drop_index("ix_calls_machine_id")
        batch_op.drop_index("ix_calls_customer_id")
        batch_op.drop_constraint("fk_calls_customer_id_customers", type_="foreignkey")
        batch_op.drop_constraint("fk_calls_machine_id_machines", type_="foreignkey")
        batch_op.drop_column("machine_id")
        batch_op.drop_column("customer_id")
    with op.batch_alter_table("events") as batch_op:
        batch_op.drop_column("network_version")
    op.drop_table("photos")
    op.drop_table("tokens")
    op.drop_table("machines")
    op.drop_table("users")
    op.drop_table("customers")
    op.drop_table("audit")

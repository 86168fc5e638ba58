"""Callers as they are searched, so that every call is found and not only the newest."""

import unicodedata

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
LONGEST = 400


def _folded(text: str) -> str:
    """Small letters without marks, as the program folded names when this was written."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    without_marks = "".join(one for one in plain if not unicodedata.combining(one))
    return " ".join(without_marks.casefold().split())[:LONGEST]


def upgrade() -> None:
    """Take the tables up."""
    with op.batch_alter_table("calls") as batch_op:
        batch_op.add_column(
            sa.Column("caller_folded", sa.String(length=400), nullable=False, server_default="")
        )
    calls = sa.table("calls", sa.column("id"), sa.column("caller"), sa.column("caller_folded"))
    connection = op.get_bind()
    rows = connection.execute(sa.select(calls.c.id, calls.c.caller)).all()
    folded = [{"number": number, "text": _folded(caller)} for number, caller in rows if caller]
    if folded:
        connection.execute(
            sa.update(calls)
            .where(calls.c.id == sa.bindparam("number"))
            .values(caller_folded=sa.bindparam("text")),
            folded,
        )


def downgrade() -> None:
    """Take the tables down."""
    with op.batch_alter_table("calls") as batch_op:
        batch_op.drop_column("caller_folded")

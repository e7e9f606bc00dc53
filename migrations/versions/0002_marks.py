"""What each record says of the course of a matter and of days in it, so that thousands of matters are told at once."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "marks",
        sa.Column("ledger", sa.Text, nullable=False),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("position", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("sort", "what", "day", "moment", "period", "text", "refers", "km")),
        sa.Column("done", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("ledger", "subject", "position", name="pk_marks"),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    raise RuntimeError("going back is not offered: a list can be made again at any time")

"""The comeback register: what was handed in (append-only), what was read from it, and what dossiers say, kept to be told at once."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def _texts(*names: str) -> list[sa.Column]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _counts(*names: str) -> list[sa.Column]:
    return [sa.Column(name, sa.Integer, nullable=False) for name in names]


def upgrade() -> None:
    op.create_table(
        "register_batches",
        sa.Column("number", sa.Integer, autoincrement=False, nullable=False),
        *_texts("sort", "made_at", "made_by", "file", "sha256"),
        *_counts("orders", "comebacks", "left_out", "of"),
        *_texts("reason"),
        sa.Column("raw", sa.LargeBinary, nullable=False),
        sa.Column("mapping", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_register_batches"),
    )
    op.create_table(
        "register_orders",
        sa.Column("batch", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("line", sa.Integer, autoincrement=False, nullable=False),
        *_texts("number"),
        *_counts("day"),
        *_texts("vehicle", "firm", "technician", "operations", "origins"),
        sa.Column("km", sa.Integer),
        sa.PrimaryKeyConstraint("batch", "line", name="pk_register_orders"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "register_comebacks",
        sa.Column("batch", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("line", sa.Integer, autoincrement=False, nullable=False),
        *_texts("body"),
        sa.PrimaryKeyConstraint("batch", "line", name="pk_register_comebacks"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "register_dossiers",
        *_texts("ledger", "leaf", "judged_by", "body"),
        sa.PrimaryKeyConstraint("ledger", name="pk_register_dossiers"),
    )
    if op.get_bind().dialect.name == "sqlite":
        for deed in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER register_refuse_{deed.lower()} BEFORE {deed} ON register_batches "
                "BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END"
            )
        op.execute(  # "INSERT OR REPLACE" deletes without asking the triggers above
            "CREATE TRIGGER register_refuse_replace BEFORE INSERT ON register_batches "
            "WHEN EXISTS (SELECT 1 FROM register_batches WHERE number = NEW.number) "
            "BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END"
        )
    else:
        op.execute(
            "CREATE FUNCTION register_refuse() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'the register is append-only'; END $$"
        )
        op.execute(
            "CREATE TRIGGER register_refuse BEFORE UPDATE OR DELETE OR TRUNCATE ON register_batches "
            "FOR EACH STATEMENT EXECUTE FUNCTION register_refuse()"
        )


def downgrade() -> None:
    raise RuntimeError("going back would lose what was handed in to the register")

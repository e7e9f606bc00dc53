"""Ledgers of entries, their projections, and the refusal to change an entry."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "entries",
        sa.Column("ledger", sa.Text, nullable=False),
        sa.Column("seq", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("header", sa.LargeBinary, nullable=False),
        sa.Column("content", sa.LargeBinary),
        sa.Column("batch", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("ledger", "seq", name="pk_entries"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "ledgers",
        sa.Column("ledger", sa.Text, nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("last_leaf", sa.Text, nullable=False),
        sa.Column("frontier", sa.LargeBinary, nullable=False),
        sa.Column("counts", sa.Text, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("ledger", name="pk_ledgers"),
    )
    op.create_table(
        "dossiers",
        sa.Column("ledger", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("opened_at", sa.Text, nullable=False),
        sa.Column("demonstration", sa.Boolean, nullable=False),
        sa.Column("vehicle", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("ledger", name="pk_dossiers"),
        sa.UniqueConstraint("name", name="uq_dossiers_name"),
    )
    op.create_table(
        "records",
        sa.Column("ledger", sa.Text, nullable=False),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("withdrawn", sa.Boolean, nullable=False),
        sa.Column("summary", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("ledger", "subject", name="pk_records"),
        sqlite_with_rowid=False,
    )
    named = sa.text("name <> ''")
    op.create_index("ix_records_ledger_name", "records", ["ledger", "name"], sqlite_where=named, postgresql_where=named)
    op.create_index("ix_records_ledger_kind_number", "records", ["ledger", "kind", "number"])
    op.create_table(
        "files",
        sa.Column("ledger", sa.Text, nullable=False),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("sha256", sa.Text, nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("ledger", "subject", name="pk_files"),
    )
    op.create_index("ix_files_sha256", "files", ["sha256"])
    op.create_table(
        "branches",
        sa.Column("ledger", sa.Text, nullable=False),
        sa.Column("level", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("position", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("hash", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("ledger", "level", "position", name="pk_branches"),
        sqlite_with_rowid=False,
    )
    if op.get_bind().dialect.name == "sqlite":
        _sqlite()
    else:
        _postgresql()


def _sqlite() -> None:
    op.execute(
        "CREATE VIRTUAL TABLE search USING fts5 "
        "(ledger UNINDEXED, subject UNINDEXED, words, columnsize = 0, tokenize = 'unicode61 remove_diacritics 2')"
    )
    op.execute(  # what was entered one by one waits here, and goes into the index in bulk: far fewer pages for each entry
        "CREATE TABLE search_new (id INTEGER PRIMARY KEY, \"row\" INTEGER NOT NULL, ledger TEXT NOT NULL, "
        "subject TEXT NOT NULL, words TEXT NOT NULL)"
    )
    for deed in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER entries_refuse_{deed.lower()} BEFORE {deed} ON entries "
            "BEGIN SELECT RAISE(ABORT, 'entries are append-only'); END"
        )
    op.execute(  # "INSERT OR REPLACE" deletes without asking the triggers above
        "CREATE TRIGGER entries_refuse_replace BEFORE INSERT ON entries "
        "WHEN EXISTS (SELECT 1 FROM entries WHERE ledger = NEW.ledger AND seq = NEW.seq) "
        "BEGIN SELECT RAISE(ABORT, 'entries are append-only'); END"
    )


def _postgresql() -> None:
    op.execute(
        "CREATE TABLE search (row bigint PRIMARY KEY, ledger text NOT NULL, subject text NOT NULL, "
        "words text NOT NULL, found tsvector GENERATED ALWAYS AS (to_tsvector('simple', words)) STORED)"
    )
    op.execute("CREATE INDEX search_found ON search USING gin (found)")
    op.execute(
        "CREATE FUNCTION entries_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'entries are append-only'; END $$"
    )
    op.execute(
        "CREATE TRIGGER entries_refuse BEFORE UPDATE OR DELETE OR TRUNCATE ON entries "
        "FOR EACH STATEMENT EXECUTE FUNCTION entries_refuse()"
    )


def downgrade() -> None:
    raise RuntimeError("going back before the first version would lose evidence")

"""The tables. ``entries`` is the truth; all others are projections of it and can be made again.

Header and content are byte columns, never a JSON type: one database would reorder keys, another refuses
U+0000, and hashes are over bytes.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "pk": "pk_%(table_name)s",
    }
)

NAMED = text("name <> ''")  # what is entered by hand has no short name and stays out of their index

# True of every record. SQLite keeps no statistics here, and without it reads every record of a ledger to find those of
# one kind: an event would cost more with each one before it.
NUMBERED = text("records.number > 0")

entries = Table(
    "entries",
    metadata,
    Column("ledger", Text, primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("header", LargeBinary, nullable=False),
    Column("content", LargeBinary),
    Column("batch", Integer, nullable=False),  # first seq of its transaction
    sqlite_with_rowid=False,
)

ledgers = Table(
    "ledgers",
    metadata,
    Column("ledger", Text, primary_key=True),
    Column("size", Integer, nullable=False),
    Column("last_leaf", Text, nullable=False),
    Column("frontier", LargeBinary, nullable=False),
    Column("counts", Text, nullable=False),  # records by kind, JSON object
    Column("changed_at", Text, nullable=False),
)

dossiers = Table(
    "dossiers",
    metadata,
    Column("ledger", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("opened_at", Text, nullable=False),
    Column("demonstration", Boolean, nullable=False),
    Column("vehicle", Text, nullable=False),
    UniqueConstraint("name"),
)

records = Table(
    "records",
    metadata,
    Column("ledger", Text, primary_key=True),
    Column("subject", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("name", Text, nullable=False),
    Column("seq", Integer, nullable=False),
    Column("withdrawn", Boolean, nullable=False),
    Column("summary", Text, nullable=False),
    Index("ix_records_ledger_name", "ledger", "name", sqlite_where=NAMED, postgresql_where=NAMED),
    Index("ix_records_ledger_kind_number", "ledger", "kind", "number"),
    sqlite_with_rowid=False,
)

files = Table(
    "files",
    metadata,
    Column("ledger", Text, primary_key=True),
    Column("subject", Text, primary_key=True),
    Column("sha256", Text, nullable=False),
    Column("size", BigInteger, nullable=False),
    Index("ix_files_sha256", "sha256"),
)

branches = Table(
    "branches",  # of each ledger's tree, for proofs
    metadata,
    Column("ledger", Text, primary_key=True),
    Column("level", Integer, primary_key=True, autoincrement=False),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("hash", LargeBinary, nullable=False),
    sqlite_with_rowid=False,
)

marks = Table(
    "marks",  # what records say of the course of a matter, see evidence.claim.marks
    metadata,
    Column("ledger", Text, primary_key=True),
    Column("subject", Text, primary_key=True),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("kind", Text, nullable=False),
    Column("number", Integer, nullable=False),
    *(
        Column(name, Text, nullable=False)
        for name in ("sort", "what", "day", "moment", "period", "text", "refers", "km")
    ),
    Column("done", Boolean, nullable=False),
    sqlite_with_rowid=False,
)

# The comeback register. ``register_batches`` keeps what was handed in, as it came, and refuses to be changed; orders and
# comebacks are read from it, and register_dossiers keeps what dossiers say until they change (see evidence.register.batches).
register_batches = Table(
    "register_batches",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=False),
    *(Column(name, Text, nullable=False) for name in ("sort", "made_at", "made_by", "file", "sha256")),
    *(Column(name, Integer, nullable=False) for name in ("orders", "comebacks", "left_out", "of")),
    Column("reason", Text, nullable=False),
    Column("raw", LargeBinary, nullable=False),  # both compressed by zlib
    Column("mapping", LargeBinary, nullable=False),
)

register_orders = Table(
    "register_orders",
    metadata,
    Column("batch", Integer, primary_key=True, autoincrement=False),
    Column("line", Integer, primary_key=True, autoincrement=False),
    Column("number", Text, nullable=False),
    Column("day", Integer, nullable=False),
    *(Column(name, Text, nullable=False) for name in ("vehicle", "firm", "technician", "operations", "origins")),
    Column("km", Integer),
    sqlite_with_rowid=False,
)

register_comebacks = Table(
    "register_comebacks",
    metadata,
    Column("batch", Integer, primary_key=True, autoincrement=False),
    Column("line", Integer, primary_key=True, autoincrement=False),
    Column("body", Text, nullable=False),
    sqlite_with_rowid=False,
)

register_dossiers = Table(
    "register_dossiers",
    metadata,
    *(
        Column(name, Text, nullable=False, primary_key=name == "ledger")
        for name in ("ledger", "leaf", "judged_by", "body")
    ),
)

# "search" is made by the migration in each database's own way (FTS5, or a text-search column).
PROJECTIONS = (ledgers, dossiers, records, files, branches, marks, register_dossiers)

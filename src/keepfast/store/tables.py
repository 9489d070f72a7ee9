"""The tables. ``entry`` is the ink, ``again`` has further links to it; ``meta`` and ``writer`` say whose book this is.

All others are derived.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Column, Index, Integer, MetaData, String, Table, Text, UniqueConstraint

LEDGER_FORMAT = 1  # how entries are kept; a book with a higher one was written by a newer program
DERIVED_FORMAT = 1  # how derived tables are made; a lower one means that they are rebuilt on opening

ink = MetaData()

meta = Table("meta", ink, Column("name", String, primary_key=True), Column("value", String, nullable=False))

# A file that was copied or moved starts a chain of its own, so that two copies cannot write one chain twice.
writer = Table(
    "writer",
    ink,
    Column("store", String, primary_key=True),
    Column("place", String, nullable=False),
    Column("since", String, nullable=False),
)

entry = Table(
    "entry",
    ink,
    Column("sequence", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=False),
    Column("id", String, nullable=False, unique=True),
    Column("store", String, nullable=False),
    Column("number", BigInteger, nullable=False),
    Column("previous", String, nullable=False),
    Column("hash", String, nullable=False),
    Column("device", String, nullable=False),
    Column("who", String, nullable=False),
    Column("at", String, nullable=False),
    Column("order_ms", BigInteger, nullable=False),
    Column("kind", String, nullable=False),
    Column("content", Text, nullable=False),
    UniqueConstraint("store", "number"),
    Index("entry_order", "order_ms"),
    Index("entry_device", "device", "order_ms"),
)

# A store's link to an entry that stands above under another store's link: both had it before they met.
again = Table(
    "again",
    ink,
    Column("store", String, primary_key=True),
    Column("number", BigInteger, primary_key=True, autoincrement=False),
    Column("previous", String, nullable=False),
    Column("hash", String, nullable=False),
    Column("id", String, nullable=False),
)

derived = MetaData()

# Which correction names which entry, and the entry that stands at the root when corrections are corrected.
correction = Table(
    "correction",
    derived,
    Column("sequence", BigInteger, primary_key=True, autoincrement=False),
    Column("target", String, nullable=False, index=True),
    Column("root", String, index=True),
)

# Which entries the state of a thing is derived from (corrections follow their root).
about = Table(
    "about",
    derived,
    Column("kind", String, primary_key=True),
    Column("thing", String, primary_key=True),
    Column("sequence", BigInteger, primary_key=True, autoincrement=False),
    Index("about_sequence", "sequence"),
    sqlite_with_rowid=False,
)

thing = Table(
    "thing",
    derived,
    Column("kind", String, primary_key=True),
    Column("id", String, primary_key=True),
    Column("label", String, nullable=False),
    Column("label_key", String, nullable=False),
    Column("entered", Boolean, nullable=False),
    Column("withdrawn", Boolean, nullable=False),
    Column("data", Text, nullable=False),
    Index("thing_label", "label_key"),
)

link = Table(
    "link",
    derived,
    Column("kind", String, primary_key=True),
    Column("id", String, primary_key=True),
    Column("relation", String, primary_key=True),
    Column("to_id", String, primary_key=True),
    Index("link_to", "to_id", "relation"),
    sqlite_with_rowid=False,
)

# Every number ever written or given out, whatever became of it: nothing is used twice.
used_number = Table(
    "used_number",
    derived,
    Column("prefix", String, primary_key=True),
    Column("serial", BigInteger, primary_key=True),
    Column("sequence", BigInteger, primary_key=True, autoincrement=False),
    Column("use", String, nullable=False),
    sqlite_with_rowid=False,
)

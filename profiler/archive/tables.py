"""The tables as the program uses them; `migrations` makes them, a test holds the two together.

Dates are ISO 8601 text, lengths mm. Every table reads the same in SQLite and in PostgreSQL.
"""

from __future__ import annotations

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

#: version of these tables: the newest revision in migrations/versions
VERSION = "0002"

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)

#: what the archive knows of itself: uid, made, program
about = Table(
    "about",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

customer = Table(
    "customer",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("uid", Text, nullable=False, unique=True),
    Column("key", Text, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("notes", Text, nullable=False, server_default=""),
    Column("added", Text, nullable=False),
    Column("name_folded", Text, nullable=False, server_default=""),
    sqlite_autoincrement=True,  # a number is never given twice, not even after 'forget'
)

instrument = Table(
    "instrument",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("uid", Text, nullable=False, unique=True),
    Column("customer_id", ForeignKey("customer.id"), nullable=True, index=True),
    Column("name", Text, nullable=False),
    Column("maker", Text, nullable=False, server_default=""),
    Column("kind", Text, nullable=False, server_default=""),
    Column("notes", Text, nullable=False, server_default=""),
    Column("added", Text, nullable=False),
    #: everything typed, folded, for searching
    Column("words", Text, nullable=False, server_default=""),
    Column("maker_folded", Text, nullable=False, server_default=""),
    Column("kind_folded", Text, nullable=False, server_default=""),
    sqlite_autoincrement=True,
)

tag = Table(
    "tag",
    metadata,
    Column("instrument_id", ForeignKey("instrument.id"), primary_key=True),
    Column("tag", Text, primary_key=True),
)

revision = Table(
    "revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("uid", Text, nullable=False, unique=True),
    Column("instrument_id", ForeignKey("instrument.id"), nullable=False),
    Column("number", Integer, nullable=False),
    #: the day it was measured, as the user says
    Column("measured", Text, nullable=False, index=True),
    Column("added", Text, nullable=False),
    #: which program measured, and which one put it here
    Column("program", Text, nullable=False),
    Column("kept_by", Text, nullable=False),
    Column("notes", Text, nullable=False, server_default=""),
    Column("length", Float),
    Column("width", Float),
    Column("height", Float),
    #: of the file measurement.json
    Column("sha256", Text, nullable=False, index=True),
    UniqueConstraint("instrument_id", "number"),
    sqlite_autoincrement=True,
)

#: measurement.json byte for byte, packed by zlib
measurement = Table(
    "measurement",
    metadata,
    Column("revision_id", ForeignKey("revision.id"), primary_key=True, autoincrement=False),
    Column("packed", LargeBinary, nullable=False),
)

#: what a search by shape looks through; see `shape.py`
shape = Table(
    "shape",
    metadata,
    Column("revision_id", ForeignKey("revision.id"), primary_key=True, autoincrement=False),
    Column("signature", LargeBinary, nullable=False),
)

#: for the few that remain: the coarse outline, and all of it, (N, 2) float32
plan = Table(
    "plan",
    metadata,
    Column("revision_id", ForeignKey("revision.id"), primary_key=True, autoincrement=False),
    Column("coarse", LargeBinary, nullable=False),
    Column("outline", LargeBinary, nullable=False),
)

#: files of a revision; `role` is photo, mat, cards, lens, overlay, section, cradle, case, other
attachment = Table(
    "attachment",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("revision_id", ForeignKey("revision.id"), nullable=False, index=True),
    Column("role", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("sha256", Text, nullable=False, index=True),
    #: where the file lies if only its hash is kept; '' where the file itself is
    Column("elsewhere", Text, nullable=False, server_default=""),
    Column("kept", Integer, nullable=False),
    sqlite_autoincrement=True,
)

#: every file that is kept, once for each content
content = Table(
    "content",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("size", Integer, nullable=False),
    Column("added", Text, nullable=False),
)

#: the files themselves where there is no folder for them (PostgreSQL)
chunk = Table(
    "chunk",
    metadata,
    Column("sha256", ForeignKey("content.sha256"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("data", LargeBinary, nullable=False),
)

#: files whose records are gone and which still have to be removed from the folder
erasure = Table(
    "erasure",
    metadata,
    Column("sha256", Text, primary_key=True),
)

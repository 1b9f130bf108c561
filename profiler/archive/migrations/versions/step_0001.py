"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _number(name: str = "id") -> "sa.Column[int]":
    return sa.Column(name, sa.Integer, primary_key=True)


def _text(name: str, **more: object) -> "sa.Column[str]":
    return sa.Column(name, sa.Text, nullable=False, **more)  # type: ignore[arg-type]


def _of(name: str, target: str, kind: type = sa.Integer, **more: object) -> "sa.Column[int]":
    return sa.Column(name, kind, sa.ForeignKey(target), **more)  # type: ignore[arg-type]


def upgrade() -> None:
    op.create_table("about", sa.Column("name", sa.Text, primary_key=True), _text("value"))
    op.create_table(
        "customer",
        _number(),
        _text("uid", unique=True),
        _text("key", unique=True),
        _text("name"),
        _text("notes", server_default=""),
        _text("added"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "instrument",
        _number(),
        _text("uid", unique=True),
        _of("customer_id", "customer.id", nullable=True, index=True),
        _text("name"),
        _text("maker", server_default=""),
        _text("kind", server_default=""),
        _text("notes", server_default=""),
        _text("added"),
        _text("words", server_default=""),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "tag",
        _of("instrument_id", "instrument.id", primary_key=True),
        sa.Column("tag", sa.Text, primary_key=True),
    )
    op.create_table(
        "revision",
        _number(),
        _text("uid", unique=True),
        _of("instrument_id", "instrument.id", nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        _text("measured", index=True),
        _text("added"),
        _text("program"),
        _text("kept_by"),
        _text("notes", server_default=""),
        sa.Column("length", sa.Float),
        sa.Column("width", sa.Float),
        sa.Column("height", sa.Float),
        _text("sha256", index=True),
        sa.UniqueConstraint("instrument_id", "number"),
        sqlite_autoincrement=True,
    )
    for name, columns in (
        ("measurement", ("packed",)),
        ("shape", ("signature",)),
        ("plan", ("coarse", "outline")),
    ):
        op.create_table(
            name,
            _of("revision_id", "revision.id", primary_key=True, autoincrement=False),
            *(sa.Column(column, sa.LargeBinary, nullable=False) for column in columns),
        )
    op.create_table(
        "attachment",
        _number(),
        _of("revision_id", "revision.id", nullable=False, index=True),
        _text("role"),
        _text("name"),
        _text("sha256", index=True),
        _text("elsewhere", server_default=""),
        sa.Column("kept", sa.Integer, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "content",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("size", sa.Integer, nullable=False),
        _text("added"),
    )
    op.create_table(
        "chunk",
        _of("sha256", "content.sha256", sa.Text, primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table("erasure", sa.Column("sha256", sa.Text, primary_key=True))

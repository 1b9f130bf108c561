"""Customer, maker and kind folded, so that a search takes Åsa for asa in every database."""

import sqlalchemy as sa
from alembic import op

from profiler.archive.words import folded

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

FOLDED = (
    ("customer", "name", "name_folded"),
    ("instrument", "maker", "maker_folded"),
    ("instrument", "kind", "kind_folded"),
)


def upgrade() -> None:
    connection = op.get_bind()
    for table, source, target in FOLDED:
        op.add_column(table, sa.Column(target, sa.Text, nullable=False, server_default=""))
        here = sa.table(table, sa.column("id"), sa.column(source), sa.column(target))
        for row in connection.execute(sa.select(here.c.id, here.c[source])).all():
            connection.execute(
                sa.update(here).where(here.c.id == row.id).values({target: folded(row[1])})
            )

"""How soon a sensor says it will send again, and whose clock is wrong."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add a column to the series, and a table of clocks."""
    op.add_column("series", sa.Column("update_s", sa.Float(), nullable=True))
    op.create_table(
        "sensor_clocks",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sensor", sa.Text(), nullable=False),
        sa.Column("ahead_s", sa.Float(), nullable=False),
        sa.Column("since_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "sensor", name=op.f("pk_sensor_clocks")),
    )

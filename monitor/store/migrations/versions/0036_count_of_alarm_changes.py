"""How many changes of alarms are on record, kept beside them: what pages ask for each second."""

import sqlalchemy as sa
from alembic import op

revision = "0036"
down_revision = "0035"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table, and count once what there is."""
    op.create_table(
        "alarm_change_counts",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("changes", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name="pk_alarm_change_counts"),
    )
    op.execute(
        "INSERT INTO alarm_change_counts (yard_id, changes)"
        " SELECT yard_id, count(*) FROM alarm_events GROUP BY yard_id"
    )

"""Finds messages and alarms of a week by their time, without reading the whole season."""

from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add indexes; no row changes."""
    for table, column in (("outbox", "created_ms"), ("alarm_events", "at_ms")):
        op.create_index(f"ix_{table}_yard_id_{column}", table, ["yard_id", column])

"""Finds the alarms, the changes and the letters of one craft without reading the whole yard's."""

from alembic import op

revision = "0029"
down_revision = "0028"
branch_labels = None
depends_on = None

_INDEXES = (
    ("alarms", ["yard_id", "craft"]),
    ("standing_changes", ["yard_id", "craft", "at_ms"]),
    ("outbox", ["yard_id", "person", "created_ms"]),
)


def upgrade() -> None:
    """Add indexes; no row changes."""
    for table, columns in _INDEXES:
        op.create_index(f"ix_{table}_{'_'.join(columns)}", table, columns)

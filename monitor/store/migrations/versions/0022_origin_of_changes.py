"""By which program, settings and profile each change of standing was judged."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; changes of earlier programs hold nothing there."""
    for name in ("program", "settings_digest", "profile_digest"):
        op.add_column("standing_changes", sa.Column(name, sa.Text()))

"""Names of sessions at the broker that yards had when all of them had one name."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Keep for yards that are there the name under which the broker holds their messages."""
    op.create_table(
        "session_names",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("client_id", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name="pk_session_names"),
    )
    op.execute("INSERT INTO session_names (yard_id, client_id) SELECT yard_id, 'laidup' FROM yards")

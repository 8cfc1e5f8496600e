"""What the alarm room remembers between rounds: waiting causes, threads, answer links."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the three tables."""
    op.create_table(
        "alarm_watches",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("cause", sa.Text(), nullable=False),
        sa.Column("craft", sa.Text(), nullable=False),
        sa.Column("space", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint(
            "yard_id", "cause", "craft", "space", "part", name=op.f("pk_alarm_watches")
        ),
    )
    op.create_table(
        "conversations",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("thread", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("topic", sa.Text(), nullable=False),
        sa.Column("closed_ms", sa.BigInteger(), nullable=True),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "thread", name=op.f("pk_conversations")),
    )
    op.create_index(
        op.f("ix_conversations_yard_id_closed_ms"), "conversations", ["yard_id", "closed_ms"]
    )
    op.create_table(
        "answer_links",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("thread", sa.Text(), nullable=False),
        sa.Column("expires_ms", sa.BigInteger(), nullable=False),
        sa.Column("used_ms", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("yard_id", "digest", name=op.f("pk_answer_links")),
    )

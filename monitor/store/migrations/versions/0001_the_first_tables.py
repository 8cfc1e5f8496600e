"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create every table."""
    op.create_table(
        "alarm_events",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("alarm_id", sa.Text(), nullable=False),
        sa.Column("n", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("before", sa.Text(), nullable=False),
        sa.Column("after", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "alarm_id", "n", name=op.f("pk_alarm_events")),
    )
    op.create_table(
        "alarms",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("alarm_id", sa.Text(), nullable=False),
        sa.Column("cause", sa.Text(), nullable=False),
        sa.Column("space", sa.Text(), nullable=False),
        sa.Column("craft", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("priority", sa.Text(), nullable=False),
        sa.Column("urgency", sa.Text(), nullable=False),
        sa.Column("severity", sa.Text(), nullable=False),
        sa.Column("certainty", sa.Text(), nullable=False),
        sa.Column("headline", sa.Text(), nullable=False),
        sa.Column("raised_ms", sa.BigInteger(), nullable=False),
        sa.Column("changed_ms", sa.BigInteger(), nullable=False),
        sa.Column("deadline_ms", sa.BigInteger(), nullable=True),
        sa.Column("cleared_ms", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("yard_id", "alarm_id", name=op.f("pk_alarms")),
    )
    with op.batch_alter_table("alarms", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_alarms_yard_id_state"), ["yard_id", "state"], unique=False
        )

    op.create_table(
        "aside",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("topic", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("payload", sa.LargeBinary(), nullable=False),
        sa.Column("first_ms", sa.BigInteger(), nullable=False),
        sa.Column("last_ms", sa.BigInteger(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "digest", name=op.f("pk_aside")),
    )
    with op.batch_alter_table("aside", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_aside_yard_id_last_ms"), ["yard_id", "last_ms"], unique=False
        )

    op.create_table(
        "assessments",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hazard", sa.Text(), nullable=False),
        sa.Column("space", sa.Text(), nullable=False),
        sa.Column("craft", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("standing", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint(
            "yard_id", "hazard", "space", "craft", "part", name=op.f("pk_assessments")
        ),
    )
    op.create_table(
        "delivery_attempts",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("n", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.Column("detail", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "key", "n", name=op.f("pk_delivery_attempts")),
    )
    op.create_table(
        "outbox",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("html", sa.Text(), nullable=False),
        sa.Column("thread", sa.Text(), nullable=False),
        sa.Column("created_ms", sa.BigInteger(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("due_ms", sa.BigInteger(), nullable=False),
        sa.Column("claimed_until_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "key", name=op.f("pk_outbox")),
    )
    with op.batch_alter_table("outbox", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_outbox_yard_id_outcome_due_ms"),
            ["yard_id", "outcome", "due_ms"],
            unique=False,
        )

    op.create_table(
        "outbox_attachments",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("n", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("filename", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("content_id", sa.Text(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "key", "n", name=op.f("pk_outbox_attachments")),
    )
    op.create_table(
        "readings",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("series_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("value", sa.Integer(), nullable=False),
        sa.Column("raw", sa.Integer(), nullable=True),
        sa.Column("flag", sa.SmallInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "series_id", "at_ms", name=op.f("pk_readings")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "series",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("series_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sensor", sa.Text(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "series_id", name=op.f("pk_series")),
        sa.UniqueConstraint(
            "yard_id", "sensor", "channel", name=op.f("uq_series_yard_id_sensor_channel")
        ),
    )
    op.create_table(
        "standing_changes",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hazard", sa.Text(), nullable=False),
        sa.Column("space", sa.Text(), nullable=False),
        sa.Column("craft", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("standing", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint(
            "yard_id", "hazard", "space", "craft", "part", "at_ms", name=op.f("pk_standing_changes")
        ),
    )
    with op.batch_alter_table("standing_changes", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_standing_changes_yard_id_at_ms"), ["yard_id", "at_ms"], unique=False
        )

    op.create_table(
        "yards",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", name=op.f("pk_yards")),
        sa.UniqueConstraint("key", name=op.f("uq_yards_key")),
    )

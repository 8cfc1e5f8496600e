"""Public forecasts, and how asking for them went."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the two tables."""
    op.create_table(
        "forecasts",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("issued_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("valid_ms", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("fetched_ms", sa.BigInteger(), nullable=False),
        sa.Column("air", sa.Integer(), nullable=False),
        sa.Column("dew_point", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint(
            "yard_id", "source", "issued_ms", "valid_ms", name=op.f("pk_forecasts")
        ),
    )
    op.create_index(op.f("ix_forecasts_yard_id_fetched_ms"), "forecasts", ["yard_id", "fetched_ms"])
    op.create_table(
        "forecast_asking",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "source", name=op.f("pk_forecast_asking")),
    )

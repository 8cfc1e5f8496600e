"""Who may open the page: passwords, links to set one, sessions, keys and links, what was done."""

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
branch_labels = None
depends_on = None


def _yard() -> sa.Column[int]:
    return sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False)


def upgrade() -> None:
    """Add the tables; nobody has a password yet."""
    op.create_table(
        "page_passwords",
        _yard(),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("set_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "person", name="pk_page_passwords"),
    )
    op.create_table(
        "page_invitations",
        _yard(),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("made_ms", sa.BigInteger(), nullable=False),
        sa.Column("expires_ms", sa.BigInteger(), nullable=False),
        sa.Column("used_ms", sa.BigInteger()),
        sa.PrimaryKeyConstraint("yard_id", "digest", name="pk_page_invitations"),
    )
    op.create_table(
        "page_sessions",
        _yard(),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("made_ms", sa.BigInteger(), nullable=False),
        sa.Column("seen_ms", sa.BigInteger(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "digest", name="pk_page_sessions"),
    )
    op.create_table(
        "page_grants",
        _yard(),
        sa.Column("grant_id", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("craft_id", sa.Text(), nullable=False),
        sa.Column("made_by", sa.Text(), nullable=False),
        sa.Column("made_ms", sa.BigInteger(), nullable=False),
        sa.Column("expires_ms", sa.BigInteger()),
        sa.Column("withdrawn_ms", sa.BigInteger()),
        sa.Column("seen_ms", sa.BigInteger()),
        sa.PrimaryKeyConstraint("yard_id", "grant_id", name="pk_page_grants"),
        sa.UniqueConstraint("yard_id", "digest", name="uq_page_grants_yard_id"),
    )
    op.create_table(
        "page_deeds",
        _yard(),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("deed", sa.Text(), nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "number", name="pk_page_deeds"),
    )

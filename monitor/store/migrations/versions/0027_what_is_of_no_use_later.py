"""Why a message that was kept aside can never be taken in, beside the words that say so."""

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0026"
branch_labels = None
depends_on = None

# As the reasons of earlier programs began.
_BEGAN = {"contrary": "another value for its time", "cut-short": "only its beginning is kept"}


def upgrade() -> None:
    """Add the kind, and read that of older rows off the words that stood for it."""
    op.add_column("aside", sa.Column("kind", sa.Text()))
    for kind, words in _BEGAN.items():
        op.execute(
            sa.text("UPDATE aside SET kind = :kind WHERE reason LIKE :words").bindparams(
                kind=kind, words=f"{words}%"
            )
        )

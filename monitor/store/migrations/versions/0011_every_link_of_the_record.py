"""Chains moves and what is known of each craft behind the work on record, and counts all links.

Rows and hashes of work that is on record stay as they are. Moves and craft rows had no hash until
now: each is chained as it stands, marked as taken over, so that nobody takes it for more.
"""

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

import rfc8785
import sqlalchemy as sa
from alembic import op
from sqlalchemy import Connection, Row

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

_AT_ONCE = 1000


def upgrade() -> None:
    """Create the list of links, fill it, and give messages the head of the record."""
    links = op.create_table(
        "record_links",
        sa.Column("yard_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("craft_id", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("yard_id", "position", name=op.f("pk_record_links")),
        sa.UniqueConstraint(
            "yard_id",
            "craft_id",
            "number",
            name=op.f("uq_record_links_yard_id_craft_id_number"),
        ),
    )
    op.add_column("outbox", sa.Column("record_head", sa.Text(), nullable=True))
    connection = op.get_bind()
    now = _utc(datetime.now(UTC))
    for yard_id in connection.scalars(sa.text("SELECT yard_id FROM yards ORDER BY yard_id")).all():
        rows = _links(connection, int(yard_id), now)
        for start in range(0, len(rows), _AT_ONCE):
            op.bulk_insert(links, rows[start : start + _AT_ONCE])


def _links(connection: Connection, yard_id: int, now: str) -> list[dict[str, Any]]:
    """Links of a yard: first all work that is on record, then each craft's moves and row."""
    rows: list[dict[str, Any]] = []
    ends: dict[str, tuple[int, str]] = {}

    def add(craft_id: str, number: int, kind: str, hash_: str, body: str) -> None:
        ends[craft_id] = (number, hash_)
        rows.append(
            {
                "yard_id": yard_id,
                "position": len(rows),
                "craft_id": craft_id,
                "number": number,
                "kind": kind,
                "hash": hash_,
                "body": body,
            }
        )

    def take_over(craft_id: str, kind: str, said: dict[str, Any]) -> None:
        number, before = ends.get(craft_id, (-1, "0" * 64))
        body = rfc8785.dumps(
            {
                kind: {key: value for key, value in said.items() if value not in (None, "", [])},
                "number": number + 1,
                "written_at": now,
                "before": before,
                "taken_over": True,
            }
        )
        add(craft_id, number + 1, kind, sha256(body).hexdigest(), body.decode())

    for row in _read(connection, "layup_entries", yard_id, "craft_id, number"):
        add(row.craft_id, row.number, "entry", row.hash, "")
    for row in _read(connection, "craft", yard_id, "craft_id"):
        take_over(row.craft_id, "craft", _craft(row))
    for row in _read(connection, "stays", yard_id, "craft_id, since_ms"):
        move = {"space": row.space, "berth": row.berth, "by": row.by}
        since = _utc(datetime.fromtimestamp(row.since_ms / 1000, UTC))
        take_over(row.craft_id, "move", {"craft": row.craft_id, "since": since, **move})
    return rows


def _craft(row: Row[Any]) -> dict[str, Any]:
    return {
        "id": row.craft_id,
        "name": row.name,
        "profile": row.profile,
        "fittings": _list(row.fittings),
        "owner": row.owner,
        "hull_number": row.hull_number,
        "arrived": _utc(datetime.fromtimestamp(row.arrived_ms / 1000, UTC)),
        "left": None
        if row.left_ms is None
        else _utc(datetime.fromtimestamp(row.left_ms / 1000, UTC)),
        "measured": _list(row.measured),
        "note": row.note,
    }


def _list(text: str) -> object:
    """A cell that holds a list; whatever somebody else wrote there, as it stands."""
    try:
        return json.loads(text)
    except ValueError:
        return text


def _read(connection: Connection, table: str, yard_id: int, order: str) -> Sequence[Row[Any]]:
    # The names are this module's own.
    query = f"SELECT * FROM {table} WHERE yard_id = :yard ORDER BY {order}"  # noqa: S608
    return connection.execute(sa.text(query), {"yard": yard_id}).all()


def _utc(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")

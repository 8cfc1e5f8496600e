"""What is asked of a week, or of what waits, is found by an index and not by reading the season."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine, event

from monitor.store.migrate import migrate
from monitor.store.store import Store

NOW = datetime(2027, 3, 1, tzinfo=UTC)
WEEK = (NOW - timedelta(days=7), NOW)


@pytest.fixture
def season(tmp_path):
    url = f"sqlite:///{tmp_path}/laidup.db"
    migrate(url)
    opened = Store(url, "kettlemoss")
    yield opened
    opened.close()


def plans(store: Store, asking) -> list[str]:
    """How SQLite goes about each select of a question, in its own words."""
    asked = []

    def note(_connection, cursor, statement, parameters, _context, _many):
        if statement.startswith("SELECT"):
            rows = cursor.connection.execute(f"EXPLAIN QUERY PLAN {statement}", parameters)
            asked.append(" | ".join(row[3] for row in rows))

    event.listen(Engine, "before_cursor_execute", note)
    try:
        with store.snapshot() as tx:
            asking(tx)
    finally:
        event.remove(Engine, "before_cursor_execute", note)
    return asked


@pytest.mark.parametrize(
    ("asking", "by"),
    [
        (lambda tx: tx.outbox.written_between(*WEEK), ["created_ms>? AND created_ms<?"]),
        (lambda tx: tx.outbox.newest_messages(5), ["ix_outbox_yard_id_created_ms"]),
        (lambda tx: tx.alarms.raisings_between(*WEEK), ["at_ms>? AND at_ms<?"]),
        (lambda tx: tx.alarms.acknowledged_by("ines", NOW), ["at_ms=?"]),
        (lambda tx: tx.outbox.channel_trouble(*WEEK), ["outcome=?", "created_ms>?"]),
        (lambda tx: tx.outbox.next_due(), ["outcome=?"]),
        (lambda tx: tx.outbox.count_by_outcome(), ["COVERING INDEX"]),
        (  # the marks are asked first, whether they are to be read again
            lambda tx: tx.alarms.open_alarms(),
            ["SCALAR SUBQUERY", "ix_alarms_yard_id_state"],
        ),
        (lambda tx: tx.alarms.of_craft("k1"), ["ix_alarms_yard_id_craft"]),
        (lambda tx: tx.outbox.messages_to("ines", 5), ["ix_outbox_yard_id_person_created_ms"]),
        (
            lambda tx: tx.standing_history.changes_of_craft("k1", NOW),
            ["ix_standing_changes_yard_id_craft_at_ms"],
        ),
    ],
)
def test_what_is_asked_often_is_found_by_its_index(season, asking, by):
    found = plans(season, asking)
    assert len(found) >= len(by)
    for plan, words in zip(found, by, strict=False):
        assert words in plan

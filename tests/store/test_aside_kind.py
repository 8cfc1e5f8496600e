"""Messages kept aside that are of no use later are known by their kind, not by their words."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import text

from monitor.store.aside import AsideKind, KeptAside
from monitor.store.engine import writing_engine
from monitor.store.migrate import migrate
from monitor.store.store import Store

AT = datetime(2026, 11, 14, 16, 0, tzinfo=UTC)


def test_what_can_never_be_taken_in_is_not_tried_again(tmp_path):
    url = f"sqlite:///{tmp_path}/laidup.db"
    migrate(url)
    store = Store(url, "mill")
    with store.transaction() as tx:
        tx.aside.keep_all(
            [
                KeptAside("a", "no sensor of this yard", b"1", AT),
                KeptAside("b", "whatever the words", b"2", AT, AsideKind.CONTRARY),
                KeptAside("c", "whatever the words", b"3", AT, AsideKind.CUT_SHORT),
                KeptAside("d", "another value for its time, says a sender's text", b"4", AT),
            ]
        )
    with store.snapshot() as tx:
        assert {row.topic for row in tx.aside.oldest_of_use(10)} == {"a", "d"}
    store.close()


def test_a_store_of_an_earlier_program_knows_the_kind_by_the_words_that_stood_for_it(tmp_path):
    url = f"sqlite:///{tmp_path}/laidup.db"
    migrate(url, "0026")
    engine = writing_engine(url)
    with engine.begin() as connection:
        connection.execute(text("INSERT INTO yards (yard_id, key) VALUES (1, 'mill')"))
        for topic, reason in (
            ("a", "no sensor of this yard"),
            ("b", "another value for its time; the first one, 3 Cel, stays"),
            ("c", "only its beginning is kept: one of many; no JSON"),
        ):
            connection.execute(
                text("INSERT INTO aside VALUES (1, :topic, :topic, :reason, x'31', 1, 1, 1)"),
                {"topic": topic, "reason": reason},
            )
    engine.dispose()
    migrate(url)
    store = Store(url, "mill")
    with store.snapshot() as tx:
        assert [row.topic for row in tx.aside.oldest_of_use(10)] == ["a"]
    store.close()


def test_a_loud_topic_hides_no_other(stores):
    store = Store(stores.new_url(), "mill")
    loud = [KeptAside("loud", "why", b"%d" % n, AT + timedelta(minutes=n)) for n in range(1, 50)]
    quiet = [KeptAside("quiet", "why", b"%d" % n, AT - timedelta(minutes=n)) for n in range(2)]
    with store.transaction() as tx:
        tx.aside.keep_all([*quiet, *loud])
    with store.snapshot() as tx:
        rows = tx.aside.newest_by_topic(4)
    assert [(row.topic, row.payload) for row in rows] == [
        ("loud", b"49"),
        ("loud", b"48"),
        ("quiet", b"0"),
        ("quiet", b"1"),
    ]
    store.close()

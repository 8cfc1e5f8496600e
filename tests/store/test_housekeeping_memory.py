"""Which arrivals were seen to is kept for each reader, and of each coming of a craft apart."""

from datetime import UTC, datetime, timedelta

from monitor.store.housekeeping_memory import NotifiedArrival

CAME = datetime(2026, 11, 13, 16, 0, tzinfo=UTC)
TOLD = NotifiedArrival("k2", CAME, "anna")


def test_what_was_told_comes_back_and_telling_it_again_keeps_one(store):
    again = TOLD._replace(came=CAME + timedelta(days=3))
    for _ in range(2):
        with store.transaction() as tx:
            tx.notified_arrivals.put([TOLD, TOLD._replace(person="tom"), again], CAME)
    with store.snapshot() as tx:
        assert tx.notified_arrivals.notified_since(CAME) == {
            TOLD,
            TOLD._replace(person="tom"),
            again,
        }
        assert tx.notified_arrivals.notified_since(CAME + timedelta(hours=1)) == {again}

"""Several writers at once: whatever one reads before it writes stays true until it commits."""

import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from monitor.craft.chain_check import breaks_of
from monitor.store.engine import writing_engine
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.message import Message, MessageKind
from monitor.yard.reading import Channel
from tests.craft.scene import EVE, record, work

NOW = datetime(2026, 11, 14, 16, 0, tzinfo=UTC)
WRITERS = 4
TURNS = 8


def at_once(work: Callable[[int], None]) -> None:
    """Run ``work`` in as many threads as there are writers, and raise what any of them raised."""
    start = threading.Barrier(WRITERS)
    failures: list[Exception] = []

    def turn(worker: int) -> None:
        start.wait()
        try:
            work(worker)
        except Exception as error:  # noqa: BLE001
            failures.append(error)

    threads = [threading.Thread(target=turn, args=(worker,)) for worker in range(WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if failures:
        raise failures[0]


def test_tables_may_be_made_by_several_at_once(url):
    at_once(lambda _: migrate(url))


def test_a_new_file_may_be_opened_by_several_at_once(tmp_path):
    # SQLite turns a new file to its write-ahead log for one alone, and refuses the others without
    # waiting: some 5 of 1,200 openings, so it is tried often.
    for turn in range(60):
        url = f"sqlite:///{tmp_path}/{turn}.db"
        (tmp_path / f"{turn}.db").touch()

        def open_and_write(worker: int, url: str = url) -> None:
            engine = writing_engine(url)
            with engine.begin() as connection:
                connection.exec_driver_sql(f"CREATE TABLE of_{worker} (id INTEGER)")
            engine.dispose()

        at_once(open_and_write)


def test_yards_that_open_at_once_get_ids_of_their_own(url):
    migrate(url)

    def open_and_write(worker: int) -> None:
        mine = Store(url, f"yard-{worker}")
        with mine.transaction() as tx:
            tx.series.series_ids([(f"sensor-{worker}", Channel.TEMPERATURE)])
        mine.close()

    at_once(open_and_write)
    for worker in range(WRITERS):
        again = Store(url, f"yard-{worker}")
        with again.transaction() as tx:
            # The first series of a yard is its first: nobody else's stand in the same yard.
            assert tx.series.series_ids([(f"sensor-{worker}", Channel.TEMPERATURE)]) == {
                (f"sensor-{worker}", Channel.TEMPERATURE): 1
            }
        again.close()


def test_new_series_of_several_writers_get_ids_of_their_own(store):
    def enter(worker: int) -> None:
        for turn in range(TURNS):
            with store.transaction() as tx:
                tx.series.series_ids([(f"{worker}-{turn}", Channel.TEMPERATURE)])

    at_once(enter)
    keys = [(f"{w}-{t}", Channel.TEMPERATURE) for w in range(WRITERS) for t in range(TURNS)]
    with store.transaction() as tx:
        ids = tx.series.series_ids(keys)
    assert len(set(ids.values())) == len(keys)


def test_a_chain_that_several_write_to_holds(store):
    with store.transaction() as tx:
        tx.layup.put_craft([record().craft], EVE)

    def append(worker: int) -> None:
        for turn in range(TURNS):
            with store.transaction() as tx:
                hour = worker * TURNS + turn  # each at a time of its own: no two say the same
                tx.layup.append_entries([work("flushed", hour, id=f"{worker}-{turn}")], EVE)

    at_once(append)
    with store.snapshot() as tx:
        chain = tx.layup.chain.stored_rows(["k1"])["k1"]
    assert len(chain.entries) == WRITERS * TURNS
    assert breaks_of(chain) == ()


def test_a_message_is_claimed_by_one_worker_only(store):
    with store.transaction() as tx:
        tx.outbox.add(
            Message(
                key=str(n),
                person="ines",
                channel="mail",
                address="ines@kettlemoss.example",
                kind=MessageKind.ALARM,
                subject="Frost tonight",
                text="Lift K4's battery out.",
                created_at=NOW,
            )
            for n in range(WRITERS * TURNS)
        )
    claimed: list[str] = []

    def claim(_: int) -> None:
        for _turn in range(TURNS):
            with store.transaction() as tx:
                found = tx.outbox.claim_due(NOW, timedelta(minutes=2), limit=2)
            claimed.extend(one.message.key for one in found)

    at_once(claim)
    assert sorted(claimed, key=int) == [str(n) for n in range(WRITERS * TURNS)]

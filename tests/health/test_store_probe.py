"""The store is asked whether it takes and gives, and nobody who wants to know waits for it."""

import sqlite3
import threading
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import make_url

from monitor.clock import SystemClock
from monitor.errors import StoreReadonlyError
from monitor.health import store_probe
from monitor.health.store_faults import remedy_of_refusal
from monitor.health.store_probe import StoreProbe
from monitor.store.engine import writing_engine
from monitor.store.migrate import migrate
from monitor.store.store import Store
from tests.line.drills.watched import not_writable
from tests.reports import kettlemoss as yard_of


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request, tmp_path):
    """Address of an empty database."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/laidup.db"
    return str(request.getfixturevalue("postgres"))


@pytest.fixture
def store(url, monkeypatch):
    monkeypatch.setattr(store_probe, "WAITS_FOR_LOCK_S", 0.2)
    migrate(url)
    opened = Store(url, "kettlemoss")
    yield opened
    opened.close()


@contextmanager
def locked_by_another(url):
    engine = writing_engine(url)
    with engine.begin():
        yield
    engine.dispose()


def test_a_lock_that_lasts_is_found_and_its_end_too(store, url):
    probe = StoreProbe(store, yard_of.yard(), SystemClock(), agency="met-norway")
    probe.run_once()
    assert probe.latest_answer().refusal is None
    assert probe.latest_answer().seen is not None
    with locked_by_another(url):
        probe.run_once()
        assert probe.latest_answer().refusal is None, "once may be a long transaction of our own"
        probe.run_once()
        refusal = probe.latest_answer().refusal
        assert refusal is not None
        assert "lock" in remedy_of_refusal(refusal)
        assert probe.latest_answer().seen is not None, "what can be read is read"
    probe.run_once()
    assert probe.latest_answer().refusal is None


@contextmanager
def may_only_be_read(url):
    """As whoever looks after the database may set it; a running connection is ended first."""
    if url.startswith("sqlite"):
        with not_writable(Path(make_url(url).database)):
            yield
        return
    address = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(address, autocommit=True) as administrator:
        name = make_url(url).database
        administrator.execute(f"ALTER DATABASE {name} SET default_transaction_read_only = on")
        yield


def test_a_store_that_may_only_be_read_is_found_though_its_lock_can_be_had(store, url):
    store.close()  # connections that were opened before go on to write
    with may_only_be_read(url):
        probe = StoreProbe(store, yard_of.yard(), SystemClock(), None)
        for _ in range(2):
            probe.run_once()
        refusal = probe.latest_answer().refusal
    assert isinstance(refusal, StoreReadonlyError)
    assert "Let laidup's user write" in remedy_of_refusal(refusal)


def test_while_a_question_is_open_it_is_known_for_how_long(store, monkeypatch):
    now_s, asked, answer = [100.0], threading.Event(), threading.Event()

    def hanging(*_):
        asked.set()
        answer.wait(20)

    monkeypatch.setattr(store_probe, "read_store", hanging)
    probe = StoreProbe(store, yard_of.yard(), SystemClock(), None, monotonic=lambda: now_s[0])
    asking = threading.Thread(target=probe.run_once)
    asking.start()
    try:
        assert asked.wait(10)
        now_s[0] += 12.0
        assert probe.latest_answer().silent_s == 12.0
    finally:
        answer.set()
        asking.join()
    assert probe.latest_answer().silent_s == 0.0


def test_a_question_that_fails_in_a_way_not_foreseen_counts_as_open(store, monkeypatch):
    now_s = [0.0]

    def fail(*_):
        raise ZeroDivisionError

    monkeypatch.setattr(store_probe, "read_store", fail)
    probe = StoreProbe(store, yard_of.yard(), SystemClock(), None, monotonic=lambda: now_s[0])
    for _ in range(7):
        with pytest.raises(ZeroDivisionError):
            probe.run_once()
        now_s[0] += 2.0
    assert probe.latest_answer().silent_s == 14.0


def test_asking_writes_nothing(tmp_path):
    url = f"sqlite:///{tmp_path}/laidup.db"
    migrate(url)
    with (
        closing(Store(url, "kettlemoss")) as store,
        closing(sqlite3.connect(tmp_path / "laidup.db")) as other,
    ):
        probe = StoreProbe(store, yard_of.yard(), SystemClock(), None)
        before = other.execute("PRAGMA data_version").fetchone()
        for _ in range(3):
            probe.run_once()
        assert other.execute("PRAGMA data_version").fetchone() == before

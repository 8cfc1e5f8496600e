"""Three roles on a real server: the owner of the tables, the watch, and who only looks."""

import subprocess
from contextlib import closing
from datetime import UTC, datetime, timedelta

import psycopg
import pytest
from sqlalchemy import make_url

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.craft.layup import Act
from monitor.daemon.opening import open_store, take_in_craft
from monitor.errors import StoreError
from monitor.intake.batch import ASIDE_BYTES
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.message import DeliveryOutcome, Receipt
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.delivery.scene import message
from tests.real.need import need
from tests.real.rights import RIGHTS, roles_of, store_with_rights

NIGHT = datetime(2026, 11, 14, 22, tzinfo=UTC)
FORBIDDEN = psycopg.errors.InsufficientPrivilege


@pytest.fixture
def roles(postgres):
    return store_with_rights(postgres)


def yard_on(folder, url):
    folder.mkdir(exist_ok=True)
    config = copied_yard(folder)
    config.write_text(f'{config.read_text()}\n[store]\nurl = "{url}"\n')
    return config


def connected(url):
    address = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    return psycopg.connect(address, autocommit=True)


def tables(connection):
    rows = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
    return sorted(name for (name,) in rows.fetchall())


def test_the_file_runs_as_its_first_lines_say(postgres):
    address = make_url(postgres).set(drivername="postgresql")
    psql = need("psql", "postgresql-client")
    for _ in range(2):
        subprocess.run(
            [psql, address.render_as_string(hide_password=False), "-v", "ON_ERROR_STOP=1", "-q",
             "-f", str(RIGHTS)], check=True, timeout=60,
        )  # fmt: skip


def test_the_daemons_role_does_a_whole_round(roles, tmp_path, capsys):
    config = yard_on(tmp_path / "yard", roles.daemon)
    settings = fill(config, until=NIGHT)
    clock = ReadingsClock(NIGHT)
    with closing(open_store(roles.daemon, settings.yard.id)) as store:
        assert not take_in_craft(settings, store, clock)
        alarms = AlarmRound(store, settings.yard, clock, definitions=settings.definitions)
        assert alarms.run({}).messages >= 0
        with store.transaction() as tx:
            tx.outbox.add([message(person="operator")])
        with store.transaction() as tx:
            (claimed, *_) = tx.outbox.claim_due(NIGHT, timedelta(minutes=5))
            taken = Receipt(outcome=DeliveryOutcome.TAKEN, detail="")
            tx.outbox.settle_attempt(claimed.message.key, NIGHT, taken, None)
            tx.aside.trim_to(ASIDE_BYTES, NIGHT)
    assert laidup("verify", "--config", str(config)) == 0
    assert laidup("layup", "list", "Teal", "--config", str(config)) == 0
    assert str(Act.FOGGED_RUNNING).split("-")[0] in capsys.readouterr().out


def test_not_even_the_daemons_role_rewrites_the_record(roles, tmp_path):
    fill(yard_on(tmp_path / "yard", roles.daemon), until=NIGHT)
    with connected(roles.daemon) as daemon:
        for statement in (
            "UPDATE layup_entries SET body = replace(body, 'operator', 'nobody')",
            "DELETE FROM layup_entries",
            "UPDATE record_links SET hash = ''",
            "DELETE FROM record_links",
            "TRUNCATE record_links",
            "DROP TABLE record_links",
            "UPDATE alembic_version SET version_num = '9999'",
            "CREATE TABLE mine (one int)",
        ):
            with pytest.raises(FORBIDDEN):
                daemon.execute(statement)


def test_the_daemons_role_changes_no_tables_and_says_that_it_may_not(postgres):
    roles = roles_of(postgres)
    with pytest.raises(StoreError, match="permission denied") as refused:
        migrate(roles.daemon)
    assert "only-for-tests" not in str(refused.value)
    migrate(roles.owner)
    migrate(roles.daemon)  # nothing is left to be done, and that needs no right


def test_the_readers_role_writes_nothing_whatever_it_sets(roles, tmp_path):
    fill(yard_on(tmp_path / "yard", roles.daemon), until=NIGHT)
    with connected(roles.administrator) as connection:
        names = tables(connection)
    with connected(roles.reader) as reader:
        with pytest.raises(psycopg.errors.ReadOnlySqlTransaction):
            reader.execute("INSERT INTO yards VALUES (9, 'mine')")
        reader.execute("SET default_transaction_read_only = off")
        assert len(names) > 30
        for name in names:
            for statement in (
                f"INSERT INTO {name} DEFAULT VALUES",
                f"DELETE FROM {name}",
                f"TRUNCATE {name}",
            ):
                with pytest.raises(FORBIDDEN):
                    reader.execute(statement)
        with pytest.raises(FORBIDDEN):
            reader.execute("UPDATE alarms SET state = 'normal'")
        with pytest.raises(FORBIDDEN):
            reader.execute("CREATE TABLE mine (one int)")
        with pytest.raises(FORBIDDEN):
            reader.execute("CREATE TEMPORARY TABLE mine (one int)")


def test_the_readers_role_sees_the_yard_and_nothing_to_answer_with(roles, tmp_path):
    fill(yard_on(tmp_path / "yard", roles.daemon), until=NIGHT)
    with closing(Store(roles.daemon, "kettlemoss")) as store, store.transaction() as tx:
        tx.outbox.add([message(person="operator")])
    with connected(roles.reader) as reader:
        assert reader.execute("SELECT count(*) FROM readings").fetchone()[0] > 1000
        assert reader.execute("SELECT person, kind FROM outbox").fetchall() == [
            ("operator", "alarm")
        ]
        for secret in (
            "SELECT text FROM outbox",
            "SELECT html FROM outbox",
            "SELECT address FROM outbox",
            "SELECT * FROM outbox_attachments",
            "SELECT * FROM answer_links",
            "SELECT payload FROM aside",
        ):
            with pytest.raises(FORBIDDEN):
                reader.execute(secret)


def test_the_readers_role_cannot_hold_up_the_watch(roles):
    with connected(roles.reader) as reader:
        locks = reader.execute(
            "SELECT oid::regprocedure::text FROM pg_proc"
            " WHERE proname LIKE 'pg%advisory%lock%' AND proname NOT LIKE '%unlock%'"
        ).fetchall()
        assert len(locks) > 10
        for (lock,) in locks:
            name, _, kinds = lock.partition("(")
            given = ", ".join(f"1::{kind}" for kind in kinds.rstrip(")").split(","))
            with pytest.raises(FORBIDDEN):
                reader.execute(f"SELECT {name}({given})")
        with pytest.raises(FORBIDDEN), reader.transaction():
            reader.execute("LOCK TABLE readings IN EXCLUSIVE MODE")
    with closing(Store(roles.daemon, "kettlemoss", busy_s=1.0)) as store:
        store.try_writing()


def test_a_person_who_may_only_look_uses_the_same_commands(roles, tmp_path, capsys):
    fill(yard_on(tmp_path / "yard", roles.daemon), until=NIGHT)
    at = ("--config", str(yard_on(tmp_path / "looking", roles.reader)))
    assert laidup("assess", "--json", "--at", NIGHT.isoformat(), *at) == 0
    assert '"Long Shed"' in capsys.readouterr().out
    assert laidup("layup", "list", "Teal", *at) == 0
    assert laidup("verify", *at) == 0
    acted = ("--act", "cover-fitted", "--at", "now", "--by", "operator")
    assert laidup("layup", "add", "Teal", *acted, *at) == 1
    assert "permission denied" in capsys.readouterr().err


def test_others_may_not_even_enter(roles):
    with connected(roles.administrator) as connection:
        connection.execute("DROP ROLE IF EXISTS passer_by")
        connection.execute("CREATE ROLE passer_by LOGIN PASSWORD 'only-for-tests'")
    try:
        url = make_url(roles.reader).set(username="passer_by")
        with pytest.raises(psycopg.OperationalError, match="permission denied for database"):
            connected(url.render_as_string(hide_password=False))
    finally:
        with connected(roles.administrator) as connection:
            connection.execute("DROP ROLE passer_by")

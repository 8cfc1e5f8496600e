"""A yard keeps the session under which its messages wait, whatever the default has become."""

from sqlalchemy import text

from monitor.daemon.opening import with_earlier_session
from monitor.intake.broker import BrokerSettings
from monitor.store.engine import writing_engine
from monitor.store.migrate import migrate
from monitor.store.store import Store

NEW = BrokerSettings(client_id="laidup-kettlemoss", is_client_id_given=False)


def session_of(url, broker, yard="kettlemoss"):
    store = Store(url, yard)
    try:
        return with_earlier_session(broker, store).client_id
    finally:
        store.close()


def migrated_with_a_yard_of_before(url):
    """As a store stands that was last used before sessions had names of their own."""
    migrate(url, "0022")
    engine = writing_engine(url)
    with engine.begin() as connection:
        connection.execute(text("INSERT INTO yards (yard_id, key) VALUES (0, 'kettlemoss')"))
    engine.dispose()
    migrate(url)


def test_a_new_yard_has_a_session_of_its_own(url):
    migrate(url)
    assert session_of(url, NEW) == "laidup-kettlemoss"
    assert session_of(url, NEW) == "laidup-kettlemoss", "over a restart too"


def test_a_yard_that_is_older_keeps_the_session_that_its_messages_wait_in(url):
    migrated_with_a_yard_of_before(url)
    assert session_of(url, NEW) == "laidup"
    other = BrokerSettings(client_id="laidup-oakmere", is_client_id_given=False)
    assert session_of(url, other, "oakmere") == "laidup-oakmere"


def test_a_session_that_the_file_names_is_taken_as_it_is(url):
    migrated_with_a_yard_of_before(url)
    assert session_of(url, BrokerSettings(client_id="barn")) == "barn"

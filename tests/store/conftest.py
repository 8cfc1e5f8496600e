"""A store with its tables, once in SQLite and once in PostgreSQL, for every test of the store."""

from collections.abc import Iterator

import pytest

from monitor.store.store import Store
from tests.real.stores import StoreMaker


@pytest.fixture
def url(request: pytest.FixtureRequest, stores: StoreMaker) -> str:
    """Address of an empty database; of the store's own, where a test has ``store`` too."""
    return stores.new_url() if "store" in request.fixturenames else stores.empty_url()


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    """The store of one yard in it."""
    opened = Store(url, "kettlemoss")
    yield opened
    opened.close()

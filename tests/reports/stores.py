"""The yard of kettlemoss.py, filled and empty, for tests of reports and of the page."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.store.store import Store
from tests.reports import kettlemoss


@pytest.fixture
def empty_store(tmp_path: Path) -> Iterator[Store]:
    """A store in a file, with its tables and nothing in them."""
    store = kettlemoss.open_store(tmp_path)
    yield store
    store.close()


@pytest.fixture
def store(empty_store: Store) -> Store:
    """The store on the eve of the first hard night."""
    kettlemoss.fill(empty_store)
    return empty_store

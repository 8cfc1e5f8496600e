"""A store with its tables, once in SQLite and once in PostgreSQL, for every test of the store."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.store.migrate import migrate
from monitor.store.store import Store


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request, tmp_path: Path) -> str:
    """Address of an empty database."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/laidup.db"
    return str(request.getfixturevalue("postgres"))


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    """The store of one yard in it."""
    migrate(url)
    opened = Store(url, "kettlemoss")
    yield opened
    opened.close()

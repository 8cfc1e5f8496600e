"""Stores with their tables in place, on both databases: copied of one that is made once a run.

To migrate an empty database takes half a second of each test; to copy one a tenth. A test that does
not ask for a database has a file; ``STORES=postgresql`` runs all of those on a server instead.
"""

import itertools
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import psycopg
import pytest
from sqlalchemy import URL

from monitor.store.migrate import migrate

KINDS = ("sqlite", "postgresql")
_TEMPLATE = "laidup_template"
_servers: list["StoreMaker"] = []  # in which scenes make their stores; else in files


class StoreMaker:
    """Makes as many stores as a test asks for, in one kind of database."""

    kind: str

    def new_url(self) -> str:
        """Address of a store that nobody has written to, its tables in place."""
        raise NotImplementedError

    def empty_url(self) -> str:
        """Address of a database without any table."""
        raise NotImplementedError

    def close(self) -> None:
        """Drop what was made, where it would stay."""


class _Files(StoreMaker):
    kind = "sqlite"

    def __init__(self, template: Path, folder: Path) -> None:
        self._template, self._folder = template, folder
        self._numbers = itertools.count()

    def _new_file(self) -> Path:
        file = self._folder / f"store-{next(self._numbers)}" / "laidup.db"
        file.parent.mkdir()
        return file

    def new_url(self) -> str:
        file = self._new_file()
        shutil.copyfile(self._template, file)
        file.chmod(0o600)
        return f"sqlite:///{file}"

    def empty_url(self) -> str:
        return f"sqlite:///{self._new_file()}"


class _Databases(StoreMaker):
    kind = "postgresql"
    _numbers = itertools.count()

    def __init__(self, cluster: URL) -> None:
        self._cluster = cluster
        self._made: list[str] = []
        address = cluster.set(drivername="postgresql").render_as_string(hide_password=False)
        self._connection = psycopg.connect(address, autocommit=True)

    def new_url(self) -> str:
        return self._made_of(_TEMPLATE)

    def empty_url(self) -> str:
        return self._made_of("template0")

    def _made_of(self, template: str) -> str:
        name = f"made_{next(self._numbers)}"
        self._connection.execute(f"CREATE DATABASE {name} TEMPLATE {template} ENCODING 'UTF8'")
        self._made.append(name)
        return self._cluster.set(database=name).render_as_string(hide_password=False)

    def close(self) -> None:
        for name in self._made:
            self._connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
        self._connection.close()


@pytest.fixture(scope="session")
def _file_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("template") / "laidup.db"
    migrate(f"sqlite:///{file}")
    assert not file.with_name("laidup.db-wal").exists(), "the file alone is the whole store"
    return file


@pytest.fixture(scope="session")
def _database_template(postgres_cluster: URL) -> URL:
    address = postgres_cluster.set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {_TEMPLATE} TEMPLATE template0 ENCODING 'UTF8'")
    migrate(postgres_cluster.set(database=_TEMPLATE).render_as_string(hide_password=False))
    return postgres_cluster


def _maker(request: pytest.FixtureRequest, folders: pytest.TempPathFactory) -> StoreMaker:
    if request.param == "sqlite":
        return _Files(request.getfixturevalue("_file_template"), folders.mktemp("stores"))
    return _Databases(request.getfixturevalue("_database_template"))


@pytest.fixture(params=KINDS)
def stores(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[StoreMaker]:
    """Makes stores for this test, once in SQLite and once in PostgreSQL."""
    maker = _maker(request, tmp_path_factory)
    yield maker
    maker.close()


@pytest.fixture(params=KINDS, scope="module")
def module_stores(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[StoreMaker]:
    """Makes stores for a whole module of tests, once in SQLite and once in PostgreSQL."""
    maker = _maker(request, tmp_path_factory)
    yield maker
    maker.close()


@cache
def _fresh_file() -> bytes:
    """A store's file as the migrations leave it, made once."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "laidup.db"
        migrate(f"sqlite:///{file}")
        assert not file.with_name("laidup.db-wal").exists(), "the file alone is the whole store"
        return file.read_bytes()


def scenes_are_on_server() -> bool:
    """Whether scenes make their stores in PostgreSQL now."""
    return bool(_servers)


def scene_url(folder: Path) -> str:
    """Address of a new store, its tables in place, for a scene that keeps its files in a folder."""
    if _servers:
        return _servers[-1].new_url()
    file = folder / "laidup.db"
    file.write_bytes(_fresh_file())
    file.chmod(0o600)
    return f"sqlite:///{file}"


@pytest.fixture(autouse=True)
def _scenes_on_chosen_database(request: pytest.FixtureRequest) -> Iterator[None]:
    if os.environ.get("STORES", "sqlite") != "postgresql":
        yield
        return
    with _scenes_on_server(request):
        yield


@contextmanager
def _scenes_on_server(request: pytest.FixtureRequest) -> Iterator[None]:
    server = _Databases(request.getfixturevalue("_database_template"))
    _servers.append(server)
    try:
        yield
    finally:
        _servers.pop()
        server.close()


@pytest.fixture(params=KINDS)
def scenes_on_both(request: pytest.FixtureRequest) -> Iterator[None]:
    """The scenes of this test, once in a file and once in PostgreSQL."""
    if request.param == "sqlite":
        yield
        return
    with _scenes_on_server(request):
        yield


@pytest.fixture
def scenes_in_files() -> Iterator[None]:
    """The scenes of this test in files, whatever the run asks for: it looks into the file."""
    servers = list(_servers)
    _servers.clear()
    yield
    _servers.extend(servers)


@pytest.fixture
def store_url(stores: StoreMaker) -> str:
    """Address of a store of this test alone, its tables in place."""
    return stores.new_url()

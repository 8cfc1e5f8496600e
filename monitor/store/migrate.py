"""Brings a database's tables to this program's revision. The only importer of alembic."""

import os
from contextlib import suppress
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.util import CommandError

from monitor.errors import StoreError
from monitor.store.engine import as_store_errors, shown, writing_engine
from monitor.store.store_file import file_of


def migrate(url: str, to: str = "head") -> None:
    """Bring the tables up to date, or an empty database to an earlier revision.

    An up-to-date database is left alone. All steps stand in one transaction: a step that fails
    leaves the database as it was.

    Raises
    ------
    StoreError
        If the database does not answer, or was written by a newer laidup.
    """
    _make_private_file(url)
    engine = writing_engine(url)
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    try:
        with as_store_errors(url, "cannot be opened"), engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, to)
    except CommandError as error:
        raise StoreError(
            f"{shown(url)}: its tables were written by a newer laidup ({error}); update this one"
        ) from error
    finally:
        engine.dispose()


def _make_private_file(url: str) -> None:
    """Make the file of a new store such that its user alone reads it; what is there is left so.

    People's addresses stand in it, and the links by which they answer. SQLite gives the files that
    it makes beside it the same mode.
    """
    file = file_of(url)
    if file is None or not file.parent.is_dir():
        return
    with suppress(OSError):  # SQLite itself says what is in the way
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600))

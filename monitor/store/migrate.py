"""Brings a database's tables to this program's revision. The only importer of alembic."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.util import CommandError

from monitor.errors import StoreError
from monitor.store.engine import as_store_errors, shown, writing_engine


def migrate(url: str) -> None:
    """Bring the tables up to date; an up-to-date database is left alone.

    All steps stand in one transaction: a step that fails leaves the database as it was.

    Raises
    ------
    StoreError
        If the database does not answer, or was written by a newer laidup.
    """
    engine = writing_engine(url)
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    try:
        with as_store_errors(url, "cannot be opened"), engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    except CommandError as error:
        raise StoreError(
            f"{shown(url)}: its tables were written by a newer laidup ({error}); update this one"
        ) from error
    finally:
        engine.dispose()

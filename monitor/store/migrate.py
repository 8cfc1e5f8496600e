"""Brings a database's tables to this program's revision. The only importer of alembic."""

from pathlib import Path

from alembic import command
from alembic.config import Config

from monitor.store.engine import writing_engine


def migrate(url: str) -> None:
    """Bring the tables up to date; an up-to-date database is left alone.

    All steps stand in one transaction: a step that fails leaves the database as it was.
    """
    engine = writing_engine(url)
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    try:
        with engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    finally:
        engine.dispose()

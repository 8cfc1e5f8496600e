"""Craft files that the record holds all of: their digest, and where the record ended then.

Whoever only looks need not check thousands of craft again that stand as they were taken in. A
digest is of the files' bytes, worked out anew by whoever asks, and spares that check alone: what
the store holds of a craft is never believed for it.
"""

from pathlib import Path

from sqlalchemy import Connection, delete, select

from monitor.craft.links import LinkKind
from monitor.store.chain_rows import MOST
from monitor.store.engine import as_store_errors, parse_address, reading_engine
from monitor.store.statements import put_in_place
from monitor.store.tables import record_links, taken_files, yards


class TakenFiles:
    """The craft files of one yard, as they were last taken in whole."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def keep_digest(self, digest: str, position: int) -> None:
        """Keep that the record up to a position holds all that files of this digest say.

        Parameters
        ----------
        digest : str
            Empty: nothing is known of the files as they stand now.
        position : int
            Number of links that the record had then.
        """
        if not digest:
            own = taken_files.c.yard_id == self._yard_id
            self._connection.execute(delete(taken_files).where(own))
            return
        row = {"yard_id": self._yard_id, "digest": digest, "position": position}
        self._connection.execute(put_in_place(taken_files), row)

    def kept_digest(self) -> str:
        """Digest of the files that were last taken in whole; empty where none is kept."""
        own = taken_files.c.yard_id == self._yard_id
        return str(self._connection.scalar(select(taken_files.c.digest).where(own)) or "")

    def craft_to_read(self, digest: str) -> frozenset[str] | None:
        """Ids of craft that somebody has changed since files of this digest were taken in.

        Of all others the record holds what the files say, for it only grows. None: of no craft is
        that known.
        """
        kept = self._connection.execute(
            select(taken_files.c.digest, taken_files.c.position).where(
                taken_files.c.yard_id == self._yard_id
            )
        ).one_or_none()
        if not digest or kept is None or kept.digest != digest:
            return None
        changed = self._connection.scalars(
            select(record_links.c.craft_id)
            .where(
                record_links.c.yard_id == self._yard_id,
                record_links.c.position >= kept.position,
                record_links.c.position <= MOST,
                record_links.c.kind == LinkKind.CRAFT,
            )
            .distinct()
        )
        return frozenset(one for one in changed if isinstance(one, str))


def craft_to_read(url: str, yard: str, digest: str) -> frozenset[str] | None:
    """The same of a store that may not be there yet, or be of an earlier revision.

    Raises
    ------
    StoreError
        If there is a store, and it does not answer.
    """
    parsed = parse_address(url)
    if parsed.get_backend_name() == "sqlite" and not Path(parsed.database or "").exists():
        return None  # to ask SQLite would make the file
    engine = reading_engine(url)
    try:
        with as_store_errors(url, "cannot be opened"), engine.connect() as connection:
            if not engine.dialect.has_table(connection, taken_files.name):
                return None
            yard_id = connection.scalar(select(yards.c.yard_id).where(yards.c.key == yard))
            return (
                None if yard_id is None else TakenFiles(connection, yard_id).craft_to_read(digest)
            )
    finally:
        engine.dispose()

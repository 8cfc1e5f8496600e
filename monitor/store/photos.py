"""Photos of work: JPEGs by the digest of their bytes, and which entries name them.

They stand in the store itself, so that a copy of it has them, a commit keeps photo and entry
together, and both databases are served alike.
"""

from collections.abc import Collection, Iterable, Iterator
from datetime import datetime, timedelta
from hashlib import sha256

from sqlalchemy import ColumnElement, Connection, delete, insert, select, update

from monitor.clock import to_ms
from monitor.store.statements import in_batches
from monitor.store.tables import photos

# As long as an entry may wait in a phone: a photo of it may have come before.
KEPT_UNNAMED_FOR = timedelta(days=15)


class Photos:
    """The photos of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def keep_photo(self, name: str, content: bytes, craft: str, by: str, now: datetime) -> None:
        """Keep a photo; one that is kept already stays as it is.

        It is on record once an entry names it; one that no entry has named for two weeks goes.

        Parameters
        ----------
        name : str
            SHA-256 of its bytes, in hexadecimal.
        content : bytes
            A JPEG.
        craft, by : str
            On whose bench it was sent, and by whom.
        now : datetime
        """
        if self.kept_names([name]):
            return
        self._connection.execute(
            delete(photos).where(
                photos.c.yard_id == self._yard_id,
                photos.c.on_record == 0,
                photos.c.kept_ms < to_ms(now - KEPT_UNNAMED_FOR),
            )
        )
        self._connection.execute(
            insert(photos).values(
                yard_id=self._yard_id,
                sha256=name,
                kept_ms=to_ms(now),
                by=by,
                craft=craft,
                on_record=0,
                content=content,
            )
        )

    def kept_names(self, names: Iterable[str]) -> set[str]:
        """Those of some photos that are kept."""
        found: set[str] = set()
        for some in in_batches(sorted(set(names))):
            rows = self._connection.scalars(select(photos.c.sha256).where(*self._named(some)))
            found.update(rows)
        return found

    def sent_to(self, name: str, craft: str) -> bool:
        """Whether a photo that no entry names yet was sent on the bench of a craft."""
        asked = select(photos.c.sha256).where(
            *self._named([name]), photos.c.on_record == 0, photos.c.craft == craft
        )
        return self._connection.scalar(asked) is not None

    def content_of(self, name: str) -> bytes | None:
        """A photo's bytes; None where it is not kept."""
        found = self._connection.scalar(select(photos.c.content).where(*self._named([name])))
        return None if found is None else bytes(found)

    def put_on_record(self, names: Collection[str]) -> None:
        """Note that entries name these photos, so that they stay."""
        for some in in_batches(sorted(names)):
            self._connection.execute(update(photos).where(*self._named(some)).values(on_record=1))

    def damaged_photos(self, names: Iterable[str]) -> Iterator[tuple[str, str]]:
        """Those of some photos that are not what was kept: name, and ``missing`` or ``changed``."""
        for name in sorted(set(names)):
            content = self.content_of(name)
            if content is None:
                yield name, "missing"
            elif sha256(content).hexdigest() != name:
                yield name, "changed"

    def _named(self, names: Collection[str]) -> tuple[ColumnElement[bool], ...]:
        return photos.c.yard_id == self._yard_id, photos.c.sha256.in_(names)

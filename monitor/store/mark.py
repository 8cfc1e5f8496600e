"""The mark that a yard's store was begun: an empty one in its place is a loss, no first start.

It lies beside the yard's own file and not beside the store: where a disk is not mounted, the folder
that it should hang in is empty too.
"""

import logging
from datetime import datetime
from pathlib import Path

from monitor.errors import StoreError
from monitor.store.engine import shown
from monitor.store.store import Store
from monitor.store.store_file import REVISION, revision_of

log = logging.getLogger("laidup.store")


class StoreMark:
    """The mark of one yard's file."""

    def __init__(self, yard_file: Path) -> None:
        """Name the mark of a yard's file; it may not be there."""
        self.path = yard_file.resolve().with_suffix(".store-begun")

    def refuse_another(self, url: str, yard: str) -> None:
        """Raise where there is no store of this yard, though there has been one.

        Raises
        ------
        StoreError
            With the way to have the old store back, and the way to begin another.
        """
        if not self.path.exists() or _holds(url, yard):
            return
        raise StoreError(
            f"{shown(url)}: it holds nothing of {yard}, though laidup has kept a store for this"
            f" yard ({self.path} says since when). Put the store's disk or file back, or correct"
            " [store] url and [yard] id; to begin an empty one, without the craft, work and"
            " readings of before, start `laidup run --new-store` once"
        )

    def set(self, url: str, yard: str, at: datetime) -> None:
        """Say that the yard's store is there, where it is not said yet."""
        if self.path.exists():
            return
        text = (
            f"laidup keeps everything of the yard {yard} in {shown(url)} since {at:%Y-%m-%d}.\n"
            "While this file is here, laidup begins no empty store in its place unless it is told\n"
            "to: laidup run --new-store\n"
        )
        try:
            self.path.write_text(text, encoding="utf-8")
        except OSError as error:
            log.warning(
                "%s cannot be written (%s): were the store lost, an empty one would take its place"
                " unnoticed. Let this user write there.",
                self.path,
                error.strerror,
            )

    def lift(self) -> None:
        """Forget the store that was: another is wanted."""
        self.path.unlink(missing_ok=True)


def _holds(url: str, yard: str) -> bool:
    """Whether a store has this yard in it; one of another revision is taken to."""
    found = revision_of(url)
    if found != REVISION:
        return found is not None
    store = Store(url, yard, only_looking=True)
    try:
        return store.knows_yard
    finally:
        store.close()

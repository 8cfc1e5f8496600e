"""Is the record in the store what was written? Every craft's chain, and the heads that left."""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.craft.breaks import Break, Tampering, break_of
from monitor.craft.chain_check import breaks_of
from monitor.craft.links import YARD_CHAIN
from monitor.craft.merkle import RecordHead, head_of
from monitor.store.outbox_reports import Left
from monitor.store.statements import in_batches
from monitor.store.transaction import Transaction
from monitor.store.yard_breaks import breaks_of_yard

_PHOTO_REMEDY = (
    "Take it from a backup: `laidup export photos` there, `laidup import photos` here; what the"
    " entry says counts as before."
)
_AT_ONCE = 100  # craft, between two looks at the time


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What a check of the record found."""

    craft: int
    checked: int  # fewer than ``craft`` where there was no time for all
    links: int
    head: RecordHead | None  # over all links now
    left: Left | None  # the newest head that a message took out of the house
    breaks: tuple[Break, ...]
    taken_over: int  # links of moves and craft rows that were there before their tables had any
    taken_over_at: datetime | None

    @property
    def whole(self) -> bool:
        """Whether nothing was found, known before or not."""
        return not self.breaks

    @property
    def every_chain_holds(self) -> bool:
        """Whether the chains of all craft were checked, none left for want of time, and hold."""
        return self.whole and self.checked == self.craft


def verify_record(
    tx: Transaction, kept: Sequence[RecordHead] = (), within: timedelta | None = None
) -> Verified:
    """Check every craft's chain, the yard's list of links, and every head that was written.

    Parameters
    ----------
    tx : Transaction
        A snapshot; nothing is written.
    kept : sequence of RecordHead
        Heads that people kept, out of mails.
    within : timedelta, optional
        Stop looking at further craft after so long.
    """
    until = None if within is None else time.monotonic() + within.total_seconds()
    chain = tx.layup.chain
    places = chain.links_since()
    found = breaks_of_yard(tx, places, kept)
    of_yard = len(found)
    ids = chain.craft_ids()
    looked_at: list[str] = []
    for some in in_batches(ids, _AT_ONCE):
        if until is not None and time.monotonic() > until:
            break
        stored = chain.stored_rows(some)
        for craft_id in some:
            found.extend(breaks_of(stored[craft_id]))
        looked_at.extend(some)
    yard_breaks, of_craft = found[:of_yard], found[of_yard:]
    named = {(one.craft, one.part) for one in of_craft}
    found = [*(one for one in yard_breaks if (one.craft, one.part) not in named), *of_craft]
    head = head_of(one.hash for one in places)
    taken_over, taken_over_at = chain.taken_over()
    # The yard's days have a chain too, and are no craft.
    craft, checked = (len(some) - (YARD_CHAIN in some) for some in (ids, looked_at))
    return Verified(
        craft=craft,
        checked=checked,
        links=len(places),
        head=head if head.count else None,
        left=tx.outbox.newest_head(),
        taken_over=taken_over,
        taken_over_at=taken_over_at,
        # What concerns one craft is named before what concerns the list as a whole.
        breaks=tuple(sorted(found, key=lambda one: not one.craft)),
    )


def verify_photos(tx: Transaction) -> list[Break]:
    """Photos that entries name and that are not, or no more, what was kept.

    It reads all of them. A photo proves nothing by itself, so no circuit is judged otherwise.
    """
    named = {
        name: entry
        for entries in tx.layup.all_entries().values()
        for entry in entries
        for name in entry.evidence.photo_sha256
    }
    return [
        break_of(
            named[name].craft,
            f"photo {name[:12]} of entry {named[name].id}",
            Tampering.DELETED if what == "missing" else Tampering.CHANGED,
            "is not in the store" if what == "missing" else "is not what was kept",
            remedy=_PHOTO_REMEDY,
        )
        for name, what in tx.photos.damaged_photos(named)
    ]

"""Is the record in the store what was written? Every craft's chain, and the heads that left."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.craft.breaks import Break, Tampering, part_of_yard
from monitor.craft.chain_check import breaks_of
from monitor.craft.merkle import RecordHead, head_of, roots_at
from monitor.errors import QuantityError
from monitor.store.link_order import LinkPlace, craft_that_may_have_lost
from monitor.store.outbox_reports import Left
from monitor.store.statements import in_batches
from monitor.store.store import Transaction
from monitor.wording import listed, listed_first

_AT_ONCE = 100  # craft, between two looks at the time
_NAMED = 4  # craft in one sentence
_ENTER_AGAIN = "Look for it in a backup of the store and in the mails since, and enter it again."


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
    found = _breaks_of_yard(tx, places, kept)
    of_yard = len(found)
    ids = chain.craft_ids()
    checked = 0
    for some in in_batches(ids, _AT_ONCE):
        if until is not None and time.monotonic() > until:
            break
        stored = chain.stored_rows(some)
        for craft_id in some:
            found.extend(breaks_of(stored[craft_id]))
        checked += len(some)
    yard_breaks, of_craft = found[:of_yard], found[of_yard:]
    named = {(one.craft, one.part) for one in of_craft}
    found = [*(one for one in yard_breaks if (one.craft, one.part) not in named), *of_craft]
    head = head_of(one.hash for one in places)
    taken_over, taken_over_at = chain.taken_over()
    return Verified(
        craft=len(ids),
        checked=checked,
        links=len(places),
        head=head if head.count else None,
        left=tx.outbox.newest_head(),
        taken_over=taken_over,
        taken_over_at=taken_over_at,
        # What concerns one craft is named before what concerns the list as a whole.
        breaks=tuple(sorted(found, key=lambda one: not one.craft)),
    )


def words_of_yard_breaks(tx: Transaction) -> str:
    """Where the yard's list of links was cut or rewritten, in words; empty where it was not.

    Costs one pass over all links, and looks at no craft's own chain.
    """
    found = _breaks_of_yard(tx, tx.layup.chain.links_since(), ())
    more = f"; and {len(found) - 1} more" if len(found) > 1 else ""
    return f"{found[0].words}{more}" if found else ""


def _breaks_of_yard(
    tx: Transaction, places: Sequence[LinkPlace], kept: Sequence[RecordHead]
) -> list[Break]:
    return [*_lost_yards(tx), *_gaps(places), *_unfit_heads(tx, places, kept)]


def _lost_yards(tx: Transaction) -> Iterator[Break]:
    """Records that no yard of this database is named for: whoever asks for one finds it empty."""
    lost = tx.layup.chain.links_of_no_yard()
    if lost:
        yield Break(
            craft="",
            part="yards",
            what=Tampering.DELETED,
            words=f"The store holds {lost} links of a yard that its list of yards names no more",
            remedy=(
                "Stop laidup and put the store back from a backup that has the yard; keep this one,"
                " and compare the work since."
            ),
        )


def _gaps(places: Sequence[LinkPlace]) -> Iterator[Break]:
    """Links that are missing from the yard's order of writing."""
    expected = 0
    before: LinkPlace | None = None
    for one in places:
        if one.position != expected:
            several = one.position - expected > 1
            behind = f" behind one of craft {before.craft}" if before is not None else ""
            losers = craft_that_may_have_lost(places, expected)
            yield Break(
                craft=losers[0] if len(losers) == 1 and not several else "",
                part=part_of_yard(expected),
                what=Tampering.DELETED,
                words=f"In the yard's order of writing {one.position - expected} link"
                f"{'s are' if several else ' is'} missing{behind}, before one of craft {one.craft}"
                f"{_lost_by(losers)}",
                remedy=_ENTER_AGAIN,
                number=expected,
            )
        expected, before = one.position + 1, one


def _lost_by(craft: Sequence[str]) -> str:
    if not craft:
        return ""
    if len(craft) <= _NAMED:
        return f": it was of craft {listed(list(craft), 'or')}"
    return f": it was of one of {len(craft)} craft, the last of its chain"


def _unfit_heads(
    tx: Transaction, places: Sequence[LinkPlace], kept: Sequence[RecordHead]
) -> Iterator[Break]:
    """Heads that the record does not fit: of those in the outbox only the first."""
    written: list[tuple[RecordHead, str]] = []
    for text, at in tx.outbox.heads_sent():
        try:
            written.append((RecordHead.parse(text), f"a message was written on {_day(at)}"))
        except QuantityError:
            yield Break(
                craft="",
                part="outbox",
                what=Tampering.CHANGED,
                words=f"A message of {_day(at)} carries {text!r}, which is no head of a record",
                remedy="Look at that message where it was received.",
            )
    asked = [*written, *((one, "somebody kept it") for one in kept)]
    roots = roots_at((one.hash for one in places), (head.count for head, _ in asked))
    fits = 0  # so many links are as they were by an older head
    in_outbox = set(written)
    told = False
    for head, when in sorted(asked, key=lambda each: each[0].count):
        root = roots.get(head.count)
        if root is not None and root.startswith(head.root):
            fits = head.count
        elif not told or (head, when) not in in_outbox:
            told = True
            yield _unfit(head, when, places, fits)


def _unfit(head: RecordHead, when: str, places: Sequence[LinkPlace], fits: int) -> Break:
    part = f"head {head.short}"
    if head.count > len(places):
        gone = head.count - len(places)
        return Break(
            craft="",
            part=part,
            what=Tampering.CUT,
            words=f"The record had {head.count} links when {when}, and has {len(places)} now: the"
            f" newest {gone} of then {'is' if gone == 1 else 'are'} gone",
            remedy=f"{_ENTER_AGAIN} If an older backup was put back, that is why.",
            number=len(places),
        )
    among = list(dict.fromkeys(one.craft for one in places[fits : head.count]))
    return Break(
        craft="",
        part=part,
        what=Tampering.REWRITTEN,
        words=f"Of the first {head.count} links, as they were when {when}, one or more behind the"
        f" first {fits} are others now; they are of craft {listed_first(among, _NAMED)}",
        remedy="Compare these craft with a backup of the store, with the mails and with the paper;"
        " or the head is of another yard.",
        number=fits,
    )


def _day(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"

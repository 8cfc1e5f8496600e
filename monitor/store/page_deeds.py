"""What was done about access to the page: who signed in, who gave a key to whom, from where."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import Connection, delete, func, insert, select

from monitor.clock import from_ms, to_ms
from monitor.store.tables import page_deeds

_LONGEST = 200  # letters of who, about and address: a caller may have written them


class DeedKind(StrEnum):
    """What somebody did."""

    SIGNED_IN = "signed in"
    REFUSED = "was refused"  # a wrong password
    ASKED_FOR_LINK = "asked for a link"
    SENT_LINK = "sent a link"
    SET_PASSWORD = "set the password"  # noqa: S105 - no password
    SIGNED_OUT = "signed out"
    SIGNED_OUT_EVERYWHERE = "signed out everywhere"
    MADE_KEY = "made a key"
    MADE_LINK = "made a link"
    WITHDREW = "withdrew"
    LOST_ACCESS = "lost access"  # by leaving the yard's file, or as an owner there


@dataclass(frozen=True, slots=True, kw_only=True)
class PageDeed:
    """One thing that was done, once."""

    at: datetime
    who: str
    kind: DeedKind
    about: str = ""
    address: str = ""  # whence; empty: at the machine's own command line


class PageDeeds:
    """The list of deeds of one yard; it only grows, until its oldest are forgotten."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def add(self, deed: PageDeed) -> None:
        """Write one down."""
        last = self._connection.scalar(
            select(func.max(page_deeds.c.number)).where(page_deeds.c.yard_id == self._yard_id)
        )
        self._connection.execute(
            insert(page_deeds).values(
                yard_id=self._yard_id,
                number=(last or 0) + 1,
                at_ms=to_ms(deed.at),
                who=deed.who[:_LONGEST],
                deed=str(deed.kind),
                about=deed.about[:_LONGEST],
                address=deed.address[:_LONGEST],
            )
        )

    def latest_deeds(self, most: int) -> list[PageDeed]:
        """The latest deeds, the latest first."""
        rows = self._connection.execute(
            select(page_deeds)
            .where(page_deeds.c.yard_id == self._yard_id)
            .order_by(page_deeds.c.number.desc())
            .limit(most)
        )
        return [
            PageDeed(
                at=from_ms(row.at_ms),
                who=row.who,
                kind=DeedKind(row.deed),
                about=row.about,
                address=row.address,
            )
            for row in rows
        ]

    def has_signed_in_from(self, person: str, address: str) -> bool:
        """Whether a person has been signed in from an address, as far back as is kept.

        Whoever comes back under the id of somebody who left has never been anywhere.
        """
        left = self._connection.scalar(
            select(func.max(page_deeds.c.number)).where(
                page_deeds.c.yard_id == self._yard_id,
                page_deeds.c.who == person[:_LONGEST],
                page_deeds.c.deed == str(DeedKind.LOST_ACCESS),
            )
        )
        found = self._connection.scalar(
            select(page_deeds.c.number)
            .where(
                page_deeds.c.number > (left or 0),
                page_deeds.c.yard_id == self._yard_id,
                page_deeds.c.who == person[:_LONGEST],
                page_deeds.c.address == address[:_LONGEST],
                # Setting a password by a link signs in as well.
                page_deeds.c.deed.in_([str(DeedKind.SIGNED_IN), str(DeedKind.SET_PASSWORD)]),
            )
            .limit(1)
        )
        return found is not None

    def prune_deeds(self, before: datetime, refused_before: datetime) -> None:
        """Forget what was done before a time; of refusals what was before another one."""
        mine = page_deeds.c.yard_id == self._yard_id
        self._connection.execute(delete(page_deeds).where(mine, page_deeds.c.at_ms < to_ms(before)))
        self._connection.execute(
            delete(page_deeds).where(
                mine,
                page_deeds.c.deed == str(DeedKind.REFUSED),
                page_deeds.c.at_ms < to_ms(refused_before),
            )
        )

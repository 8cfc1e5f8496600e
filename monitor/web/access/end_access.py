"""What ends by itself: access of whoever leaves the yard's file, and what has run out.

Both are final. Whoever is put back into the file, by mistake or as somebody else under the same
id, needs a new invitation; and a clock that is set back revives no link, key or session that was
seen past its end. What was done stays in the list of deeds for longer.
"""

from datetime import datetime, timedelta

from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.store.page_grants import Grant, GrantKind
from monitor.store.store import Transaction
from monitor.web.access.sessions import ENDS_AFTER, ENDS_IDLE_AFTER
from monitor.yard.space import Role, Yard

DEEDS_FOR = timedelta(days=400)  # who signed in and gave what to whom: a winter and its spring
REFUSALS_FOR = timedelta(days=30)
ENDED_GRANTS_FOR = timedelta(days=90)  # what was taken back or ran out, in the list of what is


def end_access_of_leavers(tx: Transaction, yard: Yard, now: datetime) -> int:
    """End all by which people get in who stand in the yard's file no more.

    Password, sessions, links to set a password and links to answer an alarm go; an owner's links
    are taken back, those of who is no owner any more as well, and so are the keys that a leaver
    made: whoever makes a key has read it. Links that they made for others stay.

    Returns
    -------
    int
        How many people it ended anything of.
    """
    here = {one.id for one in yard.people}
    owners = {one.id for one in yard.people if Role.OWNER in one.roles}
    left = tx.sign_ins.known_people() - here
    open_grants = [one for one in tx.page_grants.all_grants() if one.withdrawn_at is None]
    gone = {one.person for one in open_grants if one.person and one.person not in owners}
    gone |= left | (tx.answer_links.people_with_links() - here)
    for person in sorted(gone):
        ended = [one for one in open_grants if _ends_with(one, person, made_keys=person in left)]
        for grant in ended:
            tx.page_grants.withdraw_grant(grant.id, now)
        if person not in here:
            tx.sign_ins.forget_person(person)
            tx.answer_links.forget_person(person)
        why = "owner no more" if person in here else "left the yard's file"
        about = ", ".join([why, *(one.id for one in ended)])
        tx.page_deeds.add(PageDeed(at=now, who=person, kind=DeedKind.LOST_ACCESS, about=about))
    return len(gone)


def _ends_with(grant: Grant, person: str, *, made_keys: bool) -> bool:
    """Whether a key or link ends with a person's access."""
    if grant.person == person:
        return True
    return made_keys and grant.kind is GrantKind.KEY and grant.made_by == person


def end_expired_access(tx: Transaction, now: datetime) -> None:
    """End for good the sessions, links and keys whose time is over."""
    tx.sign_ins.prune_invitations(now)
    tx.sign_ins.prune_sessions(now - ENDS_AFTER, now - ENDS_IDLE_AFTER)
    tx.page_grants.end_expired(now)


def prune_access(tx: Transaction, now: datetime) -> None:
    """End what has run out, and forget what ended long ago; each night."""
    end_expired_access(tx, now)
    tx.page_grants.prune_ended(now - ENDED_GRANTS_FOR)
    tx.page_deeds.prune_deeds(now - DEEDS_FOR, now - REFUSALS_FOR)

"""What ends by itself: access of whoever leaves the yard's file, and what has run out.

Both are final. Whoever is put back into the file, by mistake or as somebody else under the same
id, needs a new invitation; and a clock that is set back revives no link, key or session that was
seen past its end. What was done stays in the list of deeds for longer.
"""

from dataclasses import replace
from datetime import datetime, timedelta

from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.store.page_grants import Grant, GrantKind
from monitor.store.store import Transaction
from monitor.web.access.keys_and_links import withdraw_grant
from monitor.web.access.sessions import ENDS_AFTER, ENDS_IDLE_AFTER
from monitor.yard.space import Person, Role, Yard

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


def end_access_of_former_owner(
    tx: Transaction, craft: str, owner: str, now: datetime, by: str
) -> None:
    """End what a craft's former owner had of it, once it is another's.

    Their own link shows the craft no more by itself, for it goes by who owns what. Links by which
    others look at this one craft were given out for the former owner, and are taken back. No letter
    tells the former owner that it is safe or not: a thread that told of nothing else ends in
    silence.
    """
    for grant in tx.page_grants.all_grants():
        if grant.craft == craft and grant.withdrawn_at is None:
            withdraw_grant(tx, grant.id, now, by)
    changed = []
    for thread in tx.conversations.open_threads():
        if not (thread.owner and thread.person == owner and thread.tells_of(craft)):
            continue
        told = {
            danger: one
            for danger, one in thread.told.items()
            if danger != craft and one.about != craft
        }
        safe = tuple(one for one in thread.safe if one.craft != craft)
        closed_at = thread.closed_at if told else now
        changed.append(replace(thread, told=told, safe=safe, closed_at=closed_at))
    tx.conversations.put(changed)


def end_access_by_old_address(tx: Transaction, person: Person, now: datetime) -> None:
    """End what a person was sent to a mail address that is theirs no more.

    Whoever reads the old mailbox may be somebody else, as where a craft was sold and the new owner
    was written over the old one: an owner's links end, and links to set a password. Of who is an
    owner and nothing else the password and all sessions end too; they set a new one by the new
    address. The yard's own people keep theirs, for they are known at the yard.
    """
    ended = [
        one.id
        for one in tx.page_grants.all_grants()
        if one.person == person.id and one.withdrawn_at is None
    ]
    for grant in ended:
        tx.page_grants.withdraw_grant(grant, now)
    if person.roles <= {Role.OWNER}:
        tx.sign_ins.forget_person(person.id)
    else:
        tx.sign_ins.end_invitations_of(person.id)
    about = ", ".join(["another mail address", *ended])
    tx.page_deeds.add(PageDeed(at=now, who=person.id, kind=DeedKind.LOST_ACCESS, about=about))


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

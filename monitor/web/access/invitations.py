"""The link by which one person sets a password, once: made, sent by mail, used up."""

from datetime import datetime, timedelta

from monitor.errors import ActError
from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.store.page_grants import CLOCK_STEP
from monitor.store.sign_ins import Invitation, KeptPassword
from monitor.store.store import Transaction
from monitor.web.access.sessions import begin_session, digest_of_secret, is_secret, new_secret
from monitor.wording import Wording
from monitor.yard.message import Message, MessageKind
from monitor.yard.space import Person, Yard

GOOD_FOR = timedelta(days=3)  # one that an operator sends: it may wait over a weekend
ASKED_GOOD_FOR = timedelta(hours=1)  # one that somebody asks for at the page, and waits for
PASSWORD_PATH = "/password/"  # noqa: S105 - a path


def invite_person(
    tx: Transaction,
    person: str,
    now: datetime,
    by: str,
    *,
    good_for: timedelta = GOOD_FOR,
    address: str = "",
) -> tuple[str, Invitation]:
    """A new link for one person; its secret.

    Where an operator sends it, earlier ones open nothing any more: they may have gone astray. What
    somebody asks for at the page ends none, for anybody may ask in the person's name.
    """
    secret = new_secret()
    asked = by == person and bool(address)
    if not asked:
        tx.sign_ins.end_invitations_of(person)
    invitation = Invitation(
        digest=digest_of_secret(secret), person=person, made_at=now, expires_at=now + good_for
    )
    tx.sign_ins.add_invitation(invitation)
    kind = DeedKind.ASKED_FOR_LINK if asked else DeedKind.SENT_LINK
    tx.page_deeds.add(PageDeed(at=now, who=by, kind=kind, about=person, address=address))
    return secret, invitation


def find_invitation(tx: Transaction, secret: str, now: datetime) -> Invitation | None:
    """The link that a secret is of, if it can still be used."""
    if not is_secret(secret):
        return None
    found = tx.sign_ins.find_invitation(digest_of_secret(secret))
    if found is None or found.used_at is not None:
        return None
    return found if found.made_at - CLOCK_STEP <= now < found.expires_at else None


def has_run_out(tx: Transaction, secret: str, now: datetime) -> bool:
    """Whether a secret is of a link that has run out and is still kept."""
    found = tx.sign_ins.find_invitation(digest_of_secret(secret)) if is_secret(secret) else None
    return found is not None and now >= found.expires_at


def set_password_by_link(
    tx: Transaction, secret: str, password_hash: str, now: datetime, address: str
) -> tuple[str, str]:
    """Use a link up: keep the password, end every session of the person, begin a new one.

    Returns
    -------
    tuple of str
        The person's id, and the id of the new session.

    Raises
    ------
    ActError
        If the link cannot be used, or somebody used it a moment before.
    """
    found = find_invitation(tx, secret, now)
    if found is None or not tx.sign_ins.use_invitation(found.digest, now):
        raise ActError("this link was used already, or has run out; ask for another one")
    return found.person, change_password(tx, found.person, password_hash, now, address)


def change_password(
    tx: Transaction, person: str, password_hash: str, now: datetime, address: str
) -> str:
    """Keep a new password; end the person's open links, and every session but a new one."""
    tx.sign_ins.put_password(person, KeptPassword(password_hash, now))
    tx.sign_ins.end_invitations_of(person)
    tx.sign_ins.end_sessions_of(person)
    tx.page_deeds.add(PageDeed(at=now, who=person, kind=DeedKind.SET_PASSWORD, address=address))
    return begin_session(tx, person, now, address)


def invitation_message(
    yard: Yard, person: Person, link: str, invitation: Invitation, wording: Wording
) -> Message:
    """The mail with the link."""
    until = wording.clock(invitation.expires_at)
    text = (
        f"{person.name},\n\n"
        f"with this link you set your own password for the page of {yard.name}:\n\n"
        f"{link}\n\n"
        f"It works once, until {until}. Whoever has this mail can use it: pass it to nobody.\n"
        "If you did not ask for it, delete this mail; nothing changes then.\n"
    )
    return Message(
        key=f"sign-in/{invitation.digest[:32]}",
        person=person.id,
        channel="mail",
        address=person.mail,
        kind=MessageKind.SIGN_IN,
        subject=f"Your password for the page of {yard.name}",
        text=text,
        created_at=invitation.made_at,
    )

"""What one person gets on one channel."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

TEXT_SIGNS = 160  # of a phone's text in the basic code (3GPP TS 23.040)
_TEXT = "text-"


def is_text_channel(channel: str) -> bool:
    """Whether a channel's messages are texts on a phone: short, and to the person's number."""
    return channel.startswith(_TEXT)


class MessageKind(StrEnum):
    """Why a message was written."""

    ALARM = "alarm"
    UPDATE = "update"
    ALL_CLEAR = "all clear"
    NOTICE = "notice"  # one line: who has taken what on
    REPORT = "report"
    TEST = "test"
    SIGN_IN = "sign-in"  # the link by which somebody sets a password


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A file that goes with a message."""

    filename: str
    media_type: str
    content: bytes
    content_id: str = ""  # set for a picture shown inside the HTML


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message for one person on one channel, as it waits in the outbox.

    ``key`` makes it unique: adding the same key twice adds nothing, so a restart between two
    steps cannot double a message. ``thread`` joins the messages of one topic.
    """

    key: str
    person: str
    channel: str  # "mail", ...
    address: str
    kind: MessageKind
    subject: str
    text: str
    created_at: datetime
    html: str = ""
    thread: str = ""
    attachments: tuple[Attachment, ...] = ()
    # Head of the lay-up record when it was put into the outbox, like 214-9f86…; empty: no record.
    record_head: str = ""
    signed_head: str = ""  # that head in the yard's own word, canonical JSON; empty: unsigned
    language: str = "en"  # of its sentences; code of BCP 47
    alarms: tuple[str, ...] = ()  # ids of those that it tells of by name
    role: str = ""  # as whom its reader is told of them: operator, mechanic or owner; else empty


GIVEN_UP = "given up after "  # begins the detail of the last try, where no more is made


class DeliveryOutcome(StrEnum):
    """How one attempt to hand a message over ended."""

    TAKEN = "taken"  # the channel confirmed
    PUT_OFF = "put off"  # a later try may succeed
    REFUSED = "refused"  # no later try can succeed


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What a channel answered to one attempt."""

    outcome: DeliveryOutcome
    detail: str  # the channel's own words, or the error
    # The far side works and asked to come again in some minutes, as it asks of every stranger.
    asks_to_wait: bool = False

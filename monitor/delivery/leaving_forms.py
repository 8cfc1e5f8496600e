"""A message as it leaves: a mail (RFC 5322, MIME), the same bytes for server and file; a text."""

import hashlib
import html
import json
import re
import unicodedata
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP, EmailPolicy
from email.utils import format_datetime, parseaddr

from monitor.craft.merkle import RecordHead
from monitor.errors import DeliveryError
from monitor.yard.message import TEXT_SIGNS, Attachment, Message, MessageKind

RECORD_HEAD = "Laidup-Record-Head"  # header that carries the whole head
SIGNED_HEAD = "Laidup-Signed-Head"  # header with the yard's signature over it
_ON_ONE_LINE = SMTP.clone(max_line_length=998)  # as long as RFC 5322 allows
_REPLIES = frozenset({MessageKind.UPDATE, MessageKind.NOTICE, MessageKind.ALL_CLEAR})
# What a text of 160 signs may hold: the basic set of 3GPP TS 23.038. One sign beside it, a true
# minus or a degree, makes the network send all of it in another code, 70 signs a part.
_BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
_INSTEAD = {"\N{MINUS SIGN}": "-", "–": "-", "—": "-", "‘": "'", "’": "'", "“": '"', "”": '"',
            "…": "...", "°": "", "·": ",", "\N{NO-BREAK SPACE}": " ", "×": "x"}  # fmt: skip


class _MailPolicy(EmailPolicy):
    """The usual one, but for the subject and the signed head: each stands on one line.

    Where a line breaks between two words outside ASCII, the library loses the space between them;
    JSON without spaces it would encode.
    """

    def fold_binary(self, name: str, value: str) -> bytes:
        if name in {"Subject", SIGNED_HEAD}:
            return _ON_ONE_LINE.fold_binary(name, value)
        return super().fold_binary(name, value)


_POLICY = _MailPolicy(linesep=SMTP.linesep)


def as_mail(message: Message, sender: str, reply_to: str = "") -> EmailMessage:
    """Write a message as a mail.

    Parameters
    ----------
    message : Message
    sender : str
        ``alarms@yard.example`` or ``Kettlemoss Yard <alarms@yard.example>``.
    reply_to : str, optional
        Address that answers go to; empty: the sender's.

    Returns
    -------
    EmailMessage
        Plain text, HTML with its pictures, attachments. The Message-ID follows from the
        message's key, so a mail that had to be sent twice is the same mail; those of one thread
        refer to its first.

    Raises
    ------
    DeliveryError
        Permanent, if an address is none: no later try can succeed.
    """
    from_address = address_of(sender)
    mail = EmailMessage(policy=_POLICY)
    mail["From"] = from_address
    mail["To"] = address_of(message.address)
    if reply_to:
        mail["Reply-To"] = address_of(reply_to)
    mail["Subject"] = one_line(message.subject)
    mail["Date"] = format_datetime(message.created_at)
    first = _message_id(message.thread or message.key, from_address.domain)
    if message.kind in _REPLIES and message.thread:
        mail["Message-ID"] = _message_id(message.key, from_address.domain)
        mail["In-Reply-To"] = first
        mail["References"] = first
    else:
        mail["Message-ID"] = first
    # RFC 3834: asks out-of-office programs not to answer a machine.
    mail["Auto-Submitted"] = "auto-generated"
    if message.record_head:
        mail[RECORD_HEAD] = one_line(message.record_head)
    if message.signed_head:
        mail[SIGNED_HEAD] = one_line(message.signed_head)
    mail.set_content(_body_text(message.text + _head_line(message)))
    if message.html:
        mail.add_alternative(_body_text(_html_with_head(message)), subtype="html")
        shown = mail.get_body(("html",))
        for picture in message.attachments:
            if picture.content_id and isinstance(shown, EmailMessage):
                main, sub = _mime_type(picture)
                shown.add_related(
                    picture.content,
                    main,
                    sub,
                    cid=f"<{one_line(picture.content_id)}>",
                    filename=one_line(picture.filename),
                    disposition="inline",
                )
    for attachment in message.attachments:
        if not attachment.content_id:
            main, sub = _mime_type(attachment)
            mail.add_attachment(
                attachment.content, main, sub, filename=one_line(attachment.filename)
            )
    return mail


def _head_line(message: Message) -> str:
    """Foot of a mail's text: by it a reader can tell whether the record was changed since.

    Its last line is the head; where that is signed, the key's fingerprint stands before it.
    """
    if not message.record_head:
        return ""
    head = RecordHead.parse(message.record_head).short
    ends = "" if message.text.endswith("\n") else "\n"
    from monitor.phrases.owner_languages import catalogue_of

    words = catalogue_of(message.language)
    said = words.record_line.format(head=head)
    if key := _fingerprint(message.signed_head):
        said = f"{words.key_line.format(key=key)}\n{said}"
    return f"{ends}\n{said}\n"


def _fingerprint(signed_head: str) -> str:
    """Of the key that signed a head; empty where none did."""
    # Loaded only where a message leaves: every command reads a yard's channels, and few keys.
    from monitor.craft.signing_key import fingerprint_of

    try:
        return fingerprint_of(json.loads(signed_head)["public_key"])
    except (ValueError, KeyError, TypeError):
        return ""


def _html_with_head(message: Message) -> str:
    line = _head_line(message).strip()
    if not line:
        return message.html
    style = "color:#5c6467;font-size:12px;margin:12px 18px"
    told = html.escape(line).replace("\n", "<br>")
    small = f'<p class="quiet" style="{style}">{told}</p>'
    before, end, after = message.html.rpartition("</body>")
    return f"{before}{small}{end}{after}" if end else f"{message.html}{small}"


def address_of(text: str) -> Address:
    """Read exactly one mail address, with or without a name before it.

    Raises
    ------
    DeliveryError
        Permanent, if the text is not one address: two, none, or one with a line break in it.
    """
    name, spec = parseaddr(text)
    try:
        address = Address(display_name=one_line(name), addr_spec=spec)
    except (ValueError, IndexError, MessageError) as error:
        raise DeliveryError("mail", f"{text!r} is no mail address", permanent=True) from error
    forged = any(unicodedata.category(char).startswith("C") for char in text)
    if forged or not address.username or not address.domain or text.count("@") != 1:
        raise DeliveryError("mail", f"{text!r} is no mail address", permanent=True)
    return address


def one_line(text: str) -> str:
    """Text that can stand in a header: whatever could end its line becomes a space."""
    return " ".join(
        "".join(" " if unicodedata.category(char) in _ENDERS else char for char in text).split()
    )


_ENDERS = {"Cc", "Cs", "Zl", "Zp"}


def _body_text(text: str) -> str:
    """Text that can stand in a body: line breaks and tabs stay, other controls go."""
    return _UNFIT.sub("", text)


# Unicode's categories Cc, but for tab and line feed, and Cs: half of a pair that is no character.
_UNFIT = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


def _message_id(key: str, domain: str) -> str:
    digest = hashlib.sha256(key.encode()).hexdigest()[:32]
    return f"<{digest}@{domain}>"


def _mime_type(attachment: Attachment) -> tuple[str, str]:
    main, _, sub = attachment.media_type.partition("/")
    return (main, sub) if main and sub else ("application", "octet-stream")


def text_of(message: Message) -> str:
    """What leaves for a phone: the message's text where it fits, else its subject line, cut.

    Parameters
    ----------
    message : Message
        A letter to a ``text-`` channel holds its short form already; a notice may be longer.

    Returns
    -------
    str
        One line of at most 160 signs of the basic set.
    """
    whole = _one_plain_line(message.text)
    if len(whole) <= TEXT_SIGNS:
        return whole
    subject = _one_plain_line(message.subject)
    return subject if len(subject) <= TEXT_SIGNS else f"{subject[: TEXT_SIGNS - 3]}..."


def _one_plain_line(text: str) -> str:
    return " ".join("".join(map(_plain_sign, text)).split())


def _plain_sign(sign: str) -> str:
    """A sign of the basic set: itself, what stands for it, its letter without marks, or ``?``."""
    if sign in _BASIC:
        return sign
    if sign in _INSTEAD:
        return _INSTEAD[sign]
    bare = "".join(each for each in unicodedata.normalize("NFKD", sign) if each in _BASIC)
    return bare or (" " if sign.isspace() or not sign.isprintable() else "?")

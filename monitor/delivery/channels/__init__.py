"""The channels by which a message leaves; this table is the documentation of what there is.

A new channel is one module with its settings and ``send(message) -> Receipt``, and one line here.
One whose name begins with ``text-`` gets what fits a phone's text, at the person's number.
"""

from collections.abc import Mapping

from monitor.delivery.channels.channel import ChannelKind, DeliveryChannel
from monitor.delivery.channels.folder import FolderChannel, FolderSettings
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.delivery.channels.text_command import TEXT_COMMAND
from monitor.delivery.channels.text_mail import TEXT_MAIL
from monitor.delivery.channels.text_post import TEXT_POST
from monitor.delivery.channels.webhook import WEBHOOK

__all__ = ["CHANNEL_KINDS", "DeliveryChannel", "channels", "mail_channel"]

CHANNEL_KINDS: tuple[ChannelKind, ...] = (WEBHOOK, TEXT_MAIL, TEXT_POST, TEXT_COMMAND)


def mail_channel(
    mail: MailSettings | None, folder: FolderSettings | None
) -> DeliveryChannel | None:
    """The channel that mails leave by.

    A folder stands in for the mail server: it takes the same messages, as files.
    """
    if mail is not None:
        from monitor.delivery.channels.mail import MailChannel

        return MailChannel(mail)
    return None if folder is None else FolderChannel(folder)


def channels(
    mail: MailSettings | None,
    folder: FolderSettings | None,
    others: Mapping[str, object] | None = None,
) -> dict[str, DeliveryChannel]:
    """Every configured channel by its name.

    Parameters
    ----------
    mail : MailSettings or None
    folder : FolderSettings or None
    others : mapping of settings by channel's name, optional
        Those of `CHANNEL_KINDS` that the yard has.
    """
    by_mail = mail_channel(mail, folder)
    table = {} if by_mail is None else {"mail": by_mail}
    for kind in CHANNEL_KINDS:
        if others and kind.name in others:
            table[kind.name] = kind.make(others[kind.name], by_mail)
    return table

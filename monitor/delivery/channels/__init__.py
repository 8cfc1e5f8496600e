"""The channels by which a message leaves; this table is the documentation of what there is.

A new channel is one module with its settings and ``send(message) -> Receipt``, and one line here.
"""

from monitor.delivery.channels.channel import DeliveryChannel
from monitor.delivery.channels.folder import FolderChannel, FolderSettings
from monitor.delivery.channels.mail import MailChannel, MailSettings
from monitor.delivery.channels.webhook import WebhookChannel, WebhookSettings

__all__ = ["DeliveryChannel", "channels"]


def channels(
    mail: MailSettings | None,
    folder: FolderSettings | None,
    webhook: WebhookSettings | None = None,
) -> dict[str, DeliveryChannel]:
    """Every configured channel by its name.

    A folder stands in for the mail server: it takes the same messages, as files.
    """
    table: dict[str, DeliveryChannel] = {}
    if folder is not None:
        table["mail"] = FolderChannel(folder)
    if mail is not None:
        table["mail"] = MailChannel(mail)
    if webhook is not None:
        table["webhook"] = WebhookChannel(webhook)
    return table

"""Texts to phones by a carrier's mail-to-text gateway: a mail to the number at its domain."""

from dataclasses import dataclass, replace

from monitor.delivery.channels.channel import ChannelKind, DeliveryChannel
from monitor.errors import BadValueError, DeliveryError
from monitor.yard.message import DeliveryOutcome, Message, Receipt

_NUMBER = "{number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TextMailSettings:
    """Where a gateway takes mails: ``{number}@text.example``, the number as digits alone."""

    address: str

    def __post_init__(self) -> None:
        if self.address.count(_NUMBER) != 1 or "@" not in self.address:
            raise BadValueError(
                f"{self.address!r} is no gateway's address",
                "write it like {number}@text.example, as the gateway says",
            )


class TextMailChannel:
    """A gateway that makes a text of a mail's body."""

    def __init__(self, settings: TextMailSettings, mail: DeliveryChannel | None) -> None:
        self._settings = settings
        self._mail = mail

    def send(self, message: Message) -> Receipt:
        """Hand one text to the mail server. TAKEN says that the server has it, as with any mail.

        The mail has neither subject nor HTML: gateways send those along, past the 160 signs.
        """
        from monitor.delivery.leaving_forms import text_of

        if self._mail is None:
            return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail="no mail server is configured")
        digits = "".join(sign for sign in message.address if sign.isdigit())
        if not digits:
            return Receipt(
                outcome=DeliveryOutcome.REFUSED, detail=f"{message.address!r} is no number"
            )
        return self._mail.send(
            replace(
                message,
                address=self._settings.address.replace(_NUMBER, digits),
                subject="",
                text=text_of(message),
                html="",
                attachments=(),
                record_head="",
            )
        )


def _try_out(settings: TextMailSettings, mail: DeliveryChannel | None, _yard: str) -> str:
    """Nothing is sent: nobody's phone shall ring for a check."""
    from monitor.delivery.leaving_forms import address_of

    if mail is None:
        raise DeliveryError("text-mail", "it leaves by [mail], and there is none", permanent=False)
    address = settings.address.replace(_NUMBER, "7155550142")
    address_of(address)
    return f"texts leave as mails to addresses like {address}; the line above says how mail fares."


TEXT_MAIL = ChannelKind(
    name="text-mail", settings=TextMailSettings, make=TextMailChannel, try_out=_try_out
)

"""Writes each mail into a folder instead of sending it: the demo, and a yard on trial."""

import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import DeliveryError
from monitor.yard.message import DeliveryOutcome, Message, Receipt


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderSettings:
    """Where the mails go."""

    path: Path
    sender: str = "laidup <laidup@localhost>"
    reply_to: str = ""


class FolderChannel:
    """A folder of ``.eml`` files, which any mail program opens."""

    def __init__(self, settings: FolderSettings) -> None:
        self._settings = settings

    def send(self, message: Message) -> Receipt:
        """Write one mail. The same message again is the same file."""
        from monitor.delivery.leaving_forms import as_mail

        try:
            mail = as_mail(message, self._settings.sender, self._settings.reply_to)
            content = mail.as_bytes()
        except DeliveryError as error:
            return Receipt(outcome=DeliveryOutcome.REFUSED, detail=error.reason)
        path = self._settings.path / file_name(message)
        unfinished = path.with_suffix(".part")
        try:
            self._settings.path.mkdir(parents=True, exist_ok=True)
            with unfinished.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            unfinished.replace(path)  # whole or not there
        except OSError as error:
            return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail=f"{path}: {error.strerror}")
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail=str(path))


def file_name(message: Message) -> str:
    """A name that sorts by time and tells what is inside, and no path."""
    words = re.sub(r"[^A-Za-z0-9]+", "-", f"{message.person} {message.subject}").strip("-")[:60]
    digest = hashlib.sha256(message.key.encode()).hexdigest()[:8]
    return f"{message.created_at:%Y%m%dT%H%M%SZ}-{words}-{digest}.eml"

"""What the yard's PDFs are signed with: its own key and certificate, or one that it has bought.

The own one is a file beside the yard's key, made when it is first needed. Nothing rests on it
alone: each PDF carries its certificate, and the sealed record inside names it. So one that is lost
is made anew, and no copy of it has to be kept.
"""

import logging
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from monitor.craft.pdf_identity import PdfIdentity, name_in
from monitor.errors import BadValueError, ConfigurationError
from monitor.settings.parts import BoughtCertificate
from monitor.settings.record_key import (
    PDF_KEY_FILE,
    key_fault,
    read_key_file,
    write_key_file,
)

log = logging.getLogger(__name__)


def load_pdf_identity(
    folder: Path, yard_name: str, bought: BoughtCertificate | None, now: datetime
) -> PdfIdentity:
    """What to sign with now; the yard's own is made if there is none.

    Parameters
    ----------
    folder : Path
        The yard's own, in which its file is.
    yard_name : str
        Whom an own certificate names.
    bought : BoughtCertificate or None
    now : datetime

    Raises
    ------
    ConfigurationError
        If the file cannot be used: gone, open to others, of another kind, or run out.
    """
    file = folder / PDF_KEY_FILE if bought is None else bought.file
    if bought is None and not file.exists():
        return make_pdf_identity(folder, yard_name, now)
    if not file.exists():
        raise key_fault(
            file,
            "there is no such file, which [pdf_signature] names",
            "Put the file there that the authority gave you, or take the block out.",
        )
    content = read_key_file(file, f"Put {file.name} back.")
    try:
        found = (
            PdfIdentity.from_pem(content)
            if bought is None
            else PdfIdentity.from_pkcs12(content, bought.password)
        )
    except BadValueError as error:
        remedy = (
            f"Delete {file.name}: another is made."
            if bought is None
            else "Name the .p12 or .pfx file with the key in it, and its password in password_file."
        )
        raise key_fault(file, error.problem, remedy) from error
    if not found.is_valid_at(now):
        last = found.certificate.not_valid_after_utc.date()
        raise key_fault(
            file,
            f"its certificate is not valid now (its last day: {last})",
            "Have the authority renew it, or take [pdf_signature] out.",
        )
    return found


def make_pdf_identity(folder: Path, yard_name: str, now: datetime) -> PdfIdentity:
    """Make the yard's own anew, in the place of what there is.

    Raises
    ------
    ConfigurationError
        If it cannot be written.
    """
    made = PdfIdentity.make_new(yard_name, now)
    write_key_file(folder / PDF_KEY_FILE, made.pem)
    return made


def pdf_identity_line(identity: PdfIdentity) -> str:
    """Whose certificate PDFs are signed with, and its fingerprint."""
    by = name_in(identity.certificate.issuer)
    issued = "issued by the yard itself" if identity.is_self_issued else f"issued by {by}"
    return f"PDFs are signed with a certificate {issued}, SHA-256 {identity.sha256}."


class PdfIdentityInUse:
    """What a running process signs PDFs with: as its file stands when it is asked for."""

    def __init__(self, load: Callable[[], PdfIdentity]) -> None:
        """Remember how it is loaded; nothing is read yet."""
        self._load, self._lock, self._said = load, threading.Lock(), ""

    def read_now(self) -> PdfIdentity | None:
        """What there is now; None where it cannot be used, which is logged once."""
        with self._lock:
            try:
                found = self._load()
            except ConfigurationError as error:
                if str(error) != self._said:
                    log.error("PDFs of season records are not signed: %s", error)
                self._said = str(error)
                return None
            self._said = ""
            return found

"""The signature of a season record's PDF (PAdES B-B, ETSI EN 319 142-1), set and checked.

It stands in an update behind what was set, so that tags, PDF/A-3 and the attachment stay byte by
byte. Nothing is asked over a network: no authority, no clock of others.
"""

import logging
import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from importlib.util import find_spec
from io import BytesIO
from typing import Any

from cryptography.hazmat.primitives.serialization import Encoding

from monitor.craft.pdf_identity import PdfIdentity, name_in
from monitor.errors import BadValueError, LaidupError

_WITHOUT = (
    "Until then check the file season-record.json: a reader of PDF saves it from the attachments."
)
NOT_INSTALLED = (
    "pyHanko, which signs PDFs and reads their signatures, is not installed:"
    " `.venv/bin/python -m pip install pyhanko`"
)
ATTACHMENT = "season-record.json"
_FIELD = "Yard"
_FIELD_WORDS = "Signature of the yard"
_REASON = "Season record as the yard sealed it"
_NOT_A_PDF = "It is no PDF that can be read: damaged, or cut off"


class PdfState(StrEnum):
    """What the signature of a PDF's own says of its pages."""

    UNSIGNED = "unsigned"
    INTACT = "intact"  # and of the certificate that is told with it
    CHANGED = "changed"  # bytes under the signature are others
    ADDED_TO = "added to"  # something stands behind the signature


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedPdf:
    """What was found in a PDF: the record inside, and its signature."""

    record: bytes
    state: PdfState
    signer: str = ""  # as the certificate calls them
    certificate_sha256: str = ""


def can_sign() -> bool:
    """Whether what signs is installed."""
    return find_spec("pyhanko") is not None


def sign_pdf(pdf: bytes, identity: PdfIdentity) -> bytes:
    """Sign a whole PDF; nothing may be changed or added behind that.

    Parameters
    ----------
    pdf : bytes
        With no signature in it yet.
    identity : PdfIdentity

    Raises
    ------
    LaidupError
        If what signs is not installed, or cannot sign this.
    """
    if not can_sign():
        raise LaidupError(NOT_INSTALLED)
    # Loaded only where a PDF is signed: it takes half a second.
    from pyhanko.keys import load_certs_from_pemder_data, load_private_key_from_pemder_data
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko.sign import fields, signers
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    chain = b"".join(
        one.public_bytes(Encoding.PEM) for one in (identity.certificate, *identity.above)
    )
    first, *above = load_certs_from_pemder_data(chain)
    known_from: Any = SimpleCertificateStore.from_certs  # without types
    signer = signers.SimpleSigner(
        signing_cert=first,
        signing_key=load_private_key_from_pemder_data(identity.secret_bytes(), passphrase=None),
        cert_registry=known_from(above),
    )
    said = signers.PdfSignatureMetadata(
        field_name=_FIELD,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        name=name_in(identity.certificate.subject) or None,
        reason=_REASON,
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
    )
    place = fields.SigFieldSpec(
        _FIELD,
        readable_field_name=_FIELD_WORDS,  # what a screen reader says
        # PDF/A wants it printable, PDF/UA wants what is not tagged outside of the page.
        invis_sig_settings=fields.InvisSigSettings(box_out_of_bounds=True),
    )
    try:
        writer = IncrementalPdfFileWriter(BytesIO(pdf))
        _set_tab_order(writer)
        signed = signers.PdfSigner(said, signer, new_field_spec=place).sign_pdf(writer)
    except (PdfError, ValueError) as error:
        raise LaidupError(f"The PDF could not be signed: {error}") from error
    return bytes(signed.getbuffer())


def read_signed_pdf(content: bytes) -> SignedPdf:
    """Take the record out of a PDF and check the PDF's own signature; whose it is, is not asked.

    Raises
    ------
    BadValueError
        If it is no PDF, or holds no season record.
    LaidupError
        If what reads it is not installed.
    """
    if not can_sign():
        raise LaidupError(f"{NOT_INSTALLED}. {_WITHOUT}")
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko.pdf_utils.reader import PdfFileReader

    # It logs each object of an update that it cannot explain; here the state says it.
    logging.getLogger("pyhanko").setLevel(logging.CRITICAL)
    # A stranger wrote it: its parts may be of any kind, missing, or in a ring.
    broken = (
        PdfError, ValueError, LookupError, TypeError, AttributeError, RecursionError,
        NotImplementedError, OverflowError,
    )  # fmt: skip
    try:
        reader = PdfFileReader(BytesIO(content))
        records = list(_attached(reader))
    except broken as error:
        raise BadValueError(_NOT_A_PDF) from error
    if len(records) != 1:
        many = "no season record" if not records else f"{len(records)} season records"
        raise BadValueError(f"The PDF holds {many} as an attachment")
    try:
        signatures = list(reader.embedded_signatures)
        if not signatures:
            return SignedPdf(record=records[0], state=PdfState.UNSIGNED)
        return _check_signatures(records[0], signatures)
    except broken:  # what stands in the signature's place is none
        return SignedPdf(record=records[0], state=PdfState.CHANGED)


def _check_signatures(record: bytes, signatures: list[Any]) -> SignedPdf:
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    first = signatures[0]
    certificate = first.signer_cert
    status = validate_pdf_signature(
        first,
        signer_validation_context=ValidationContext(
            trust_roots=[certificate], allow_fetching=False, revocation_mode="soft-fail"
        ),
    )
    if not (status.intact and status.valid):
        state = PdfState.CHANGED
    elif len(signatures) > 1 or status.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        state = PdfState.ADDED_TO
    else:
        state = PdfState.INTACT
    return SignedPdf(
        record=record,
        state=state,
        signer=re.sub(r"\s+", " ", str(certificate.subject.native.get("common_name", ""))),
        certificate_sha256=sha256(certificate.dump()).hexdigest(),
    )


def _attached(reader: Any) -> Iterator[bytes]:  # noqa: ANN401 - the library may not be installed
    if "/Names" not in reader.root or "/EmbeddedFiles" not in reader.root["/Names"]:
        return
    names = list(reader.root["/Names"]["/EmbeddedFiles"]["/Names"])
    for name, found in zip(names[::2], names[1::2], strict=False):
        if str(name) == ATTACHMENT:
            yield bytes(found.get_object()["/EF"]["/F"].data)


def _set_tab_order(writer: Any) -> None:  # noqa: ANN401
    """Have the page that bears the field go by its structure (ISO 14289-1, 7.18.3)."""
    from pyhanko.pdf_utils.generic import NameObject

    page = writer.find_page_for_modification(0)[0].get_object()
    if "/Tabs" not in page:
        page["/Tabs"] = NameObject("/S")

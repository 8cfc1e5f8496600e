"""The PDF of a season record with the yard's signature: set, checked, tampered with, by others."""

import contextlib
import re
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import pypdf
import pytest
from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, Encoding
from cryptography.hazmat.primitives.serialization.pkcs12 import serialize_key_and_certificates
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.pdf_identity import PdfIdentity
from monitor.craft.record_check import check_record
from monitor.errors import BadValueError, ConfigurationError
from monitor.reports.season import pdf_signature
from monitor.reports.season.pdf_signature import PdfState, read_signed_pdf, sign_pdf
from monitor.settings.load import load_settings
from monitor.settings.pdf_key import PDF_KEY_FILE, load_pdf_identity
from monitor.settings.record_key import load_record_key
from tests.commands.yard_files import copied_yard, laidup

NOW = datetime(2026, 11, 20, 12, tzinfo=UTC)
SECRET = "a word for the file"


class Made(NamedTuple):
    folder: Path
    config: Path
    pdf: bytes
    unsigned: bytes
    key: str
    identity: PdfIdentity

    def __repr__(self):  # else each example writes all of the file down
        return "made"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A yard whose record of one craft was made as a PDF, and what is to be known of both."""
    folder = tmp_path_factory.mktemp("yard")
    config = copied_yard(folder)
    laidup("import", "craft", str(folder / "craft.toml"), "--config", str(config))
    file = folder / "heron.pdf"
    said = ("--season", "2026", "--out", str(file), "--config", str(config))
    assert laidup("record", "k8", *said) == 0
    pdf = file.read_bytes()
    # What was set ends where it first says so; the signature stands in an update behind that.
    unsigned = pdf[: pdf.index(b"%%EOF") + len(b"%%EOF")]
    return Made(
        folder=folder, config=config, pdf=pdf, unsigned=unsigned,
        key=load_record_key(folder).public,
        identity=PdfIdentity.from_pem((folder / PDF_KEY_FILE).read_bytes()),
    )  # fmt: skip


def text_of(pdf):
    pages = pypdf.PdfReader(BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_the_signature_stands_behind_what_was_set_and_the_librarys_own_validator_takes_it(made):
    from pyhanko.keys import load_certs_from_pemder_data
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    [found] = PdfFileReader(BytesIO(made.pdf)).embedded_signatures
    roots = load_certs_from_pemder_data(made.identity.certificate.public_bytes(Encoding.PEM))
    status = validate_pdf_signature(found, ValidationContext(trust_roots=list(roots)))
    assert (status.bottom_line, status.coverage.name) == (True, "ENTIRE_FILE")
    assert found.sig_object["/SubFilter"] == "/ETSI.CAdES.detached"
    root = pypdf.PdfReader(BytesIO(made.pdf)).trailer["/Root"]
    assert (root["/MarkInfo"]["/Marked"], root["/Lang"]) == (True, "en")
    assert b"pdfaid:part" in root["/Metadata"].get_object().get_data()
    page = pypdf.PdfReader(BytesIO(made.pdf)).pages[0]
    field = page["/Annots"][0].get_object()
    # PDF/A-3: printable; PDF/UA-1: outside of the page, with a name, pages by their structure.
    assert (field["/F"] & 4, field["/TU"], page["/Tabs"]) == (4, "Signature of the yard", "/S")
    assert field["/Rect"][0] < 0
    text = text_of(made.pdf)
    assert "signer or the issuer is unknown" in text
    assert made.identity.sha256[:16] in text
    assert made.identity.sha256 in read_signed_pdf(made.pdf).record.decode()
    assert check_record(read_signed_pdf(made.pdf).record).misfits == ()


@settings(max_examples=20, deadline=None)
@given(share=st.floats(0.0, 1.0, exclude_max=True), bit=st.integers(0, 7))
def test_no_byte_that_it_covers_can_be_changed_unseen(made, share, bit):
    value = re.search(rb"<[0-9A-Fa-f]{2000,}>", made.pdf).span()  # the signature's own digits
    covered = len(made.pdf) - (value[1] - value[0])
    at = int(share * covered)
    at += (value[1] - value[0]) * (at >= value[0])
    changed = bytearray(made.pdf)
    changed[at] ^= 1 << bit
    with contextlib.suppress(BadValueError):  # no PDF any more, or no record in it
        assert read_signed_pdf(bytes(changed)).state is not PdfState.INTACT


def added_to(pdf):
    writer = pypdf.PdfWriter(BytesIO(pdf), incremental=True)
    writer.add_metadata({"/Title": "A mild winter"})
    content = BytesIO()
    writer.write(content)
    return content.getvalue()


def test_verify_tells_of_the_pages_what_became_of_them(made, tmp_path, capsys):
    other = PdfIdentity.make_new("Kettlemoss Yard", NOW)
    changed = bytearray(made.pdf)
    changed[len(made.unsigned) // 2] ^= 1
    value = re.search(rb"<[0-9A-Fa-f]{2000,}>", made.pdf).span()
    emptied = b"0" * (value[1] - value[0] - 2)
    cases = {
        "as it came": (made.pdf, 0, "own signature is intact"),
        "taken off": (made.unsigned, 1, "signature was taken off"),
        "by another": (sign_pdf(made.unsigned, other), 1, "another certificate"),
        "added to": (added_to(made.pdf), 1, "Something was added"),
        "changed": (bytes(changed), 1, "DOES NOT HOLD"),
        "cut": (made.pdf[:5000], 1, "no PDF that can be read"),
        "emptied": (
            made.pdf[: value[0] + 1] + emptied + made.pdf[value[1] - 1 :],
            1,
            "The PDF, or its signature, was changed",
        ),
        "moved": (b"\n" + made.pdf, 1, "DOES NOT HOLD"),
    }
    for name, (content, status, words) in cases.items():
        file = tmp_path / f"{name}.pdf"
        file.write_bytes(content)
        capsys.readouterr()
        assert laidup("verify", str(file), "--key", made.key) == status, name
        told = capsys.readouterr()
        assert words in told.out, name
        assert told.err == "", name


def bought(folder, until):
    """A certificate of a made-up authority for the yard, as a file with a password."""
    from cryptography import x509
    from cryptography.hazmat.primitives.hashes import SHA256

    authority = PdfIdentity.make_new("Harbour Authority", NOW)
    yard = PdfIdentity.make_new("Kettlemoss Yard", NOW)
    made = (
        x509.CertificateBuilder()
        .subject_name(yard.certificate.subject)
        .issuer_name(authority.certificate.subject)
        .public_key(yard.certificate.public_key())
        .serial_number(7)
        .not_valid_before(NOW - timedelta(days=9))
        .not_valid_after(until)
        .sign(authority._secret, SHA256())
    )
    content = serialize_key_and_certificates(
        b"yard", yard._secret, made, [authority.certificate],
        BestAvailableEncryption(SECRET.encode()),
    )  # fmt: skip
    file = folder / "yard.p12"
    file.write_bytes(content)
    file.chmod(0o600)
    return file


def test_a_bought_certificate_is_used_and_named_and_refused_with_the_remedy(
    tmp_path, capsys, monkeypatch
):
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))
    bought(tmp_path, until=datetime(9000, 1, 1, tzinfo=UTC))
    block = '\n[pdf_signature]\nfile = "yard.p12"\npassword_env = "P12"\n'
    config.write_text(config.read_text() + block)
    monkeypatch.setenv("P12", SECRET)
    pdf = tmp_path / "k8.pdf"
    ask = ("record", "k8", "--season", "2026", "--out", str(pdf), "--config", str(config))
    assert laidup(*ask) == 0
    assert not (tmp_path / PDF_KEY_FILE).exists()
    assert "Harbour Authority has issued to Kettlemoss Yard" in re.sub(
        r"\s+", " ", text_of(pdf.read_bytes())
    )
    assert read_signed_pdf(pdf.read_bytes()).state is PdfState.INTACT
    folder, mine = tmp_path, load_settings(config).bought_certificate
    (tmp_path / "yard.p12").chmod(0o640)
    with pytest.raises(ConfigurationError, match="chmod 600"):
        load_pdf_identity(folder, "Kettlemoss Yard", mine, NOW)
    bought(tmp_path, until=NOW - timedelta(days=1))
    with pytest.raises(ConfigurationError, match="not valid now"):
        load_pdf_identity(folder, "Kettlemoss Yard", mine, NOW)
    monkeypatch.setenv("P12", "another word")
    capsys.readouterr()
    assert laidup(*ask) == 2
    assert "the password does not open it" in capsys.readouterr().err


def test_without_what_signs_the_record_says_what_is_missing(made, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(pdf_signature, "find_spec", lambda _: None)
    pdf = tmp_path / "k8.pdf"
    ask = ("record", "k8", "--season", "2026", "--out", str(pdf), "--config", str(made.config))
    assert laidup(*ask) == 0
    assert "pip install pyhanko" in capsys.readouterr().err
    assert "bears no signature" in text_of(pdf.read_bytes())
    assert laidup("verify", str(pdf), "--key", made.key) == 1
    said = capsys.readouterr().err
    assert ("pip install pyhanko" in said, "check the file season-record.json" in said) == (
        True, True,
    )  # fmt: skip
    [saved] = pypdf.PdfReader(pdf).attachments["season-record.json"]
    (tmp_path / "season-record.json").write_bytes(saved)
    assert laidup("verify", str(tmp_path / "season-record.json"), "--key", made.key) == 0


def test_a_rotated_key_takes_a_new_certificate_along(made, capsys):
    laidup("key", "--rotate", "--config", str(made.config))
    now = PdfIdentity.from_pem((made.folder / PDF_KEY_FILE).read_bytes())
    assert now.sha256 != made.identity.sha256
    assert (made.folder / PDF_KEY_FILE).stat().st_mode & 0o777 == 0o600
    assert now.sha256 in capsys.readouterr().out

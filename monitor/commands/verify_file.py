"""``laidup verify FILE``: whether a season record is what was sealed, with no store and no yard."""

import argparse
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from monitor.commands.printing import print_json
from monitor.craft.merkle import RecordHead
from monitor.craft.record_check import (
    Misfit,
    MisfitKind,
    RecordCheck,
    check_record,
    read_record,
)
from monitor.craft.signing_key import TrustedKey
from monitor.errors import BadValueError, ConfigurationError, Fault
from monitor.reports.season.pdf_signature import PdfState, SignedPdf, read_signed_pdf

_LISTED = 5  # of what does not fit beside the first
_PDF = b"%PDF"
_HEADER_WITHIN = 1024  # bytes: readers of PDF look for its header so far in
_PAGES_SAID = {
    PdfState.INTACT: "The PDF's own signature is intact: its pages are those that were signed, with"
    " the certificate that the record names.",
    PdfState.UNSIGNED: "The PDF bears no signature of its own, so its pages are not proved: go by"
    " the record inside.",
}
_PAGES_WRONG = {
    PdfState.UNSIGNED: (
        "The PDF's own signature was taken off",
        "Go by the record inside, not by what the pages say. Ask the yard for the file again.",
    ),
    PdfState.CHANGED: (
        "The PDF, or its signature, was changed after it was signed",
        "Its pages may not be those that the yard set. Go by the record inside, or by another"
        " copy.",
    ),
    PdfState.ADDED_TO: (
        "Something was added to the PDF after it was signed",
        "What its pages show may be covered or replaced by that. A note or a signature that a"
        " reader of PDF adds counts too. Ask for the file as it came from the yard.",
    ),
    PdfState.INTACT: (
        "The PDF is signed with another certificate than the record inside names",
        "Somebody else may have set other pages around the yard's record. Go by the record inside.",
    ),
}


def run(arguments: argparse.Namespace) -> int:
    """Check and tell; 0 if it holds, 1 if anything does not fit or nobody vouches for it."""
    heads = [RecordHead.parse(text) for text in arguments.head]
    keys = [_trusted_key(text) for text in arguments.key]
    content, pdf = _content(arguments.file), None
    if _PDF in content[:_HEADER_WITHIN] and not content.startswith(b"{"):
        try:
            pdf = read_signed_pdf(content)
        except BadValueError as error:
            found = RecordCheck(misfits=(_no_record(error),))
        else:
            found = check_record(pdf.record, keys, heads)
            found = replace(found, misfits=(*found.misfits, *_page_misfits(pdf)))
    else:
        found = check_record(content, keys, heads)
    if arguments.json:
        print_json(_as_json(arguments.file, found, pdf))
    else:
        for line in _result_lines(arguments.file, found, heads):
            print(line)
        if pdf is not None and not found.misfits:
            print(_PAGES_SAID[pdf.state])
    return 0 if found.holds else 1


def _no_record(error: BadValueError) -> Misfit:
    meaning = "Nothing can be checked. Ask the yard for the file again."
    return Misfit(MisfitKind.NOT_A_RECORD, "file", str(error), meaning)


def _page_misfits(pdf: SignedPdf) -> Iterator[Misfit]:
    """What of the pages does not fit the record inside, which names who signs them."""
    try:
        named = read_record(pdf.record).get("pdf_certificate")
    except BadValueError:  # the record's own check has said so
        return
    state = pdf.state
    if state is PdfState.UNSIGNED and named is None:
        return
    if state is PdfState.INTACT and named == pdf.certificate_sha256:
        return
    words, meaning = _PAGES_WRONG[state]
    yield Misfit(MisfitKind.PAGES, "signature", words, meaning)


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise ConfigurationError(
            [
                Fault(
                    file=str(file),
                    key="",
                    problem=f"it cannot be read: {error.strerror}",
                    remedy="Name the season record's file, as it came from the yard.",
                )
            ]
        ) from error


def _trusted_key(text: str) -> TrustedKey:
    """A key or fingerprint as it is said, or as the first line of the file of that name has it."""
    file = Path(text)
    if len(text) < 64 and file.is_file():
        text = file.read_text(errors="replace").strip().partition("\n")[0]
    return TrustedKey.from_text(text)


def _result_lines(file: Path, found: RecordCheck, heads: list[RecordHead]) -> Iterator[str]:
    if not found.misfits:
        yield f"{file.name}: the record of craft {found.craft} of yard {found.yard} fits in itself."
        yield f"  {found.links} links of the record and {found.leaves} leaves of days are proven."
        yield f"  It is signed with the key {found.fingerprint}."
        if found.holds:
            yield "It holds: nothing was changed since the yard sealed it."
            for head in heads:
                yield f"  It extends what the yard's record was at {head.short}."
            yield (
                "That proves what was written, in which order. It does not prove that a sensor"
                " was right or in its place."
            )
        else:
            yield (
                "Whether that key is the yard's nobody has said: give --key with what the yard"
                " shows, or --head out of one of its mails."
            )
        return
    first, *rest = found.misfits
    yield f"{file.name}: DOES NOT HOLD. {first.words}."
    yield f"  {first.meaning}"
    if rest:
        yield "Nor does this fit:"
        for one in rest[:_LISTED]:
            yield f"  {one.words}."
        if len(rest) > _LISTED:
            yield f"  And {len(rest) - _LISTED} more."


def _as_json(file: Path, found: RecordCheck, pdf: SignedPdf | None) -> dict[str, Any]:
    return {
        "file": file.name,
        "holds": found.holds,
        "vouched": found.vouched,
        "yard": found.yard or None,
        "craft": found.craft or None,
        "public_key": found.public_key or None,
        "fingerprint": found.fingerprint or None,
        "head": None if found.head is None else str(found.head),
        "links": found.links,
        "leaves": found.leaves,
        "pdf": None if pdf is None else _pdf_json(pdf),
        "misfits": [_misfit_json(one) for one in found.misfits],
    }


def _pdf_json(pdf: SignedPdf) -> dict[str, str | None]:
    return {
        "signature": str(pdf.state),
        "signer": pdf.signer or None,
        "certificate_sha256": pdf.certificate_sha256 or None,
    }


def _misfit_json(one: Misfit) -> dict[str, str]:
    return {
        "kind": str(one.kind),
        "place": one.place,
        "words": one.words,
        "meaning": one.meaning,
    }

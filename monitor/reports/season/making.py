"""Makes a season record's files: the JSON, sealed where the yard's key is at hand, and the PDF."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from monitor.craft.canonical import canonical_bytes
from monitor.craft.pdf_identity import PdfIdentity
from monitor.craft.profile import Profile
from monitor.phrases.owner_words import owner_words_for
from monitor.reports.season.figures import SeasonFigures
from monitor.reports.season.pdf_signature import sign_pdf
from monitor.reports.season.record_sealer import RecordSealer
from monitor.reports.season.season_json import season_json
from monitor.units import VolumeUnit
from monitor.wording import Wording
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard

FORMS = {"pdf": "application/pdf", "json": "application/json"}


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordMaker:
    """Makes the records of one yard; without ``sealer`` they are not sealed, and say so.

    ``pdf_identity`` signs their PDFs; None where nothing can: they say that too.
    """

    yard: Yard
    profiles: Mapping[str, Profile]
    sealer: RecordSealer | None = None
    pdf_identity: PdfIdentity | None = None

    def make_json(self, figures: SeasonFigures) -> bytes:
        """The record for machines, in the bytes of RFC 8785."""
        body = season_json(figures, self.yard)
        if self.pdf_identity is not None:  # who trusts the seal can trust the signature by that
            body["pdf_certificate"] = self.pdf_identity.sha256
        return canonical_bytes(
            body if self.sealer is None else self.sealer.seal_figures(figures, body)
        )

    def make_pdf(
        self,
        figures: SeasonFigures,
        words: Wording,
        paper: str = "",
        attached: bytes | None = None,
    ) -> bytes:
        """The record for people, with that for machines inside.

        Parameters
        ----------
        figures : SeasonFigures
        words : Wording
            Zone, units and language of the reader.
        paper : str, optional
            ``a4`` or ``letter``; empty: by the reader's measures.
        attached : bytes, optional
            The record for machines, where it was made before.
        """
        # The typesetter is loaded only where a page is set.
        from monitor.reports.season.record_pages import record_pages
        from monitor.reports.season.record_pdf import write_record_pdf

        sealed_by = "" if self.sealer is None else self.sealer.public
        pages = record_pages(figures, self.yard, self.profiles, words, sealed_by, self.pdf_identity)
        content = self.make_json(figures) if attached is None else attached
        pdf = write_record_pdf(pages, content, paper or usual_paper(words))
        return pdf if self.pdf_identity is None else sign_pdf(pdf, self.pdf_identity)


def reader_words(yard: Yard, figures: SeasonFigures, person: Person | None) -> Wording:
    """Zone and units of who reads a record; its owner's language, and for all others English.

    Without a present, so that every time has its date: a record is read years later.
    """
    is_owner = person is not None and person.id == figures.craft.owner
    words = (
        owner_words_for(yard, figures.made_at, person)
        if person is not None and is_owner
        else words_for(yard, figures.made_at, person)
    )
    return replace(words, now=Wording().now)


def usual_paper(words: Wording) -> str:
    """The paper that a reader most likely has: Letter where antifreeze is measured in ounces."""
    volume: VolumeUnit = "L" if words.units is None else words.units.volume
    return "letter" if volume == "fl oz" else "a4"


def record_name(body: Mapping[str, Any], ending: str) -> str:
    """Name of a record's file, of letters that every file system takes: ``k8-2026.pdf``."""
    craft = "".join(
        sign if sign.isascii() and sign.isalnum() else "-" for sign in body["craft"]["id"]
    )
    return f"season-{body['season']['year']}-{craft.strip('-') or 'craft'}.{ending}"

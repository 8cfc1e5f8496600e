"""What a printed season record says, part by part, in one reader's units."""

from collections.abc import Mapping

from monitor.craft.pdf_identity import PdfIdentity
from monitor.craft.profile import Profile
from monitor.phrases.names import plain
from monitor.reports.season.figures import SeasonFigures
from monitor.reports.season.night_blocks import air_blocks, night_blocks, short_blocks
from monitor.reports.season.page_blocks import Part, RecordPages, moment_words
from monitor.reports.season.short_words import season_words
from monitor.reports.season.watch_blocks import (
    NOT_PROVED_WORDS,
    check_blocks,
    standing_blocks,
    watch_blocks,
)
from monitor.reports.season.work_blocks import told_blocks, work_blocks
from monitor.wording import Wording
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE
from monitor.yard.people import display_name
from monitor.yard.space import Yard


def record_pages(
    figures: SeasonFigures,
    yard: Yard,
    profiles: Mapping[str, Profile],
    words: Wording,
    sealed_by: str = "",
    pdf_identity: PdfIdentity | None = None,
) -> RecordPages:
    """Put a record's figures into words.

    Parameters
    ----------
    figures : SeasonFigures
    yard : Yard
    profiles : mapping of str to Profile
        The library.
    words : Wording
        Zone and units of whoever reads it; without a present, so that every time has its date.
    sealed_by : str, optional
        The yard's public key; empty: the record inside is not sealed.
    pdf_identity : PdfIdentity or None
        What the PDF will be signed with; None: it will not be.
    """
    craft = figures.craft
    profile = profiles.get(craft.profile)
    since, until = (moment_words(one, words) for one in (figures.since, figures.until))
    stayed = "" if craft.left_at else ", and still here then"
    facts = [
        ("Craft", f"{plain(craft.name)} ({plain(craft.id)})"),
        ("Type", plain(craft.profile if profile is None else profile.name)),
        ("Hull number", plain(craft.hull_number) or "not on record"),
        ("Owner", plain(display_name(yard, craft.owner)) if craft.owner else "not on record"),
        ("In the yard's care", f"{since} to {until}{stayed}"),
        ("Made", f"{moment_words(figures.made_at, words)}, by laidup {plain(figures.program)}"),
        ("Times", f"by the clock of {words.zone}; in the JSON inside, UTC"),
    ]
    parts = [
        Part(title="In short", blocks=list(short_blocks(figures, yard, words))),
        Part(title="Night by night", blocks=list(night_blocks(figures, yard, words))),
        Part(
            title="Where it stood, and the air there", blocks=list(air_blocks(figures, yard, words))
        ),
        Part(title="Work on record", blocks=list(work_blocks(figures, words))),
        Part(title="Alarms, answers and messages", blocks=list(told_blocks(figures, yard, words))),
        Part(title="Damp and battery", blocks=list(standing_blocks(figures, words))),
        Part(title="The watch itself", blocks=list(watch_blocks(figures, yard, words))),
        Part(
            title="What this record does not prove",
            blocks=[NOT_PROVED_WORDS[each] for each in figures.not_proved],
        ),
        Part(title="How to check it", blocks=list(check_blocks(figures, sealed_by, pdf_identity))),
    ]
    return RecordPages(
        title=f"Season record of {plain(craft.name)}, {season_words(figures.season)}",
        yard=plain(yard.name),
        made=figures.made_at,
        facts=facts,
        parts=parts,
        signatures=["For the yard", "Owner, on receiving the craft", "Witness"],
        foot=NOT_LIFE_SAFETY_NOTE,
    )

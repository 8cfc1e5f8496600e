"""What a printed season record says, part by part, in one reader's units and language."""

from collections.abc import Mapping

from monitor.craft.pdf_identity import PdfIdentity
from monitor.craft.profile import Profile
from monitor.phrases.names import plain
from monitor.reports.season.figures import SeasonFigures
from monitor.reports.season.night_blocks import air_blocks, night_blocks, short_blocks
from monitor.reports.season.page_blocks import Part, RecordPages
from monitor.reports.season.record_words import as_recorded, record_words_of
from monitor.reports.season.short_words import season_words
from monitor.reports.season.watch_blocks import check_blocks, standing_blocks, watch_blocks
from monitor.reports.season.work_blocks import told_blocks, work_blocks
from monitor.wording import Wording
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
        Zone, units and language of whoever reads it; without a present, so that every time
        has its date.
    sealed_by : str, optional
        The yard's public key; empty: the record inside is not sealed.
    pdf_identity : PdfIdentity or None
        What the PDF will be signed with; None: it will not be.
    """
    say, craft = record_words_of(words), figures.craft
    profile = profiles.get(craft.profile)
    since, until = (say.write_moment(one, words) for one in (figures.since, figures.until))
    care = say.to if craft.left_at else say.care_still
    made = say.write_moment(figures.made_at, words)
    kind = craft.profile if profile is None else profile.name
    facts = [
        (say.craft, f"{plain(craft.name)} ({plain(craft.id)})"),
        (say.craft_type, as_recorded(plain(kind), words)),
        (say.hull_number, plain(craft.hull_number) or say.not_on_record),
        (say.owner, plain(display_name(yard, craft.owner)) if craft.owner else say.not_on_record),
        (say.care, care.format(since=since, until=until)),
        (say.made, say.made_by.format(at=made, program=plain(figures.program))),
        (say.times, say.times_by.format(zone=words.zone)),
    ]
    parts = {
        say.part_short: short_blocks(figures, yard, words),
        say.part_nights: night_blocks(figures, yard, words),
        say.part_air: air_blocks(figures, yard, words),
        say.part_work: work_blocks(figures, words),
        say.part_told: told_blocks(figures, yard, words),
        say.part_standing: standing_blocks(figures, words),
        say.part_watch: watch_blocks(figures, yard, words),
        say.part_open: (say.not_proved[each] for each in figures.not_proved),
        say.part_check: check_blocks(figures, words, sealed_by, pdf_identity),
    }
    return RecordPages(
        title=say.title.format(name=plain(craft.name), season=season_words(figures.season)),
        yard=plain(yard.name),
        made=figures.made_at,
        facts=facts,
        parts=[Part(title=title, blocks=list(blocks)) for title, blocks in parts.items()],
        signatures=[say.for_yard, say.for_owner, say.for_witness],
        foot=say.foot,
        language=say.language,
        attachment_words=say.attachment_words,
        signing=say.signing,
        signing_words=say.signing_words,
        left_out=say.left_out,
        thousands=say.write_number(","),
    )

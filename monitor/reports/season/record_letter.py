"""The mail that hands an owner the season record of one craft, in the owner's language.

One while the craft is in the yard, and the one that tells its whole time there: each once. A craft
that comes back for more of the season has that told as well, and one that had left earlier or
later than the mail says has it told anew.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from monitor.phrases.names import plain
from monitor.reports.season.figures import NightVerdict, SeasonFigures
from monitor.reports.season.making import record_name
from monitor.reports.season.read_season import season_bounds
from monitor.reports.season.short_words import season_words
from monitor.yard.message import Attachment, Message, MessageKind
from monitor.yard.space import Person, Yard

_MAIL = "mail"
_SO_FAR = "so-far/"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLetterWords:
    """The sentences of the mail in one language."""

    subject: str  # {name}, {season}
    opening: str  # {yard}, {name}, {season}
    nights: str  # {nights}, {held}, {near}, {unknown}, {bad}
    bad: str  # only where there was a bad night
    replaces: str  # {mailed}
    subject_anew: str  # {name}, {season}
    inside: str
    questions: str  # {telephone}
    foot: str


_ENGLISH = RecordLetterWords(
    subject="Season record of {name}, {season}",
    opening="{yard} sends you the record of {name} for the season {season}, as a PDF.",
    nights="Nights in it: {nights}. Held, as measured and computed: {held}, of them near the limit:"
    " {near}. Too little heard to say: {unknown}. Colder than it could stand, or with ice computed"
    " in it: {bad}.",
    bad="Ask the yard what was done about that before you start the engine.",
    replaces="This record replaces the one that we mailed on {mailed}: what the yard has on record"
    " has changed since then.",
    subject_anew="Season record of {name}, {season}, new version",
    inside="Keep the file as it is: the same figures lie inside it for machines.",
    questions="Questions: {telephone}, or reply.",
    foot="An aid to judgement, not a life-safety device.",
)
_GERMAN = RecordLetterWords(
    subject="Winterbericht für {name}, {season}",
    opening="{yard} schickt Ihnen den Bericht über {name} für den Winter {season} als PDF.",
    nights="Nächte darin: {nights}. Nach Messung und Rechnung überstanden: {held}, davon knapp:"
    " {near}. Zu wenig gemessen: {unknown}. Kälter, als das Boot aushält, oder mit berechnetem"
    " Eis: {bad}.",
    bad="Fragen Sie das Winterlager, was daraufhin getan wurde, bevor Sie den Motor starten.",
    replaces="Dieser Bericht ersetzt den vom {mailed}: Seither hat sich geändert, was das"
    " Winterlager festgehalten hat.",
    subject_anew="Winterbericht für {name}, {season}, neue Fassung",
    inside="Bewahren Sie die Datei unverändert auf: Dieselben Zahlen liegen für Programme darin.",
    questions="Fragen: {telephone}, oder antworten Sie auf diese Mail.",
    foot="Eine Hilfe zum Urteil, keine Sicherheitseinrichtung.",
)
_LANGUAGES: Mapping[str, RecordLetterWords] = {"en": _ENGLISH, "de": _GERMAN}


def record_key(year: int, craft: str) -> str:
    """How the keys of all mails begin that tell a craft's whole time in the yard in a season."""
    return f"season-record/{year}/{craft}/"


def record_letter(
    figures: SeasonFigures,
    yard: Yard,
    person: Person,
    pdf: bytes,
    replaces: datetime | None = None,
) -> Message | None:
    """Write the mail; None where no mail reaches the person.

    Its key holds season, craft and person, whether that time is over, and for a craft that came
    back the day on which it ended: put into the outbox twice, it leaves once.

    Parameters
    ----------
    figures : SeasonFigures
    yard : Yard
    person : Person
        The craft's owner.
    pdf : bytes
        The record.
    replaces : datetime, optional
        When the mail was written that told the record before.
    """
    if _MAIL not in person.reached_by:
        return None
    language = person.language if person.language in _LANGUAGES else "en"
    say, craft = _LANGUAGES[language], figures.craft
    verdicts = [one.verdict for one in figures.nights]
    bad = sum(one in {NightVerdict.ICE, NightVerdict.PASSED} for one in verdicts)
    unknown = verdicts.count(NightVerdict.NOT_KNOWN)
    known = len(verdicts) - bad - unknown
    said = {
        "name": plain(craft.name),
        "season": season_words(figures.season),
        "yard": plain(yard.name),
        "nights": len(verdicts),
        "held": known,
        "near": verdicts.count(NightVerdict.NEAR),
        "bad": bad,
        "unknown": unknown,
        "telephone": yard.telephone,
        "mailed": "" if replaces is None else _day_words(replaces, yard, language),
    }
    told = [
        say.opening,
        *((say.replaces,) if replaces is not None else ()),
        " ".join((say.nights, *((say.bad,) if bad else ()))),
        say.inside,
        *((say.questions,) if yard.telephone else ()),
        say.foot,
    ]
    begins = record_key(figures.season, craft.id)
    goes_on = craft.left_at is None and figures.made_at < season_bounds(figures.season, yard)[1]
    came_back = any(one.until < then.since for one, then in pairwise(figures.kept))
    told_until = f"{figures.until:%Y-%m-%d}/" if came_back and not goes_on else ""
    if replaces is not None:
        told_until = f"after-{replaces.astimezone(UTC):%Y%m%dT%H%M%S}/"
    name = record_name({"season": {"year": figures.season}, "craft": {"id": craft.id}}, "pdf")
    return Message(
        key=(_SO_FAR if goes_on else "") + f"{begins}{told_until}{person.id}/{_MAIL}",
        person=person.id,
        channel=_MAIL,
        address=person.address_on(_MAIL),
        kind=MessageKind.REPORT,
        subject=(say.subject if replaces is None else say.subject_anew).format(**said),
        text="\n\n".join(one.format(**said) for one in told) + "\n",
        created_at=figures.made_at,
        attachments=(Attachment(filename=name, media_type="application/pdf", content=pdf),),
        language=language,
    )


def _day_words(at: datetime, yard: Yard, language: str) -> str:
    local = at.astimezone(yard.zone)
    if language == "de":
        return f"{local:%d.%m.%Y}"
    return f"{local.day} {local:%B %Y}"

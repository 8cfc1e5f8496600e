"""One person's weekly letter: the same facts as HTML and as plain text, with one plot inside."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from monitor.phrases.names import plain
from monitor.phrases.owner_languages import catalogue_of
from monitor.phrases.owner_words import owner_words_for
from monitor.reports.drawing import Plots, for_dark_screen, skill_figure, week_figure
from monitor.reports.owner_week import compose_owner_week
from monitor.reports.sentences import out_of_date, state_of_things
from monitor.reports.skill import skill_lines
from monitor.reports.staff_week import StaffWeek, compose_staff_week
from monitor.reports.week import OwnerParts, WeeklyReport
from monitor.wording import Wording, typeset
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE
from monitor.yard.message import Attachment, Message, MessageKind
from monitor.yard.readers import words_for
from monitor.yard.space import STAFF, Person

PLOT_ID = "week-plot"
SKILL_PLOT_ID = "skill-plot"
_BY_NIGHT = "-dark"  # ends name and id of the same plot for a dark screen


@dataclass(frozen=True, slots=True, kw_only=True)
class LetterContent:
    """What the templates of a letter to the yard's own people show."""

    person: Person
    report: WeeklyReport
    wording: Wording
    title: str
    dates: str
    state: str
    warning: str
    shown_plots: frozenset[str]  # content ids
    staff: StaffWeek
    skill: tuple[str, ...]  # how true the words of past evenings were


def readers(report: WeeklyReport) -> list[Person]:
    """Everyone who gets a letter: the yard's people, and every owner of a craft that is here."""
    owners = {one.craft.owner for one in report.picture.craft}
    return [
        person
        for person in report.picture.yard.people
        if person.roles & STAFF or person.id in owners
    ]


def letter(report: WeeklyReport, person: Person, plots: Plots | None = None) -> Message:
    """Write one person's letter; an owner reads of own craft and nobody else's.

    Letters of one run share their ``plots``, and so the time that drawing may take.
    """
    if plots is None:
        with Plots() as own:
            return letter(report, person, own)
    [written] = letters_of(report, [person], plots)
    return written


def letters_of(
    report: WeeklyReport, people: Sequence[Person], plots: Plots | None = None
) -> Iterator[Message]:
    """Write the letters of some people one by one; what is of all is put together once.

    Parameters
    ----------
    report : WeeklyReport
    people : sequence of Person
        Of `readers`.
    plots : Plots, optional
        Without it one run of drawing is begun, and ends with the last letter.
    """
    if plots is None:
        with Plots() as own:
            yield from letters_of(report, people, own)
            return
    parts, figures = OwnerParts(report), _WeekFigures()
    for person in people:
        if person.roles & STAFF:
            yield _staff_letter(report, person, plots, figures)
        else:
            yield _owner_letter(parts.part_of(person.id), person, plots, figures)


class _WeekFigures:
    """The week's figures of one run, each described once for all who read it in the same words."""

    def __init__(self) -> None:
        self._described: dict[tuple[object, ...], str] = {}

    def describe(self, report: WeeklyReport, words: Wording) -> str:
        """The figure of a report's spaces."""
        spaces = tuple(one.space.id for one in report.spaces)
        key = (spaces, words.temperature_unit, words.language)
        if key not in self._described:
            self._described[key] = week_figure(
                report.spaces, report.since, report.until, report.picture.yard.zone, words
            )
        return self._described[key]


def _draw(figures: Mapping[tuple[str, str], str], plots: Plots) -> list[Attachment]:
    """The plots that could be drawn, each for a light screen and for a dark one.

    A telephone that knows of no dark form shows the light one; so the dark one comes only with it.
    """
    drawn = []
    for (name, content_id), figure in figures.items():
        by_day = plots.plot(figure)
        by_night = plots.plot(for_dark_screen(figure)) if by_day is not None else None
        for end, content in (("", by_day), (_BY_NIGHT, by_night)):
            if content is not None:
                drawn.append(
                    Attachment(
                        filename=f"{name}{end}.png",
                        media_type="image/png",
                        content=content,
                        content_id=f"{content_id}{end}",
                    )
                )
    return drawn


def _staff_letter(
    report: WeeklyReport, person: Person, plots: Plots, described: _WeekFigures
) -> Message:
    picture = report.picture
    yard = picture.yard
    wording = words_for(yard, picture.at, person)
    skill = report.skill
    figures = {(report.week, PLOT_ID): described.describe(report, wording)}
    if skill and skill.tenths:
        figures[f"{report.week}-said", SKILL_PLOT_ID] = skill_figure(skill)
    pictures = _draw(figures, plots)
    week = report.since.astimezone(yard.zone).isocalendar().week
    state = state_of_things(picture, wording)
    shown = LetterContent(
        person=person,
        report=report,
        wording=wording,
        title=f"Week {week} at {yard.name}",
        dates=f"{wording.weekday(report.since)} to {wording.weekday(report.last_instant)}",
        state=state,
        warning=out_of_date(picture, wording),
        shown_plots=_ids_of(pictures),
        staff=compose_staff_week(report, wording),
        skill=tuple(skill_lines(skill, wording)) if skill else (),
    )
    return _message(
        report,
        person,
        subject=f"{shown.title}: {state}",
        template="staff_week",
        content={"letter": shown},
        pictures=pictures,
    )


def _ids_of(pictures: Iterable[Attachment]) -> frozenset[str]:
    return frozenset(each.content_id for each in pictures)


def _owner_letter(
    report: WeeklyReport, person: Person, plots: Plots, described: _WeekFigures
) -> Message:
    picture = report.picture
    words = owner_words_for(picture.yard, picture.at, person)
    catalogue = catalogue_of(words.language)
    said = compose_owner_week(report, person, words)
    pictures = _draw({(report.week, PLOT_ID): described.describe(report, words)}, plots)
    spaces = catalogue.list_names([plain(one.space.name) for one in report.spaces])
    content = {
        "said": said,
        "words": catalogue,
        "picture": catalogue.week_picture.format(spaces=spaces),
        "more": catalogue.and_more_craft.format(count=said.not_listed) if said.not_listed else "",
        "shown_plots": _ids_of(pictures),
    }
    return _message(
        report,
        person,
        subject=said.subject,
        template="owner_week",
        content=content,
        pictures=pictures,
        language=words.language,
    )


def _message(
    report: WeeklyReport,
    person: Person,
    *,
    subject: str,
    template: str,
    content: Mapping[str, object],
    pictures: Sequence[Attachment],
    language: str = "en",
) -> Message:
    """One letter as a message."""
    return Message(
        key=f"weekly/{report.picture.yard.id}/{report.week}/{person.id}",
        person=person.id,
        channel="mail",
        address=person.mail,
        kind=MessageKind.REPORT,
        subject=" ".join(subject.split()).removesuffix("."),
        text=_templates(False).get_template(f"{template}.txt").render(content),
        html=_templates(True).get_template(f"{template}.html").render(content),
        created_at=report.picture.at,
        attachments=tuple(pictures),
        language=language,
    )


@cache
def _templates(html: bool) -> Environment:
    templates = Environment(
        loader=PackageLoader("monitor.reports"),
        autoescape=html,  # noqa: S701 - off for plain text alone, where nothing is markup
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.globals.update(
        NOT_LIFE_SAFETY_NOTE=NOT_LIFE_SAFETY_NOTE,
        PLOT_ID=PLOT_ID,
        SKILL_PLOT_ID=SKILL_PLOT_ID,
    )
    templates.filters["typeset"] = typeset
    return templates

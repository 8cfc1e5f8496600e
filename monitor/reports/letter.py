"""One person's weekly letter: the same facts as HTML and as plain text, with one plot inside."""

from dataclasses import dataclass
from datetime import timedelta
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from monitor.phrases.alarm_lines import headline_text
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import ALARM_STATE, SPACE_KIND, Names, judged_part_name
from monitor.phrases.numbers import margin_words, numbers_in_line
from monitor.phrases.standings import row_of
from monitor.reports.alarm_groups import AlarmGroup, by_cause
from monitor.reports.drawing import Plots, skill_figure, week_figure
from monitor.reports.picture import Picture
from monitor.reports.sentences import also, out_of_date, state_of_things
from monitor.reports.skill import skill_lines
from monitor.reports.staff_week import StaffWeek, compose_staff_week, watched_in_words
from monitor.reports.standing_work import standing_work_lines
from monitor.reports.week import AlarmOfWeek, WeeklyReport, only_for_owner
from monitor.wording import Wording, hours_in_words, typeset
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT, NOT_LIFE_SAFETY_NOTE
from monitor.yard.message import Attachment, Message, MessageKind
from monitor.yard.readers import words_for
from monitor.yard.space import STAFF, Person

PLOT_ID = "week-plot"
SKILL_PLOT_ID = "skill-plot"
# An owner may see to a battery; all other work on a laid-up craft is the yard's.
_TASKS, _ALARMS = 40, 3
_TO_OWNERS = frozenset({Caution.FROZEN_BATTERY, Caution.HYDROGEN})


@dataclass(frozen=True, slots=True, kw_only=True)
class LetterContent:
    """What the templates show; ``staff`` in a letter to the yard's own people alone."""

    person: Person
    report: WeeklyReport
    wording: Wording
    title: str
    dates: str
    state: str
    warning: str
    cautions: tuple[str, ...]
    has_plot: bool
    alarms: tuple[tuple[AlarmGroup, tuple[AlarmOfWeek, ...]], ...]
    staff: StaffWeek | None
    skill: tuple[str, ...]  # how true the words of past evenings were; for the same people
    has_skill_plot: bool
    undone: tuple[str, ...]  # a line for each craft that is not laid up yet
    names: Names
    most_tasks: int
    most_alarms: int  # of one cause that are told one by one


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
    own = not person.roles & STAFF
    if own:
        report = only_for_owner(report, person.id)
    picture = report.picture
    yard = picture.yard
    wording = words_for(yard, picture.at, person)
    plots = plots or Plots()
    plot = plots.plot(
        week_figure(report.spaces, report.since, report.until, yard.zone, wording.temperature_unit)
    )
    skill = report.skill
    skill_plot = plots.plot(skill_figure(skill)) if skill and skill.tenths else None
    week = report.since.astimezone(yard.zone).isocalendar().week
    last = report.until - timedelta(seconds=1)  # midnight belongs to the day after
    state = state_of_things(picture, wording)
    shown = LetterContent(
        person=person,
        report=report,
        wording=wording,
        title=f"Week {week} at {yard.name}",
        dates=f"{wording.weekday(report.since)} to {wording.weekday(last)}",
        state=state,
        warning=out_of_date(picture, wording),
        cautions=_cautions(picture, wording),
        has_plot=plot is not None,
        alarms=_grouped(report),
        staff=None if own else compose_staff_week(report, wording),
        skill=tuple(skill_lines(skill, wording)) if skill else (),
        has_skill_plot=skill_plot is not None,
        undone=tuple(standing_work_lines(picture.standing_work, yard, wording)),
        names=Names.of(yard, (one.craft for one in picture.craft)),
        most_tasks=_TASKS,
        most_alarms=_ALARMS,
    )
    template = "weekly" if own else "staff_week"
    return Message(
        key=f"weekly/{yard.id}/{report.week}/{person.id}",
        person=person.id,
        channel="mail",
        address=person.mail,
        kind=MessageKind.REPORT,
        subject=" ".join(f"{shown.title}: {state}".split()).removesuffix("."),
        text=_templates(False).get_template(f"{template}.txt").render(letter=shown),
        html=_templates(True).get_template(f"{template}.html").render(letter=shown),
        created_at=picture.at,
        attachments=tuple(
            Attachment(filename=name, media_type="image/png", content=drawn, content_id=content_id)
            for name, drawn, content_id in (
                (f"{report.week}.png", plot, PLOT_ID),
                (f"{report.week}-said.png", skill_plot, SKILL_PLOT_ID),
            )
            if drawn is not None
        ),
    )


def _cautions(picture: Picture, wording: Wording) -> tuple[str, ...]:
    """Whole, of what an owner may do."""
    return tuple(wording.told(CAUTION_TEXT[one]) for one in picture.cautions() if one in _TO_OWNERS)


def _grouped(report: WeeklyReport) -> tuple[tuple[AlarmGroup, tuple[AlarmOfWeek, ...]], ...]:
    told = {one.alarm.id: one for one in report.alarms}
    groups = by_cause(one.alarm for one in report.alarms)
    return tuple((group, tuple(told[alarm.id] for alarm in group.alarms)) for group in groups)


@cache
def _templates(html: bool) -> Environment:
    templates = Environment(
        loader=PackageLoader("monitor.reports"),
        autoescape=html,  # noqa: S701 - off for plain text alone, where nothing is markup
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.globals.update(
        ALARM_STATE=ALARM_STATE,
        NOT_LIFE_SAFETY=CAUTION_TEXT[Caution.NOT_LIFE_SAFETY],
        PLOT_ID=PLOT_ID,
        SKILL_PLOT_ID=SKILL_PLOT_ID,
        SPACE_KIND=SPACE_KIND,
        act_text=act_text,
        also=also,
        basis_text=basis_text,
        headline_text=headline_text,
        hours_in_words=hours_in_words,
        judged_part_name=judged_part_name,
        margin_words=margin_words,
        numbers_in_line=numbers_in_line,
        NOT_LIFE_SAFETY_NOTE=NOT_LIFE_SAFETY_NOTE,
        row_of=row_of,
        watched_in_words=watched_in_words,
    )
    templates.filters["typeset"] = typeset
    return templates

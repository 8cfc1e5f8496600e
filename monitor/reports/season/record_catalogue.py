"""Every text of a printed season record, for one language: the catalogue that each fills whole.

What people wrote into the record stays in their words; what the record itself notes in English
stands in quotation marks where that is another language than the reader's.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime
from string import Formatter

from monitor.phrases.causes import CAUSE_TITLES
from monitor.phrases.owner_catalogue import Counted
from monitor.reports.season.figures import NightVerdict, NotProved
from monitor.wording import Wording
from monitor.yard.message import DeliveryOutcome
from monitor.yard.reading import Channel
from monitor.yard.space import STAFF
from monitor.yard.standing import STANDINGS, Hazard, Standing

JUDGED = (Hazard.DAMP, Hazard.BATTERY)  # hazards of which it tells how long each stood how
DOUBTS = frozenset(
    one
    for hazard in (Hazard.SENSING, Hazard.SILENCE, Hazard.SENSOR_BATTERY)
    for one in STANDINGS[hazard]
)
_SWAPPED = str.maketrans(",.", ".,")


@dataclass(frozen=True, kw_only=True)
class RecordWords:
    """Every text of a record in one language; templates name what is put in."""

    language: str  # its code (BCP 47)
    day: str  # {day}, {month}, {year}
    date_of_work: str  # {day}, {month}
    work_at: str  # {day}, {hour}
    work_on: str  # {day}
    month_axis: str  # {month}, {year}
    day_axis: str  # {day}, {month}
    decimal: str
    not_known: str
    not_read: str
    not_on_record: str
    under_a_tenth: str
    hours_of: str  # {hours}, {whole}
    to: str  # {since}, {until}
    stretches_more: str  # {count}
    left_out: str  # {count}
    title: str  # {name}, {season}
    attachment_words: str
    foot: str
    craft: str
    craft_type: str
    hull_number: str
    owner: str
    care: str
    made: str
    times: str
    care_still: str  # {since}, {until}
    made_by: str  # {at}, {program}
    times_by: str  # {zone}
    part_short: str
    part_nights: str
    part_air: str
    part_work: str
    part_told: str
    part_standing: str
    part_watch: str
    part_open: str
    part_check: str
    for_yard: str
    for_owner: str
    for_witness: str
    signing: str
    signing_words: str
    unreadable: str  # {why}
    no_night: str
    nights: Counted  # {count}
    nights_said: str  # {nights}, {verdicts}
    worst: str  # {day}
    unjudged: Counted  # {count}
    lowest: str  # {at}, {low}, {space}
    heard_part: str  # {hours}, {share}, {unheard}
    heard_all: str  # {hours}
    own_alarms: Counted  # {answers}, {count}
    never_answered: str  # {count}
    each_answered: str
    no_own_alarm: str
    nights_drawn: str  # {first}, {last}, {nights}
    nights_caption: str
    all_held: str
    without_reading: Counted  # {count}, {stretches}
    near_title: str  # {where}
    all_in: str  # {space}
    night_from: str
    space: str
    expected: str
    came: str
    inside: str
    ice_begins: str
    so: str
    not_said: str
    expected_between: str  # {cold}, {expected}, {warm}
    probe: str  # {low}
    inside_of: str  # {low}, {name}
    nothing_freezes: str
    limit_by: str  # {limit}, {state}
    heard_share: str  # {share}
    stood_title: str
    since: str
    until: str
    space_berth: str
    entered_by: str
    berth: str  # {berth}, {space}
    air_title: str
    heard: str
    low: str
    high: str
    below: str  # {limit}
    wet: str
    air_drawn: str  # {cold}, {middle}, {space}, {unheard}, {warm}
    air_caption: str  # {space}
    not_heard: str
    no_work: str
    work_title: str
    when_whom: str
    what: str
    evidence: str
    declined_title: str
    when_told: str
    note_not_said: str
    no_declined: str
    done_by: str  # {at}, {person}
    nothing_noted: str
    photos: Counted  # {count}
    written_down: str  # {at}
    withdrawn: str  # {what}
    taken_back: str  # {person}
    taken_back_at: str  # {at}, {person}
    corrected: str  # {changes}
    the_same: str
    no_alarm: str
    alarms_title: str
    raised: str
    answered: str
    waited: str
    over: str
    nobody_answered: str
    answered_by: str  # {at}, {person}
    the_first: str  # {answered}
    raised_again: Counted  # {at}, {count}
    not_over: str
    no_message: str
    messages: Counted  # {count}, {refused}, {taken}, {waiting}
    page_unopened: str
    page_opened: str  # {at}
    warnings_title: str
    written: str
    subject: str
    way: str
    delivered: str
    other_craft: str
    staff_told: Counted  # {count}, {given_up}, {refused}, {taken}, {waiting}
    untaken: Counted  # {count}
    may_lack: Counted  # {count}
    staff_title: str
    alarm: str
    whom: str
    taken: str
    first_answer: str
    later: str  # {span}
    tries: Counted  # {count}, {fate}
    metal: str  # {said}
    metal_unjudged: str
    battery: str  # {said}
    battery_unjudged: str
    rest_title: str
    when: str
    volts: str
    by: str
    gaps_title: str
    hours: str
    no_gap: str
    sensors_title: str
    sensor: str
    where: str
    compared: str
    no_sensor: str
    doubts_title: str
    the_end: str
    how: str
    no_doubt: str
    gaps_stay: str
    height: str  # {height}, {space}
    never_compared: str
    check_inside: str
    sealed: str  # {fingerprint}
    not_sealed: str
    unsigned: str
    signed: str
    self_issued: str  # {digits}
    issued_by: str  # {digits}, {issuer}, {subject}
    last_hash: str  # {begins}
    chain: Counted  # {count}, {last}
    months: tuple[str, ...]  # short, from January
    verdicts: Mapping[NightVerdict, str]
    not_proved: Mapping[NotProved, str]
    standings: Mapping[tuple[Hazard, Standing], str]  # of `JUDGED`
    doubts: Mapping[Standing, str]
    causes: Mapping[str, str]
    fates: Mapping[str, str]  # of messages
    roles: Mapping[str, str]
    measured: Mapping[Channel, str]

    def __post_init__(self) -> None:
        """Hold that no text is empty and that everything that a record tells has a name.

        Raises
        ------
        ValueError
            If one lacks, or if a text for one thing names another field than that for many.
        """
        for each in fields(self):
            value = getattr(self, each.name)
            texts = value if isinstance(value, tuple) else self.texts_of(each.name)
            if not value or not all(one.strip() for one in texts):
                raise ValueError(f"{each.name}: is empty")
        if len(self.months) != 12:
            raise ValueError("months: are not twelve")
        wanted: Mapping[str, frozenset[object]] = {
            "verdicts": frozenset(NightVerdict),
            "not_proved": frozenset(NotProved),
            "standings": frozenset((one, each) for one in JUDGED for each in STANDINGS[one]),
            "doubts": DOUBTS,
            "causes": frozenset(CAUSE_TITLES),
            "fates": frozenset({*map(str, DeliveryOutcome), "given up", "waiting"}),
            "roles": frozenset(map(str, STAFF)),
            "measured": frozenset(Channel),
        }
        for name, known in wanted.items():
            for lacking in known ^ getattr(self, name).keys():
                raise ValueError(f"{name}: {lacking} has no name, or there is none such")

    def texts_of(self, name: str) -> tuple[str, ...]:
        """Every text of one field."""
        value = getattr(self, name)
        if isinstance(value, Counted):
            return value.one, value.other
        if isinstance(value, Mapping):
            return tuple(value.values())
        return value if isinstance(value, tuple) else (value,)

    def fields_named(self, name: str) -> frozenset[str]:
        """The names of what is put into the texts of one field."""
        return frozenset(
            part
            for text in self.texts_of(name)
            for _, part, _, _ in Formatter().parse(text)
            if part is not None
        )

    def write_date(self, on: date) -> str:
        """``9 Nov 2026``, ``9.11.2026``."""
        return self._by(self.day, on)

    def write_moment(self, at: datetime | None, words: Wording) -> str:
        """``9 Nov 2026, 14:05``; in the night in which clocks go back with its zone."""
        if at is None:
            return self.not_known
        return f"{self.write_date(at.astimezone(words.zone).date())}, {words.hour_of_day(at)}"

    def write_number(self, text: str) -> str:
        """A number as English writes it, with this language's signs."""
        return text if self.decimal == "." else text.translate(_SWAPPED)

    def count_of(self, number: int, said: Counted, **more: str) -> str:
        """A text for so many."""
        return said.for_count(number).format(count=self.write_number(f"{number:,}"), **more)

    def write_day_of_work(self, on: date) -> str:
        """The day of a piece of work, beside whoever did it."""
        return self._by(self.date_of_work, on)

    def write_tick(self, on: date, *, is_month: bool) -> str:
        """A mark below the chart: ``Dec 2026`` or ``14 Nov``."""
        return self._by(self.month_axis if is_month else self.day_axis, on)

    def _by(self, pattern: str, on: date) -> str:
        month = self.months[on.month - 1]
        return pattern.format(day=on.day, month=month, number=on.month, year=on.year)

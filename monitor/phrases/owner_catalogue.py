"""What the owners of craft are told, as templates: a catalogue a language holds every sentence.

A catalogue is complete or it cannot be made: a sentence that a language lacks, a field that a
template names and nobody fills, and an act or a cause without a name fail at import. Names, hours
and quantities are put in by `monitor.phrases.owner_lines`, which holds no words of its own.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from string import Formatter

from monitor.craft.acts import ACTS, Work
from monitor.craft.layup import Act
from monitor.wording import listed

# What happens to a craft, and what corrects a record, is no work that was done for its owner.
NO_WORK = frozenset({Work.HAPPENED, Work.SPRING})
TOLD_ACTS = frozenset(act for act, row in ACTS.items() if row.work not in NO_WORK)
# Causes of alarm of which an owner hears.
OWNER_CAUSES = frozenset({"frost", "ice", "third-ice", "voided"})

_Named = Mapping[str, str]


def may_name(*names: str) -> dict[str, frozenset[str]]:
    """Metadata of a template: the fields that it may name; it need not name them all."""
    return {"names": frozenset(names)}


@dataclass(frozen=True, slots=True)
class Counted:
    """A template for one thing and for any other number of them."""

    one: str
    other: str

    def for_count(self, count: int) -> str:
        """The template for so many; English and German part one from all others (CLDR)."""
        return self.one if count == 1 else self.other


@dataclass(frozen=True, slots=True)
class DayPatterns:
    """How days are written, as date patterns of Unicode TR 35; empty: as English here does."""

    short: str = ""  # of this week, beside an hour
    date: str = ""
    weekday: str = ""
    tick: str = ""  # below a plot


@dataclass(frozen=True, kw_only=True)
class OwnerCatalogue:
    """Every template of one language."""

    language: str  # its code (BCP 47)
    days: DayPatterns
    hour: str = field(metadata=may_name("hour"))
    last_word: str  # before the last name of a list
    or_word: str
    and_more: str = field(metadata=may_name("count"))  # right after names that commas part
    and_more_apart: str = field(metadata=may_name("count"))  # after names that semicolons part

    # Hours: of today, and of another day.
    at_hour: str = field(metadata=may_name("hour"))
    at_day: str = field(metadata=may_name("day", "hour"))
    from_hour: str = field(metadata=may_name("hour"))
    from_day: str = field(metadata=may_name("day", "hour"))
    since_hour: str = field(metadata=may_name("hour"))
    since_day: str = field(metadata=may_name("day", "hour"))

    # A chance, as nights of a number.
    nights: Counted = field(metadata=may_name("nights", "of"))
    over_nights: str = field(metadata=may_name("nights", "of"))
    hardly_a_night: str

    # The first line: whether an owner has something to do.
    nothing_to_do: str
    do_not_start: str = field(metadata=may_name("names"))
    leave_alone: Counted = field(metadata=may_name("names"))

    # How it stands.
    ice_may_form: str = field(metadata=may_name("since", "often"))
    what_can_freeze: str = field(metadata=may_name("parts"))
    ice_has_been: str = field(metadata=may_name("parts"))
    ice_has_been_somewhere: str
    harm_not_known: str
    of_cause: _Named  # of what is no matter of frost alone

    # What the yard does and did.
    who_of_yard: str = field(metadata=may_name("person", "yard"))
    taken_on: str = field(metadata=may_name("who", "at", "since"))
    yard_just_told: str = field(metadata=may_name("yard"))
    yard_told: str = field(metadata=may_name("yard", "at"))
    on_the_list: str = field(metadata=may_name("yard"))
    done_since: str = field(metadata=may_name("acts"))
    acts: Mapping[Act, str]
    safe_since: str = field(metadata=may_name("name", "since"))
    safe_by: str = field(metadata=may_name("name", "since", "person"))
    no_danger: str = field(metadata=may_name("name"))
    nobody_looked: str = field(metadata=may_name("name"))
    left: str = field(metadata=may_name("name", "since"))
    left_iced: str = field(metadata=may_name("name", "since"))
    left_first: str = field(metadata=may_name("names"))

    # What comes next, and whom to ask.
    next_looked: str
    next_safe: str
    contact: str = field(metadata=may_name("ways"))
    by_telephone: str = field(metadata=may_name("telephone"))
    by_reply: str
    by_yard: str = field(metadata=may_name("yard"))
    and_more_craft: str = field(metadata=may_name("count"))
    foot: str

    # Subject lines.
    your_craft: str
    subject_ice: Counted = field(metadata=may_name("names"))
    subject_frost: Counted = field(metadata=may_name("names", "yard"))
    subject_cause: str = field(metadata=may_name("names", "what", "yard"))
    cause_titles: _Named
    yard_is_on_it: str
    yard_has_been_told: str
    subject_over_iced: str = field(metadata=may_name("names"))
    subject_over: Counted = field(metadata=may_name("names"))
    subject_left_iced: str = field(metadata=may_name("names"))
    subject_left: Counted = field(metadata=may_name("names"))

    # The week's letter.
    week_title: str = field(metadata=may_name("week", "yard"))
    week_subject: str = field(metadata=may_name("title", "state"))
    week_dates: str = field(metadata=may_name("first", "last", "name"))
    week_safe: Counted = field(metadata=may_name("names"))
    week_unsafe: Counted = field(metadata=may_name("names"))
    week_unknown: Counted = field(metadata=may_name("names"))
    week_blind: str = field(metadata=may_name("since", "yard"))
    week_subject_safe: Counted = field(metadata=may_name("names"))
    week_subject_unknown: str = field(metadata=may_name("names"))
    week_room: str = field(metadata=may_name("room"))
    week_dry: str
    week_not_read: str = field(metadata=may_name("space"))
    week_undone: str
    week_battery_first: str = field(metadata=may_name("names"))
    week_subject_battery: str = field(metadata=may_name("names"))
    week_battery_freezing: str
    week_battery_wanting: str
    week_battery_well: str
    week_done: str = field(metadata=may_name("acts"))
    week_coldest: str = field(metadata=may_name("low", "at"))
    week_threatened: str = field(metadata=may_name("since", "answer"))
    week_again: str
    week_picture: str = field(metadata=may_name("spaces"))
    week_legend: str
    week_no_picture: str
    promises_nothing: str
    key_line: str = field(metadata=may_name("key"))  # before the last, of a mail with a signed head
    record_line: str = field(metadata=may_name("head"))  # the last of every mail

    # A rehearsal, and a letter that could not be written in full.
    rehearsal_subject: str = field(metadata=may_name("yard"))
    rehearsal_head: str = field(metadata=may_name("yard", "at"))
    rehearsal_text: str = field(metadata=may_name("name"))
    not_life_safety: str
    bare_subject: str = field(metadata=may_name("names"))
    bare_over_subject: str = field(metadata=may_name("names"))
    bare_text: str = field(metadata=may_name("names"))
    bare_over_text: str = field(metadata=may_name("names"))

    # What the types of craft call their parts in English; a yard's own names stay as they are.
    parts: _Named
    sides: _Named  # before a part's name, such as of one of two engines

    def __post_init__(self) -> None:
        """Hold every template to the fields that it may name.

        Raises
        ------
        ValueError
            If a template is empty or names a field that nobody fills; if an act that is told to
            owners, or a cause that they hear of, has no name.
        """
        for name, template in self.each_template():
            known = next(each for each in fields(self) if each.name == name)
            asked = {part for _, part, _, _ in Formatter().parse(template) if part is not None}
            unknown = asked - known.metadata.get("names", frozenset())
            if not template.strip() or unknown:
                fault = f"names {', '.join(sorted(unknown))}" if unknown else "is empty"
                raise ValueError(f"{self.language}, {name}: {fault}")
        for lacking in TOLD_ACTS ^ self.acts.keys():
            raise ValueError(f"{self.language}: {lacking} has no name, or is told to no owner")
        for cause in OWNER_CAUSES ^ self.cause_titles.keys() | OWNER_CAUSES ^ self.of_cause.keys():
            raise ValueError(f"{self.language}: {cause} has no title, or is told to no owner")

    def each_template(self) -> Iterator[tuple[str, str]]:
        """Every template that is filled in, with the name of its field."""
        for each in fields(self):
            value = getattr(self, each.name)
            if each.name == "language":
                continue
            if isinstance(value, str):
                yield each.name, value
            elif isinstance(value, Counted):
                yield from ((each.name, value.one), (each.name, value.other))

    def list_names(self, names: Sequence[str]) -> str:
        """Write ``a, b and c``."""
        return listed(list(names), self.last_word)

    def first_of(self, names: Sequence[str], most: int, separator: str = ", ") -> str:
        """Write ``a, b and 3 more``: so many of them, and how many are left."""
        left = len(names) - most
        more = self.and_more if separator == ", " else self.and_more_apart
        return separator.join(names[:most]) + (more.format(count=left) if left > 0 else "")

    def part_name(self, name: str) -> str:
        """What an owner reads of a part; a yard's own name as the yard wrote it."""
        if name in self.parts:
            return self.parts[name]
        side, _, part = name.partition(" ")
        if side in self.sides and part in self.parts:
            return f"{self.sides[side]} {self.parts[part]}"
        return name

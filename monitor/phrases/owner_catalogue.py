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


def has(*names: str) -> dict[str, frozenset[str]]:
    """Metadata of a template: the fields that it may name; it need not name them all."""
    return {"names": frozenset(names)}


@dataclass(frozen=True, slots=True)
class Counted:
    """A template for one thing and for any other number of them."""

    one: str
    other: str

    def of(self, count: int) -> str:
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
    hour: str = field(metadata=has("hour"))
    last_word: str  # before the last name of a list
    or_word: str
    and_more: str = field(metadata=has("count"))  # right after names that commas part
    and_more_apart: str = field(metadata=has("count"))  # after names that semicolons part

    # Hours: of today, and of another day.
    at_hour: str = field(metadata=has("hour"))
    at_day: str = field(metadata=has("day", "hour"))
    from_hour: str = field(metadata=has("hour"))
    from_day: str = field(metadata=has("day", "hour"))
    since_hour: str = field(metadata=has("hour"))
    since_day: str = field(metadata=has("day", "hour"))

    # A chance, as nights of a number.
    nights: Counted = field(metadata=has("nights", "of"))
    over_nights: str = field(metadata=has("nights", "of"))
    hardly_a_night: str

    # The first line: whether an owner has something to do.
    nothing_to_do: str
    do_not_start: str = field(metadata=has("names"))
    leave_alone: Counted = field(metadata=has("names"))

    # How it stands.
    ice_may_form: str = field(metadata=has("since", "often"))
    what_can_freeze: str = field(metadata=has("parts"))
    ice_has_been: str = field(metadata=has("parts"))
    ice_has_been_somewhere: str
    harm_not_known: str
    of_cause: _Named  # of what is no matter of frost alone

    # What the yard does and did.
    who_of_yard: str = field(metadata=has("person", "yard"))
    taken_on: str = field(metadata=has("who", "at", "since"))
    yard_just_told: str = field(metadata=has("yard"))
    yard_told: str = field(metadata=has("yard", "at"))
    on_the_list: str = field(metadata=has("yard"))
    done_since: str = field(metadata=has("acts"))
    acts: Mapping[Act, str]
    safe_since: str = field(metadata=has("name", "since"))
    safe_by: str = field(metadata=has("name", "since", "person"))
    no_danger: str = field(metadata=has("name"))
    nobody_looked: str = field(metadata=has("name"))

    # What comes next, and whom to ask.
    next_looked: str
    next_safe: str
    contact: str = field(metadata=has("ways"))
    by_telephone: str = field(metadata=has("telephone"))
    by_reply: str
    by_yard: str = field(metadata=has("yard"))
    and_more_craft: str = field(metadata=has("count"))
    foot: str

    # Subject lines.
    your_craft: str
    subject_ice: Counted = field(metadata=has("names"))
    subject_frost: Counted = field(metadata=has("names", "yard"))
    subject_cause: str = field(metadata=has("names", "what", "yard"))
    cause_titles: _Named
    yard_is_on_it: str
    yard_has_been_told: str
    subject_over_iced: str = field(metadata=has("names"))
    subject_over: Counted = field(metadata=has("names"))

    # The week's letter.
    week_title: str = field(metadata=has("week", "yard"))
    week_subject: str = field(metadata=has("title", "state"))
    week_dates: str = field(metadata=has("first", "last", "name"))
    week_safe: Counted = field(metadata=has("names"))
    week_unsafe: Counted = field(metadata=has("names"))
    week_unknown: Counted = field(metadata=has("names"))
    week_blind: str = field(metadata=has("since", "yard"))
    week_subject_safe: Counted = field(metadata=has("names"))
    week_subject_unknown: str = field(metadata=has("names"))
    week_room: str = field(metadata=has("room"))
    week_dry: str
    week_not_read: str = field(metadata=has("space"))
    week_undone: str
    week_battery_freezing: str
    week_battery_wanting: str
    week_battery_well: str
    week_done: str = field(metadata=has("acts"))
    week_coldest: str = field(metadata=has("low", "at"))
    week_threatened: str = field(metadata=has("since", "answer"))
    week_again: str
    week_picture: str = field(metadata=has("spaces"))
    week_legend: str
    week_no_picture: str
    promises_nothing: str

    # A rehearsal, and a letter that could not be written in full.
    rehearsal_subject: str = field(metadata=has("yard"))
    rehearsal_head: str = field(metadata=has("yard", "at"))
    rehearsal_text: str = field(metadata=has("name"))
    not_life_safety: str
    bare_subject: str = field(metadata=has("names"))
    bare_over_subject: str = field(metadata=has("names"))
    bare_text: str = field(metadata=has("names"))
    bare_over_text: str = field(metadata=has("names"))

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
        for name, template in self.templates():
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

    def templates(self) -> Iterator[tuple[str, str]]:
        """Every template that is filled in, with the name of its field."""
        for each in fields(self):
            value = getattr(self, each.name)
            if each.name == "language":
                continue
            if isinstance(value, str):
                yield each.name, value
            elif isinstance(value, Counted):
                yield from ((each.name, value.one), (each.name, value.other))

    def listed(self, names: Sequence[str]) -> str:
        """Write ``a, b and c``."""
        return listed(list(names), self.last_word)

    def first_of(self, names: Sequence[str], most: int, separator: str = ", ") -> str:
        """Write ``a, b and 3 more``: so many of them, and how many are left."""
        left = len(names) - most
        more = self.and_more if separator == ", " else self.and_more_apart
        return separator.join(names[:most]) + (more.format(count=left) if left > 0 else "")

    def part(self, name: str) -> str:
        """What an owner reads of a part; a yard's own name as the yard wrote it."""
        if name in self.parts:
            return self.parts[name]
        side, _, part = name.partition(" ")
        if side in self.sides and part in self.parts:
            return f"{self.sides[side]} {self.parts[part]}"
        return name

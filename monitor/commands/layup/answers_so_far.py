"""What was answered at the bench so far, and how it reads in one line."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor.craft.fields import FIELDS
from monitor.craft.record import CraftRecord
from monitor.settings.layup_form import EntryForm

# Takes the answers so far, by column, so that none is lost with the program.
Keep = Callable[[str, tuple[tuple[str, Any], ...]], None]
FIELD_BY_COLUMN = {one.column: one for one in FIELDS}
_OF_PRODUCT = {one.column for one in FIELDS if one.part == "product"}


@dataclass(slots=True, kw_only=True)
class AnswersSoFar:
    """Answers so far, in the order in which they were given."""

    record: CraftRecord
    said: dict[str, Any]  # by column
    order: list[str] = field(default_factory=list)
    seen_acts: bool = False  # the list of acts was shown, or what was typed for it was used
    keep: Keep | None = None

    def answers_in_order(self) -> tuple[tuple[str, Any], ...]:
        """Column and answer, in the order in which they were given."""
        return tuple((column, self.said.get(column)) for column in self.order)

    def save_answers(self) -> None:
        """Save the answers as they stand now."""
        if self.keep is not None:
            self.keep(self.record.craft.id, self.answers_in_order())

    def put_answer(self, column: str, value: object) -> None:
        """Take an answer to a column's question; None: it was left open."""
        if value is not None:
            self.said[column] = value
        self.order.append(column)

    def take_back(self, column: str = "") -> None:
        """Forget one answer: the last one, or that of a column."""
        gone = {column if column in self.order else self.order[-1]}
        if gone == {"product"}:
            gone |= _OF_PRODUCT  # another product has another strength and lot
        if "act" in gone:
            gone |= {"posture", "circuits"}  # told with the act
        self.order = [one for one in self.order if one not in gone]
        self.said = {key: value for key, value in self.said.items() if key not in gone}


def summary_of_answers(entry: AnswersSoFar, form: EntryForm) -> str:
    """What was answered, to be read once more before it is written."""
    hour = f"{form.at:%H:%M}" if form.day_began is None else "hour not told"
    return answers_in_line({**entry.said, "at": f"{form.at.day} {form.at:%b}, {hour}"})


def answers_in_line(said: Mapping[str, Any]) -> str:
    """Answers by column in one line, without the act."""
    parts = []
    for key, value in said.items():
        if key == "act" or value is None:
            continue
        if isinstance(value, list):
            text = ", ".join(one["words"] if isinstance(one, dict) else one for one in value)
        else:
            text = str(value)
        parts.append(f"{FIELD_BY_COLUMN[key].label}: {text}")
    return "; ".join(parts)

"""A letter as a phone's text: at most 160 signs that hold act, craft, place and hour."""

from collections.abc import Sequence

from monitor.alarms.letters.staff_letter import StaffLetter
from monitor.alarms.letters.work_lines import WorkLine
from monitor.phrases.names import plain
from monitor.phrases.told_step import capitalize_first
from monitor.yard.message import TEXT_SIGNS

_NAME, _PLACE = 24, 24  # signs at most, so that the first line always fits


def short_text(said: StaffLetter, subject: str) -> str:
    """Write as many lines of a letter as a text holds, and how many more there are.

    Parameters
    ----------
    said : StaffLetter
    subject : str
        Its subject line, which stands for a letter without lines.

    Returns
    -------
    str
        At most 160 signs, where every sign is of the basic set.
    """
    lines = [*said.to_do, *said.to_leave]
    if not lines:
        return subject
    hidden = sum(n for _, n in said.not_listed)
    opening = "Not answered: " if said.is_reminder else ""
    told = [_line_words(line) for line in lines]
    for shown in range(len(told), 0, -1):
        text = f"{opening}{_joined(told[:shown], len(told) - shown + hidden)}"
        if len(text) <= TEXT_SIGNS:
            return text
    return f"{opening}{told[0]}"[:TEXT_SIGNS]


def _joined(told: Sequence[str], more: int) -> str:
    rest = [f"{more} more."] if more else []
    return " ".join([*told, *rest])


def _line_words(line: WorkLine) -> str:
    """Write act, craft, place and hour, such as ``Drain Plover, Long Shed 2, by 20:20``."""
    call = capitalize_first(line.call.replace("{name}", plain(line.name, _NAME)))
    place = f", {plain(line.place, _PLACE)}" if line.place and not line.has_ice else ""
    hour = "" if line.has_ice else _hour_words(line)
    return f"{call}{place}{hour}."


def _hour_words(line: WorkLine) -> str:
    return f", by {line.due}" if line.is_ahead else f", {line.due}"

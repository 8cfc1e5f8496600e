"""What a letter reads off one alarm: names, act, basis, ice, and its turn in the work."""

import math
from datetime import UTC, datetime

from monitor.alarms.entry import Entry
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names, plain, plain_line
from monitor.phrases.standings import row_of
from monitor.wording import Wording, typeset
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Hazard
from monitor.yard.space import Yard

_FAR = datetime.max.replace(tzinfo=UTC)


def act_of(entry: Entry, yard: Yard, wording: Wording) -> str:
    """What to do: as the judgement asks, else as every alarm of its cause does."""
    seen = entry.assessment
    asked = "" if seen is None else act_text(seen, names_of(entry, yard), wording)
    return typeset(plain_line(asked or wording.in_reader_units(entry.definition.act), limit=300))


def basis_of(entry: Entry, yard: Yard, wording: Wording) -> str:
    """Why it is judged so; empty without a judgement."""
    if entry.assessment is None:
        return ""
    said = basis_text(entry.assessment, names_of(entry, yard), wording)
    return typeset(plain_line(said, limit=700))


def names_of(entry: Entry, yard: Yard) -> Names:
    """How people call what an alarm is about."""
    return Names.of(yard, [] if entry.craft is None else [entry.craft])


def craft_name_if_any(entry: Entry) -> str:
    """A craft's name; its id where the yard no longer keeps it, and nothing of no craft."""
    return plain(entry.craft.name if entry.craft else entry.alarm.craft)


def craft_name(entry: Entry) -> str:
    """A craft's name; its id where the yard no longer keeps it, and of no craft the space's."""
    return craft_name_if_any(entry) or plain(entry.alarm.space)


def craft_title(entry: Entry) -> str:
    """A craft's name, with its id where that is another."""
    name = craft_name(entry)
    known = entry.craft is None or name == plain(entry.craft.id)
    return name if known else f"{name} ({plain(entry.alarm.craft)})"


def has_ice(entry: Entry) -> bool:
    """Whether there is or was ice in it now, whatever its alarm waits for.

    The page shows the same standings, so both say the same of one round.
    """
    seen = entry.assessment
    if seen is None or seen.hazard is not Hazard.FROST:
        return entry.iced
    return row_of(seen).too_late


def work_order(entry: Entry) -> tuple[bool, bool, bool, float, datetime, int, float, str]:
    """Sorting key: what can be saved, in the order of the yard's work; damp; then what has ice."""
    seen = entry.assessment
    turn = None if seen is None else seen.turn
    margin_k = math.inf if seen is None else seen.margin_k
    return (
        has_ice(entry),
        entry.definition.topic is Topic.DAMP,
        entry.definition.topic is not Topic.HEAT,  # which saves everything there at once
        math.inf if turn is None else turn.order,
        entry.alarm.deadline or _FAR,
        -entry.rank,
        math.inf if math.isnan(margin_k) else margin_k,
        entry.subject,
    )

"""What one item of a message says: the hour that matters, the numbers, the act and the basis."""

from collections.abc import Sequence

from monitor.alarms.entry import Entry
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names, part_name, plain
from monitor.phrases.standings import names_of_hazard
from monitor.wording import Wording, typeset
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.space import Yard

_ALSO_SHOWN = 3
FIRST_DEW = "first dew"


def hour_of(entry: Entry, wording: Wording) -> tuple[str, str, str]:
    """The hour that matters, what happens then, and both in a phrase."""
    standing = _standing(entry)
    deadline = entry.alarm.deadline
    if entry.iced and standing is Standing.SOLID:
        return "Ice", "frozen through", "frozen through"
    if entry.iced and standing is not Standing.ICING:
        return "Check", "ice was in it", "ice was in it"
    if entry.iced and (deadline is None or deadline > wording.now):
        return "Ice", "forming now", "ice forming now"
    seen = entry.assessment
    if deadline is None and entry.definition.topic is Topic.FROST and seen and seen.low_at:
        hour = wording.clock(seen.low_at)
        return hour, "coldest", f"down to {wording.temperature(seen.low_c)} about {hour}"
    if deadline is None:
        since = wording.clock(entry.alarm.raised_at)
        return since, "since then", f"since {since}"
    hour = wording.clock(deadline)
    what = "ice since" if entry.iced else names_of_hazard(entry.definition.hazard).deadline
    return hour, what, f"{what} {hour}"


def also_of(entries: Sequence[Entry], yard: Yard, wording: Wording) -> str:
    """The craft's other parts in one line; what its record says first, for it is why."""
    on_record = [each for each in entries if each.definition.hazard is Hazard.RECORD]
    others = [each for each in entries if each.definition.hazard is not Hazard.RECORD]
    shown = [*on_record, *others][: max(_ALSO_SHOWN, len(on_record))]
    named = []
    for entry in shown:
        when = f" {wording.clock(entry.alarm.deadline)}" if entry.alarm.deadline else ""
        named.append(f"{_part(entry)}{when}")
    more = len(entries) - len(named)
    if more > 0:
        named.append(f"{more} more")
    line = f"Also {'; '.join(named)}" if named else ""
    asked = [act_of(each, yard, wording) for each in on_record if each.definition.never_missed]
    return ". ".join([line, *asked])


def act_of(entry: Entry, yard: Yard, wording: Wording) -> str:
    """What to do: as the judgement asks, else as every alarm of its cause does."""
    seen = entry.assessment
    asked = "" if seen is None else act_text(seen, names_of(entry, yard), wording)
    return typeset(plain(asked or wording.told(entry.definition.act), limit=300))


def basis_of(entry: Entry, yard: Yard, wording: Wording) -> str:
    """Why it is judged so; empty without a judgement."""
    if entry.assessment is None:
        return ""
    said = basis_text(entry.assessment, names_of(entry, yard), wording)
    return typeset(plain(said, limit=700))


def names_of(entry: Entry, yard: Yard) -> Names:
    """How people call what an alarm is about."""
    return Names.of(yard, [] if entry.craft is None else [entry.craft])


def what_of(entry: Entry) -> str:
    """The part that an item is about; of a battery, what is wrong with it."""
    if entry.definition.topic is Topic.BATTERY:
        return entry.definition.title
    part = _part(entry)
    return part[:1].upper() + part[1:]


def _part(entry: Entry) -> str:
    """The circuit that is meant; of what a record says, what it says."""
    if entry.definition.hazard is Hazard.RECORD:
        title = entry.definition.title
        return title[:1].lower() + title[1:]
    return part_name(entry.craft, entry.alarm.part)


def craft_name(entry: Entry) -> str:
    """A craft's name; its id where the yard no longer keeps it, and of no craft the space's."""
    if entry.craft is None:
        return plain(entry.alarm.craft) or plain(entry.alarm.space)
    return plain(entry.craft.name)


def craft_title(entry: Entry) -> str:
    """A craft's name, with its id where that is another."""
    name = craft_name(entry)
    known = entry.craft is None or name == plain(entry.craft.id)
    return name if known else f"{name} ({plain(entry.alarm.craft)})"


def _standing(entry: Entry) -> Standing | None:
    return None if entry.assessment is None else entry.assessment.standing

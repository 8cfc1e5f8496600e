"""What a message says of one alarm: its craft's name, the act and the basis."""

from monitor.alarms.entry import Entry
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names, plain
from monitor.wording import Wording, typeset
from monitor.yard.space import Yard


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

"""Wet metal in a space: on how many craft, where it is worst, and which of them decides the act."""

import math
from collections.abc import Iterable, Sequence

from monitor.alarms.definitions import title_of
from monitor.alarms.entry import Entry
from monitor.alarms.letters.entry_words import craft_title
from monitor.phrases.names import part_name

DRYING_ACT = "The metal has passed the dew point: move the air until it is dry."


def wet_metal(entries: Sequence[Entry]) -> str:
    """On how many craft of a space metal is wet or will be, and where it is worst."""
    worst = wettest_of(entries)
    what = "Metal is still wet" if worst.drying else title_of(worst.definition, worst.assessment)
    alike = [entry for entry in entries if entry.drying is worst.drying]
    craft = {entry.alarm.craft for entry in alike if entry.alarm.craft}
    if not craft:
        return what
    where = f"{craft_title(worst)}, {part_name(worst.craft, worst.alarm.part)}"
    now = {entry.alarm.craft for entry in alike if not entry.dew_ahead}
    later = set() if worst.dew_ahead else craft - now
    more = f", and will on {len(later)} more" if later else ""
    return f"{what} on {len(craft - later)} craft{more}; worst on {where}"


def wettest_of(entries: Iterable[Entry]) -> Entry:
    """The one that decides what is to be done about a space's damp."""
    return min(entries, key=_wettest)


def _wettest(entry: Entry) -> tuple[bool, bool, float]:
    margin_k = math.nan if entry.assessment is None else entry.assessment.margin_k
    return math.isnan(margin_k), entry.dew_ahead, margin_k

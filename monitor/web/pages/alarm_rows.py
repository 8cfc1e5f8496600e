"""The alarms on the evening page: by cause, each with who has it and what may be done about it."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.alarms.acts.alarm_acts import LONGEST_SHELF_NEVER_MISSED
from monitor.alarms.definitions import DEFINITIONS, GRAVER, TOLD_FOR_ALL
from monitor.phrases.alarm_lines import headline_text
from monitor.phrases.causes import cause_title
from monitor.phrases.names import ALARM_STATE
from monitor.reports.alarm_groups import AlarmGroup, by_cause, pressing_first
from monitor.store.store import Transaction
from monitor.web.pages.work_rows import Holder
from monitor.wording import Wording, listed
from monitor.yard.alarm import Alarm, AlarmState

SHOWN_ALARMS = 6  # of one cause; the others are counted
_MORNING = 7  # common practice, no source: the hour at which a yard's day begins
_SHELF_FROM = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.RETURNED})
_ASKS = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED})


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmRow:
    """One alarm: what it says, who has it, and which acts it takes now."""

    id: str
    said: str
    state: str
    since: datetime
    holder: Holder | None
    asks: bool
    can_be_shelved: bool
    is_shelved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmRows:
    """The alarms of one cause, those that press most first, and how many more there are."""

    cause: str
    title: str
    count: int
    told: str  # who has how many, and how many nobody has
    rows: tuple[AlarmRow, ...]
    not_shown: int


def read_holders(tx: Transaction, alarms: Iterable[Alarm]) -> dict[str, Holder]:
    """Who has taken on each alarm that is acknowledged now."""
    held = {one.id: one for one in alarms if one.state is AlarmState.ACKNOWLEDGED}
    if not held:
        return {}
    since = min(one.changed_at for one in held.values())
    taken = tx.alarms.taken_on(since)
    return {alarm.id: Holder(person=by, at=at) for at, by, alarm in taken if alarm.id in held}


def list_alarm_rows(
    alarms: Iterable[Alarm], holders: Mapping[str, Holder], words: Wording
) -> tuple[AlarmRows, ...]:
    """The open alarms, cause by cause: what nobody has taken on first."""
    return tuple(_rows_of(group, holders, words) for group in by_cause(alarms))


def _rows_of(group: AlarmGroup, holders: Mapping[str, Holder], words: Wording) -> AlarmRows:
    in_order = pressing_first(group.alarms, words.now)
    return AlarmRows(
        cause=group.cause,
        title=cause_title(group.cause),
        count=len(in_order),
        told=_told_of(in_order, holders, words),
        rows=tuple(_row_of(one, holders.get(one.id), words) for one in in_order[:SHOWN_ALARMS]),
        not_shown=max(0, len(in_order) - SHOWN_ALARMS),
    )


def _told_of(alarms: Sequence[Alarm], holders: Mapping[str, Holder], words: Wording) -> str:
    """``Vera has 3 and 2 not answered yet; 29 told already, as ice or for the whole space``."""
    people = Counter(words.person(holders[one.id].person) for one in alarms if one.id in holders)
    states = Counter(one.state for one in alarms if one.id not in holders)
    elsewhere = states.pop(AlarmState.SUPPRESSED, 0)
    held = [f"{who} has {count}" for who, count in people.most_common()]
    told = listed([*held, *(f"{count} {ALARM_STATE[state]}" for state, count in states.items())])
    return "; ".join(filter(None, (told, told_elsewhere(elsewhere, alarms[0].cause))))


def told_elsewhere(count: int, cause: str) -> str:
    """``29 told already as ice``; empty where all are told."""
    if not count:
        return ""
    graver = [cause_title(each).lower() for each in GRAVER.get(cause, ())]
    why = [f"as {graver[0]}"] if graver else []
    if cause in TOLD_FOR_ALL:
        why.append("for the whole space")
    if why:
        return f"{count} told already, {' or '.join(why)}"
    if cause in DEFINITIONS and DEFINITIONS[cause].not_in:
        return f"{count} not told: no alarm where it stands"
    return f"{count} not told: its place is empty, or it has left"


def _row_of(alarm: Alarm, holder: Holder | None, words: Wording) -> AlarmRow:
    return AlarmRow(
        id=alarm.id,
        said=headline_text(alarm, words).rstrip("."),
        state=ALARM_STATE[alarm.state],
        since=alarm.raised_at,
        holder=holder,
        asks=alarm.state in _ASKS,
        can_be_shelved=alarm.state in _SHELF_FROM and alarm.cause in DEFINITIONS,
        is_shelved=alarm.state is AlarmState.SHELVED,
    )


def shelf_end(words: Wording) -> datetime:
    """Until when a tap puts an alarm on the shelf: the next morning, within what all may have."""
    local = words.now.astimezone(words.zone)
    morning = local.replace(hour=_MORNING, minute=0, second=0, microsecond=0)
    following = morning if morning > local else morning + timedelta(days=1)
    # The night in which clocks go back has an hour more than what must not be missed may have.
    return min(following, words.now + LONGEST_SHELF_NEVER_MISSED)

"""Many alarms in the order and the groups in which a person takes them in."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby

from monitor.yard.alarm import Alarm, AlarmState, Priority
from monitor.yard.assessment import Urgency

_HIGHEST_FIRST = {priority: rank for rank, priority in enumerate(Priority)}
_STATES = {  # what waits for a person first; what was held back on purpose last
    AlarmState.UNACKNOWLEDGED: "not acknowledged",
    AlarmState.ACKNOWLEDGED: "acknowledged",
    AlarmState.RETURNED: "over but not acknowledged",
    AlarmState.OUT_OF_SERVICE: "out of service",
    AlarmState.SHELVED: "shelved",
    AlarmState.NORMAL: "over",
    AlarmState.SUPPRESSED: "not told on purpose",
}
_IN_TURN = {state: rank for rank, state in enumerate(_STATES)}
_FAR = datetime.max.replace(tzinfo=UTC)
_HELD_BACK = frozenset({AlarmState.SUPPRESSED, AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE})


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmGroup:
    """All alarms of one cause, the oldest first."""

    cause: str
    alarms: tuple[Alarm, ...]

    @property
    def title(self) -> str:
        """The cause as a heading."""
        return self.cause.replace("-", " ").capitalize()

    @property
    def unacknowledged(self) -> int:
        """How many nobody has taken on."""
        return sum(alarm.state is AlarmState.UNACKNOWLEDGED for alarm in self.alarms)

    @property
    def suppressed_count(self) -> int:
        """How many are shelved, suppressed by design or out of service."""
        return sum(alarm.state in _HELD_BACK for alarm in self.alarms)

    @property
    def craft(self) -> tuple[str, ...]:
        """Ids of the craft that they are about, each once."""
        return tuple(dict.fromkeys(alarm.craft for alarm in self.alarms if alarm.craft))


def by_cause(alarms: Iterable[Alarm]) -> tuple[AlarmGroup, ...]:
    """Group alarms by cause: what nobody has taken on first, then by priority."""
    in_order = sorted(alarms, key=lambda alarm: (alarm.cause, alarm.raised_at, alarm.id))
    groups = (
        AlarmGroup(cause=cause, alarms=tuple(group))
        for cause, group in groupby(in_order, key=lambda alarm: alarm.cause)
    )
    return tuple(sorted(groups, key=_group_order))


def pressing_first(alarms: Iterable[Alarm], now: datetime) -> list[Alarm]:
    """Order alarms as a person takes them on: by state, by priority, by what can still be met.

    A deadline that is past comes after those ahead, the latest first: what it warned of has
    happened.
    """

    def turn(alarm: Alarm) -> tuple[int, int, bool, float, datetime, str]:
        deadline = alarm.deadline
        past = deadline is not None and deadline <= now
        if deadline is None:
            deadline = now if alarm.urgency is Urgency.IMMEDIATE else _FAR
        wait_s = abs((deadline - now).total_seconds())
        return (
            _IN_TURN[alarm.state],
            _HIGHEST_FIRST[alarm.priority],
            past,
            wait_s,
            alarm.raised_at,
            alarm.id,
        )

    return sorted(alarms, key=turn)


def tally(alarms: Iterable[Alarm]) -> str:
    """Count alarms by state: ``40 not acknowledged (38 high, 2 low), 31 not told on purpose``."""
    listed = list(alarms)
    counted = Counter(alarm.state for alarm in listed)
    waiting = Counter(a.priority for a in listed if a.state is AlarmState.UNACKNOWLEDGED)
    of_each = ", ".join(f"{waiting[one]} {one}" for one in Priority if waiting[one])
    return ", ".join(
        f"{counted[state]} {said}" + (f" ({of_each})" if state is AlarmState.UNACKNOWLEDGED else "")
        for state, said in _STATES.items()
        if counted[state]
    )


def _group_order(group: AlarmGroup) -> tuple[bool, int, str]:
    priority = min(_HIGHEST_FIRST[alarm.priority] for alarm in group.alarms)
    return (group.unacknowledged == 0, priority, group.cause)

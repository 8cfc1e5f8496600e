"""Alarms put together by cause: a cold night over a whole yard is one line, not a hundred."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from monitor.yard.alarm import Alarm, AlarmState, Priority

_HIGHEST_FIRST = {priority: rank for rank, priority in enumerate(Priority)}
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
    def held_back(self) -> int:
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


def _group_order(group: AlarmGroup) -> tuple[bool, int, str]:
    priority = min(_HIGHEST_FIRST[alarm.priority] for alarm in group.alarms)
    return (group.unacknowledged == 0, priority, group.cause)

"""Which alarms differ from their rows by as much as a person sees, and are to be written."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from math import inf

from monitor.alarms.causes.lifecycle import AlarmStep
from monitor.yard.alarm import Alarm
from monitor.yard.alarm_facts import HeadlineFacts
from monitor.yard.watch import WatchKey

_REFRESH_EVERY = timedelta(minutes=10)  # of figures in an alarm whose state is as it was
_MOVED = timedelta(minutes=15)  # a deadline that moves by more is written at once
_MOVED_LITTLE = timedelta(minutes=1)  # by less, nobody sees it
_SHARE_SEEN = 0.02  # of the time until a deadline: one far off is no news by a minute
_SEEN_C = 0.1  # the last digit of a temperature in a line


class AlarmWriteFilter:
    """Tells round by round which alarms to write, by what their rows hold.

    Whatever is no running figure is written at once. The low and the deadline of a line run on all
    night: they are written every ten minutes, of all alarms at once, and only where a person would
    see that they moved. A cold yard would else write some alarm in every round.
    """

    def __init__(self) -> None:
        """Begin with all figures due."""
        self._refreshed_at: datetime | None = None

    def choose_due(
        self, before: Mapping[WatchKey, Alarm], steps: Mapping[WatchKey, AlarmStep], now: datetime
    ) -> tuple[list[Alarm], list[Alarm]]:
        """Alarms that are new or in another state, and those whose facts alone are to be written.

        Parameters
        ----------
        before : mapping of WatchKey to Alarm
            The alarms as their rows have them.
        steps : mapping of WatchKey to AlarmStep
        now : datetime
        """
        since = self._refreshed_at
        refresh = since is None or not timedelta(0) <= now - since < _REFRESH_EVERY
        if refresh:
            self._refreshed_at = now
        in_state, facts_alone = [], []
        for key, done in steps.items():
            row, alarm = before.get(key), done.alarm
            if alarm is None or alarm == row:
                continue
            if row is None or row.state is not alarm.state:
                in_state.append(alarm)
            elif not _differs_in_figures_alone(row, alarm) or (
                refresh and _is_seen_to_move(row, alarm, now)
            ):
                facts_alone.append(alarm)
        return in_state, facts_alone


def _differs_in_figures_alone(row: Alarm, alarm: Alarm) -> bool:
    """Whether two steps of an alarm differ only in running figures, the deadline but a little."""
    if _without_figures(alarm) != _without_figures(row):
        return False
    return _moved_by(row.deadline, alarm.deadline) < _MOVED


def _without_figures(alarm: Alarm) -> Alarm:
    line = alarm.headline
    if isinstance(line, HeadlineFacts):
        line = replace(line, deadline=None, low_c=None)
    return replace(alarm, headline=line, deadline=None)


def _is_seen_to_move(row: Alarm, alarm: Alarm, now: datetime) -> bool:
    """Whether a person who reads both sees another figure."""
    was, line = row.headline, alarm.headline
    deadlines = [(row.deadline, alarm.deadline)]
    if isinstance(was, HeadlineFacts) and isinstance(line, HeadlineFacts):
        if _moved_by_c(was.low_c, line.low_c) >= _SEEN_C:
            return True
        deadlines.append((was.deadline, line.deadline))
    return any(_moved_by(old, new) >= _least_seen(new, now) for old, new in deadlines)


def _moved_by_c(old_c: float | None, new_c: float | None) -> float:
    if old_c is None or new_c is None:
        return 0.0 if old_c is new_c else inf
    return abs(new_c - old_c)


def _moved_by(old: datetime | None, new: datetime | None) -> timedelta:
    """How far a deadline moved; one that comes or goes has moved as far as there is."""
    if old is None or new is None:
        return timedelta(0) if old is new else timedelta.max
    return abs(new - old)


def _least_seen(deadline: datetime | None, now: datetime) -> timedelta:
    ahead = timedelta(0) if deadline is None else abs(deadline - now)
    return max(_MOVED_LITTLE, _SHARE_SEEN * ahead)

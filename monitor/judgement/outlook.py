"""What a public agency expected of the coming nights, issue by issue, as it was known then."""

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import nan

import numpy as np

from monitor.clock import to_ms
from monitor.yard.forecast import STALE_AFTER, PublicForecast

_WIDEST_STEP_H = 6.0  # agencies' steps widen to six hours; a longer pause is a hole
_MS_PER_H = 3_600_000.0
_KEPT = timedelta(days=60)


@dataclass(slots=True)
class Outlook:
    """All issues of one agency that are still of use, in the order in which they were known."""

    source: str = ""
    _issues: list[PublicForecast] = field(default_factory=list)

    def learn(self, issues: Iterable[PublicForecast]) -> None:
        """Take further issues in; those known already add nothing, another agency begins afresh."""
        known = {issue.issued for issue in self._issues}
        for issue in issues:
            if issue.source != self.source:
                self.source, self._issues, known = issue.source, [], set()
            if issue.issued not in known:
                known.add(issue.issued)
                insort(self._issues, issue, key=_fetched)
        if self._issues:
            oldest = self._issues[-1].fetched - _KEPT
            del self._issues[: bisect_left(self._issues, oldest, key=_fetched)]

    def low_c(self, known_at: datetime, since: datetime, until: datetime) -> float:
        """Lowest air that was expected of a stretch by what was known at one time.

        Parameters
        ----------
        known_at : datetime
            Issues that came later are not looked at, and none older than twelve hours.
        since, until : datetime
            The stretch.

        Returns
        -------
        float
            [°C], of the air as the agency means it: 2 m above open ground. NaN where no fresh
            issue covers the stretch.
        """
        newest = bisect_right(self._issues, known_at, key=_fetched) - 1
        if newest < 0 or known_at - self._issues[newest].fetched > STALE_AFTER:
            return nan
        issue = self._issues[newest]
        begin, end = to_ms(since), to_ms(until)
        at = issue.at_ms
        if at[0] > begin + _MS_PER_H or at[-1] < end - _MS_PER_H:
            return nan
        # From the value before the stretch, which holds when it begins, to the one at its end.
        first = max(int(np.searchsorted(at, begin, side="right")) - 1, 0)
        last = int(np.searchsorted(at, end, side="right"))
        if np.any(np.diff(at[first:last]) > _WIDEST_STEP_H * _MS_PER_H):
            return nan
        return float(issue.air_c[first:last].min())


def _fetched(issue: PublicForecast) -> datetime:
    return issue.fetched

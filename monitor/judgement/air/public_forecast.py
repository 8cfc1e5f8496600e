"""What a public agency expected of the coming air, issue by issue, as it was known then."""

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import nan

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.judgement.air.grid import STEP_H, Floats, SpaceAir
from monitor.yard.forecast import STALE_AFTER, PublicForecast

_WIDEST_STEP_H = 6.0  # agencies' steps widen to six hours; a longer pause is a hole
_MS_PER_H = 3_600_000.0
_KEPT = timedelta(days=60)
_AHEAD_H, _STEP_H = 24.0, 0.5
# By how much the agency is off now says little of the air half a day on (common practice).
_FADES_H = 6.0
_HOURLY = round(1.0 / STEP_H)
_PRIOR_H = 24.0  # weight of "it is right here" against the hours in which it could be compared


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingAir:
    """Outdoor air of the coming hours as an agency expects it, set to what the yard measures.

    ``error_k`` is by how much its dew point was off here over the last days, as the root of the
    mean square once its lasting error is taken out; NaN where nothing could be compared.
    """

    source: str
    hours: Floats  # (n,) after now; the first is 0
    air_c: Floats  # (n,)
    dew_point_c: Floats  # (n,)
    error_k: float
    off_k: Floats = field(default_factory=lambda: np.empty(0))  # by the hour up to now, signed
    air_off_k: Floats = field(default_factory=lambda: np.empty(0))  # the same of the air


@dataclass(slots=True)
class Outlook:
    """All issues of one agency that are still of use, in the order in which they were known."""

    source: str = ""
    _issues: list[PublicForecast] = field(default_factory=list)

    def add_issues(self, issues: Iterable[PublicForecast]) -> None:
        """Take further issues in; those known already add nothing, another agency begins afresh."""
        known = {issue.issued for issue in self._issues}
        for issue in issues:
            if issue.source != self.source:
                self.source, self._issues, known = issue.source, [], set()
            if issue.issued not in known:
                known.add(issue.issued)
                insort(self._issues, issue, key=_fetched_at)
        if self._issues:
            oldest = self._issues[-1].fetched - _KEPT
            del self._issues[: bisect_left(self._issues, oldest, key=_fetched_at)]

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
        begin, end = to_ms(since), to_ms(until)
        issue = self._newest_covering(known_at, begin, end)
        if issue is None:
            return nan
        # From the value before the stretch, which holds when it begins, to the one at its end.
        first, last = _slice_with_previous(issue.at_ms, begin, end)
        if _has_hole(issue.at_ms[first:last]):
            return nan
        return float(issue.air_c[first:last].min())

    def coming_air(self, now: datetime, outside: SpaceAir | None) -> ComingAir | None:
        """Air and dew point of the coming day, by the newest issue known at one time.

        Parameters
        ----------
        now : datetime
            Issues that came later are not looked at, and none older than twelve hours.
        outside : SpaceAir or None
            The yard's own outdoor air up to then, to which the agency's is set. None: not known.

        Returns
        -------
        ComingAir or None
            None where no fresh issue covers the whole day without a hole, or it says no dew point.

        Notes
        -----
        What the yard measures now less what the agency says of now fades within hours to its
        mean difference of the last four days: a yard may lie in a hollow or by a lake.
        """
        hours = np.arange(round(_AHEAD_H / _STEP_H) + 1, dtype=np.float64) * _STEP_H
        at_ms = to_ms(now) + np.rint(hours * _MS_PER_H).astype(np.int64)
        issue = self._newest_covering(now, int(at_ms[0]), int(at_ms[-1]))
        if issue is None:
            return None
        first, last = _slice_with_previous(issue.at_ms, int(at_ms[0]), int(at_ms[-1]))
        used = slice(first, last + 1)
        if _has_hole(issue.at_ms[used]) or not np.isfinite(issue.dew_point_c[used]).all():
            return None
        off = np.zeros((2, hours.size))
        error_k = nan
        off_k = air_off_k = np.empty(0)
        if outside is not None:
            apart = self._error_so_far(outside)
            known = np.isfinite(apart)
            lasting = np.where(known, apart, 0.0).sum(axis=1) / (known.sum(axis=1) + _PRIOR_H)
            present = np.where(known[:, -1], apart[:, -1], lasting)
            off = lasting[:, None] + (present - lasting)[:, None] * np.exp(-hours / _FADES_H)
            air_off_k, off_k = apart
            rest = (apart[1] - lasting[1])[known[1]]
            error_k = float(np.sqrt(np.mean(rest**2))) if rest.size else nan
        air_c = np.interp(at_ms, issue.at_ms, issue.air_c) + off[0]
        dew_c = np.interp(at_ms, issue.at_ms, issue.dew_point_c) + off[1]
        return ComingAir(
            source=issue.source,
            hours=hours,
            air_c=air_c,
            dew_point_c=np.minimum(dew_c, air_c),
            error_k=error_k,
            off_k=off_k,
            air_off_k=air_off_k,
        )

    def _newest_covering(self, known_at: datetime, begin: int, end: int) -> PublicForecast | None:
        """The newest issue that was known, if it is fresh and reaches over the stretch."""
        newest = bisect_right(self._issues, known_at, key=_fetched_at) - 1
        if newest < 0 or known_at - self._issues[newest].fetched > STALE_AFTER:
            return None
        issue = self._issues[newest]
        at = issue.at_ms
        if at[0] > begin + _MS_PER_H or at[-1] < end - _MS_PER_H:
            return None
        return issue

    def _error_so_far(self, outside: SpaceAir) -> Floats:
        """Own air and dew point less the forecast of them, hour by hour: (2, hours)."""
        back_h = outside.hours[::-_HOURLY][::-1]
        at_ms = to_ms(outside.now) + np.rint(back_h * _MS_PER_H).astype(np.int64)
        own = np.array([outside.mean_c, outside.dew_point_c])[:, ::-_HOURLY][:, ::-1]
        said = np.full(own.shape, nan)
        first = bisect_right(
            self._issues, outside.now + timedelta(hours=float(back_h[0])), key=_fetched_at
        )
        for issue in self._issues[max(first - 1, 0) :]:
            known = to_ms(issue.fetched)
            holds = (
                (at_ms >= max(known, int(issue.at_ms[0] - _MS_PER_H)))
                & (at_ms <= known + STALE_AFTER / timedelta(milliseconds=1))
            )  # fmt: skip
            for row, column in enumerate((issue.air_c, issue.dew_point_c)):
                said[row, holds] = np.interp(at_ms[holds], issue.at_ms, column, right=nan)
        apart: Floats = own - said
        return apart


def _slice_with_previous(at_ms: NDArray[np.int64], begin: int, end: int) -> tuple[int, int]:
    """Slice that covers [begin, end) and one value before it."""
    first = max(int(np.searchsorted(at_ms, begin, side="right")) - 1, 0)
    return first, int(np.searchsorted(at_ms, end, side="right"))


def _has_hole(at_ms: NDArray[np.int64]) -> bool:
    return bool(np.any(np.diff(at_ms) > _WIDEST_STEP_H * _MS_PER_H))


def _fetched_at(issue: PublicForecast) -> datetime:
    return issue.fetched

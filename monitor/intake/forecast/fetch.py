"""Keeps the yard's public forecast up to date; where it cannot, nothing but its age changes."""

import logging
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from random import Random

from monitor.clock import Clock, to_ms
from monitor.errors import ForecastError
from monitor.intake.forecast import met_norway, us_weather_service
from monitor.intake.forecast.asking import NOT_MODIFIED, ServiceAnswer, ask_service
from monitor.intake.forecast.document import Expected, parse_json
from monitor.intake.forecast.settings import CREDITS, Agency, ForecastSettings
from monitor.store.store import Store
from monitor.yard.forecast import ForecastAsking, PublicForecast

log = logging.getLogger("laidup.intake")

SOONEST = timedelta(minutes=15)  # whatever the agency allows: it has nothing new before
_SPREAD = timedelta(minutes=5)  # added by chance, so that yards do not all ask at once
_FIRST_WAIT, _LONGEST_WAIT = timedelta(minutes=5), timedelta(hours=3)  # after failures
_LINKS_FOR = timedelta(days=1)
# No wait is longer (asking.py takes no more than a day from an agency, and we add half as much
# again at most), so a later time was written by a clock that ran ahead.
_LONGEST_ASKED = timedelta(days=1, minutes=5)
_KEPT = timedelta(days=60)  # as far back as past nights are looked at
_AHEAD = timedelta(hours=48)


@dataclass(frozen=True, slots=True)
class _Got:
    asking: ForecastAsking
    forecast: PublicForecast | None  # None: the one at hand is still the newest


class ForecastFetch:
    """Asks one agency for one place, as often as it may and no more."""

    def __init__(
        self,
        store: Store,
        settings: ForecastSettings,
        clock: Clock,
        chance: Random | None = None,
    ) -> None:
        """Remember whom to ask; nothing is asked yet."""
        self._store = store
        self._settings = settings
        self._clock = clock
        self._chance = Random() if chance is None else chance  # noqa: S311  # spreads requests
        # When this process may ask again, by the clock that nobody sets; None: it has not asked.
        self._wait_until_s: float | None = None
        self._us = settings.agency is Agency.US_WEATHER_SERVICE
        self._place = (
            us_weather_service.place_address(settings)
            if self._us
            else met_norway.forecast_address(settings)
        )

    def run_once(self) -> bool:
        """Ask if it is time to; True if the newest forecast is at hand now.

        Nothing is asked inside a transaction. A failure is kept with its reason, and asked
        again later and later.
        """
        now, source = self._clock.now(), str(self._settings.agency)
        with self._store.snapshot() as tx:
            asking = tx.forecasts.asking_of(source)
            at_hand = tx.forecasts.newest_issue(source, now) is not None
        moved = asking.place != self._place
        if moved:
            asking = ForecastAsking(source=source, place=self._place)
        if not self._is_due(asking, now):
            return False
        if moved or not at_hand:
            asking = replace(asking, last_modified="")
        try:
            asking = self._find_link(asking, now)
            got = self._ask_agency(asking, now)
        except ForecastError as error:
            got = _Got(self._note_failure(asking, error, now), None)
        if got.asking.not_before is not None:
            wait_s = (got.asking.not_before - now).total_seconds()
            self._wait_until_s = self._clock.elapsed_s() + wait_s
        with self._store.transaction(can_wait=True) as tx:
            if moved:
                tx.forecasts.forget_source(source)
            if got.forecast is not None:
                tx.forecasts.keep_issue(got.forecast)
                tx.forecasts.thin_issues(source, got.forecast.issued, _KEPT, _AHEAD)
            tx.forecasts.set_asking(got.asking)
        return not got.asking.failures

    def next_in(self) -> timedelta:
        """How long until the agency may be asked again, by seconds that nobody sets."""
        if self._wait_until_s is None:
            return SOONEST
        return timedelta(seconds=max(self._wait_until_s - self._clock.elapsed_s(), 0.0))

    def _ask_agency(self, asking: ForecastAsking, now: datetime) -> _Got:
        # What does not work is not asked again at once: the other link next time, if there is one.
        turn = asking.failures % len(asking.links)
        since = asking.last_modified if turn == 0 else ""
        answer = self._get_address(asking.links[turn], now, since)
        wait = max(answer.fresh_for, SOONEST) + self._chance.random() * _SPREAD
        asking = replace(asking, confirmed=now, not_before=now + wait, failures=0, problem="")
        if answer.status == NOT_MODIFIED and since:
            return _Got(asking, None)
        try:
            found = self._read_answer(answer, now)
        except ForecastError as error:
            raise ForecastError(str(error), wait=answer.fresh_for) from error
        forecast = PublicForecast(
            source=asking.source,
            issued=found.issued,
            fetched=now,
            at_ms=found.at_ms,
            air_c=found.air_c,
            dew_point_c=found.dew_point_c,
        )
        log.info("A forecast of %s came from %s.", found.issued, CREDITS[self._settings.agency])
        return _Got(
            replace(asking, last_modified=answer.last_modified if turn == 0 else ""), forecast
        )

    def _read_answer(self, answer: ServiceAnswer, now: datetime) -> Expected:
        reader = us_weather_service.expected_of if self._us else met_norway.expected_of
        found = reader(parse_json(answer.body))
        if found.at_ms[-1] < to_ms(now):
            raise ForecastError("the newest forecast ends before now")
        return found

    def _find_link(self, asking: ForecastAsking, now: datetime) -> ForecastAsking:
        """Make sure that it is known where the place's forecast is."""
        if not self._us:
            return replace(asking, links=(self._place,))
        if asking.links and asking.links_until is not None and now < asking.links_until:
            return asking
        answer = self._get_address(self._place, now, "")
        links = us_weather_service.links_of(parse_json(answer.body), self._settings.address)
        until = now + max(answer.fresh_for, _LINKS_FOR)
        return replace(asking, links=links, links_until=until, last_modified="")

    def _get_address(self, url: str, now: datetime, last_modified: str) -> ServiceAnswer:
        settings = self._settings
        return ask_service(url, settings.user_agent, now, settings.timeout_s, last_modified)

    def _note_failure(
        self, asking: ForecastAsking, error: ForecastError, now: datetime
    ) -> ForecastAsking:
        if not asking.failures:
            log.warning("The public forecast cannot be had, the yard's own goes on: %s.", error)
        wait = min(_FIRST_WAIT * 2 ** min(asking.failures, 10), _LONGEST_WAIT)
        wait = max(wait * (1.0 + 0.5 * self._chance.random()), error.wait)
        return replace(
            asking,
            failures=asking.failures + 1,
            problem=str(error),
            not_before=now + wait,
            # A place's grid cell may have changed: look it up again after a few failures.
            links_until=asking.links_until if asking.failures < 3 else None,
        )

    def _is_due(self, asking: ForecastAsking, now: datetime) -> bool:
        """Whether it may be asked: what this process waits for does not hang on the wall clock."""
        if asking.not_before is None:
            return True
        if self._wait_until_s is not None:
            return self._clock.elapsed_s() >= self._wait_until_s
        return now >= asking.not_before or asking.not_before - now > _LONGEST_ASKED

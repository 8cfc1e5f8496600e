"""The coldest that a space may come to: by tonight's own range, and by an agency's nights ahead."""

from datetime import datetime
from math import inf

from monitor.clock import to_ms
from monitor.phrases.figures import figures_of
from monitor.store.store import Transaction
from monitor.yard.assessment import Assessment
from monitor.yard.cold_ahead import ColdAhead
from monitor.yard.forecast import STALE_AFTER, PublicForecast
from monitor.yard.space import WARM, Space


def cold_ahead(
    space: Space, air: Assessment | None, forecast: PublicForecast | None, at: datetime
) -> ColdAhead:
    """Find the coldest that a space may come to.

    Parameters
    ----------
    space : Space
    air : Assessment or None
        The judgement of its air; None where it was not judged.
    forecast : PublicForecast or None
        The newest; None where there is none, or it is stale.
    at : datetime
        Aware: now.

    Returns
    -------
    ColdAhead
        The colder of the cold end of tonight's range and of what the agency expects from now on;
        not known where the yard's own readings say nothing of tonight.
    """
    own_c = -inf if air is None else figures_of(air).get("low_band_low_c", -inf)
    coming_c = _coming_low_c(forecast, space, at)
    source = forecast.source if forecast is not None and coming_c < own_c else ""
    return ColdAhead(coldest_c=min(own_c, coming_c), by_forecast=source)


def newest_forecast(tx: Transaction, now: datetime) -> PublicForecast | None:
    """The public forecast that came last, unless it is stale."""
    known = tx.forecasts.known_between(now - STALE_AFTER, now)
    return max(known, key=lambda one: one.fetched, default=None)


def _coming_low_c(forecast: PublicForecast | None, space: Space, at: datetime) -> float:
    """Lowest air that an agency expects from now on; inf where it says nothing of this space.

    A building without heat gets no colder than that, and how much warmer it stays over several
    nights is not known. Of heat that works no weather tells.
    """
    if forecast is None or space.kind in WARM:
        return inf
    ahead = forecast.air_c[forecast.at_ms >= to_ms(at)]
    return float(ahead.min()) if ahead.size else inf

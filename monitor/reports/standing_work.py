"""Craft that are not laid up yet: standing work from the first day, listed until it is done.

An alarm is for a night that matters. In mild weather nobody is told every evening that a craft is
still to be drained; it stands on this list instead.
"""

import logging
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import inf

from monitor.clock import to_ms
from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import JobStep
from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.phrases.brief_job import brief_job
from monitor.phrases.figures import figures_of
from monitor.phrases.names import plain
from monitor.phrases.short_job import short_job
from monitor.phrases.step_in_words import CircuitNames, capitalize_first
from monitor.phrases.supplies import minutes_words
from monitor.store.transaction import Transaction
from monitor.wording import Wording
from monitor.yard.assessment import Assessment
from monitor.yard.forecast import STALE_AFTER, ColdAhead, PublicForecast
from monitor.yard.space import WARM, Space, Yard

_log = logging.getLogger(__name__)

_SHORT_WORDS = 12
_TOLD_STEPS = 3  # of one craft in a list; the page of the craft and its plan have them all
_LONG_AGO = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingWork:
    """One craft and the steps that still keep frost out of it, in working order."""

    craft: StoredCraft
    steps: tuple[JobStep, ...]  # none where its job could not be planned

    @property
    def minutes(self) -> float:
        """One person's time for all of them."""
        return sum(step.minutes for step in self.steps)


def list_standing_work(craft: Iterable[StoredCraft], yard: Yard) -> tuple[StandingWork, ...]:
    """Lay-up that is left on each craft, planned for the yard's own design low.

    Parameters
    ----------
    craft : iterable of StoredCraft
        Those without a record to plan from are left out.
    yard : Yard
        Its shelf, its design low, and which of its spaces are warm.

    Returns
    -------
    tuple of StandingWork
        The craft that has stood here for longest first.
    """
    found = []
    for each in craft:
        undone = _undone_circuits(each, yard)
        if each.plan_start is None or not undone:
            continue
        start = replace(each.plan_start, held=each.protection, low_c=yard.design_low_c, only=undone)
        try:
            steps = plan_from(start, yard.shelf or USUAL_SHELF).frost_steps
        except Exception:  # noqa: BLE001 - a fault of one craft costs no other anything
            _log.exception("The lay-up of %s could not be planned.", each.id)
            found.append(StandingWork(craft=each, steps=()))
            continue
        if steps:
            found.append(StandingWork(craft=each, steps=steps))
    return tuple(sorted(found, key=lambda one: (one.craft.since or _LONG_AGO, one.craft.name)))


def has_work_left(craft: StoredCraft, yard: Yard) -> bool:
    """Whether a craft is not laid up; plans nothing, so that a whole yard is counted at once."""
    return craft.plan_start is not None and bool(_undone_circuits(craft, yard))


def _undone_circuits(craft: StoredCraft, yard: Yard) -> frozenset[str]:
    """Circuits that no evidence protects; kept warm on purpose is no work left undone."""
    warm = yard.space(craft.space).kind in WARM
    done = {LayupState.PROVEN} | ({LayupState.HEAT_ONLY} if warm else set())
    return frozenset(name for name, held in craft.protection.items() if held.state not in done)


def standing_work_lines(work: Iterable[StandingWork], yard: Yard, wording: Wording) -> list[str]:
    """Each craft in one line: where it stands, since when, what is left, and how long that takes.

    Parameters
    ----------
    work : iterable of StandingWork
    yard : Yard
    wording : Wording
        Of the reader.
    """
    return [_line(one, yard, wording) for one in work]


def short_work_lines(work: Iterable[StandingWork], yard: Yard, wording: Wording) -> list[str]:
    """The same with a few words for each kind of work."""
    return [f"{plain(one.craft.name)}, {short_work(one, yard, wording)}" for one in work]


def short_work(work: StandingWork, yard: Yard, wording: Wording) -> str:
    """Where a craft stands and what is left, in a few words, to be read behind its name."""
    craft = work.craft
    where = plain(yard.space(craft.space).name)
    if not work.steps:
        return f"{where}: not laid up, and its job could not be planned. Look at its record."
    names = CircuitNames.of_craft(craft)
    job = short_job(work.steps, names, wording, _SHORT_WORDS)
    return f"{where}: {capitalize_first(job)}. {minutes_words(work.minutes)} of lay-up."


def _line(work: StandingWork, yard: Yard, wording: Wording) -> str:
    craft = work.craft
    berth = f", berth {craft.berth}" if craft.berth else ""
    since = f", here since {wording.date(craft.since)}" if craft.since is not None else ""
    where = f"{craft.name}, {yard.space(craft.space).name}{berth}{since}"
    if not work.steps:
        return f"{where}: not laid up, and its job could not be planned. Look at its record."
    job = brief_job(work.steps, CircuitNames.of_craft(craft), wording, told_steps=_TOLD_STEPS)
    return f"{where}: {capitalize_first(job)}. {work.minutes:.0f} min of work."


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
    return tx.forecasts.newest_known(now - STALE_AFTER, now)


def _coming_low_c(forecast: PublicForecast | None, space: Space, at: datetime) -> float:
    """Lowest air that an agency expects from now on; inf where it says nothing of this space.

    A building without heat gets no colder than that, and how much warmer it stays over several
    nights is not known. Of heat that works no weather tells.
    """
    if forecast is None or space.kind in WARM:
        return inf
    ahead = forecast.air_c[forecast.at_ms >= to_ms(at)]
    return float(ahead.min()) if ahead.size else inf

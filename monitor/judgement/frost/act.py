"""What a person should do about a circuit in the cold, and the care that it calls for."""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from math import floor

from monitor.craft.circuit import Circuit
from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.circuits import reading_steps
from monitor.craft.plan.one_circuit import start_of_circuit, steps_after_ice
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import JobStep
from monitor.craft.protection import LayupState, Protection
from monitor.yard.assessment import Caution, Standing
from monitor.yard.frost_facts import Occasion, PlannedAct
from monitor.yard.space import Space, SpaceKind

log = logging.getLogger("laidup.judgement")

_PLANS = 4096  # some 20 MB at most; a yard of 2,000 craft has a thousand kinds of parts
_ICED = frozenset({Standing.ICING, Standing.SOLID, Standing.SUSPECT})


def frost_act(
    standing: Standing,
    space: Space,
    circuit: Circuit,
    protection: Protection,
    shelf: Sequence[ShelfProduct],
    deadline: datetime | None,
    low_c: float,
) -> PlannedAct | None:
    """What a circuit by itself calls for; `plan_craft_acts` plans for a craft with a record.

    Parameters
    ----------
    standing : Standing
    space : Space
        Where its craft stands.
    circuit : Circuit
    protection : Protection
    shelf : sequence of ShelfProduct
        What the yard has; empty: what yards usually have.
    deadline : datetime or None
        When ice is to be expected.
    low_c : float
        Coldest that the circuit is expected to get [°C].

    Returns
    -------
    PlannedAct or None
        Its steps name no circuit; None where nothing is called for.
    """
    low_c = planned_low(low_c)
    if standing in _ICED:
        frozen = standing in {Standing.ICING, Standing.SOLID}
        steps = _steps_after_ice(circuit, protection, low_c, tuple(shelf or USUAL_SHELF), frozen)
        by = deadline if protection.state is LayupState.PROVEN else None
        return PlannedAct(occasion=Occasion.AFTER_ICE, steps=steps, by=by)
    if standing not in {Standing.EXPOSED, Standing.THIN}:
        return None
    shelf = tuple(shelf or USUAL_SHELF)
    if standing is Standing.THIN and protection.state is LayupState.PROVEN:
        read = _steps_to_read(circuit, protection, low_c)
        return PlannedAct(occasion=Occasion.WHEN_CONVENIENT, steps=read)
    steps = _steps_before_ice(circuit, protection, low_c, shelf)
    if standing is Standing.THIN:
        return PlannedAct(occasion=Occasion.BEFORE_COLDER_NIGHT, steps=steps)
    waits = protection.state is LayupState.HEAT_ONLY and space.kind is SpaceKind.HEATED
    occasion = Occasion.OR_HEAT_BACK if waits else Occasion.BEFORE_ICE
    return PlannedAct(occasion=occasion, steps=steps, by=deadline)


def plan_frost_steps(start: PlanStart, shelf: Sequence[ShelfProduct]) -> tuple[JobStep, ...]:
    """The steps of a plan that keep frost out; none where it fails, which the log tells.

    A fault in the plan of one craft costs its warning the act, and no other craft anything.

    Parameters
    ----------
    start : PlanStart
    shelf : sequence of ShelfProduct
        What the yard has; empty: what yards usually have.
    """
    try:
        return plan_from(start, shelf or USUAL_SHELF).frost_steps
    except Exception:
        log.exception("A job against frost could not be planned for %s.", start.profile.id)
        return ()


def planned_low(low_c: float) -> float:
    """The low that a job is planned for [°C]: in whole degrees, so that a plan stays as told.

    Rounded to the cold side. Water that is to be exactly as cold as its ice point is threatened,
    too.
    """
    return float(floor(min(low_c, -0.1)))


# A plan depends on what it is made from, and not on the minute: each of these is made once. The low
# is of whole degrees, so of one circuit there are few; steps name no circuit, so equal ones share.


@lru_cache(maxsize=_PLANS)
def _steps_to_read(circuit: Circuit, protection: Protection, low_c: float) -> tuple[JobStep, ...]:
    start = start_of_circuit(circuit, protection, low_c)
    return _of_itself(reading_steps(start, list(start.profile.circuits)))


@lru_cache(maxsize=_PLANS)
def _steps_before_ice(
    circuit: Circuit, protection: Protection, low_c: float, shelf: tuple[ShelfProduct, ...]
) -> tuple[JobStep, ...]:
    return _of_itself(plan_frost_steps(start_of_circuit(circuit, protection, low_c), shelf))


@lru_cache(maxsize=_PLANS)
def _steps_after_ice(
    circuit: Circuit,
    protection: Protection,
    low_c: float,
    shelf: tuple[ShelfProduct, ...],
    frozen: bool,
) -> tuple[JobStep, ...]:
    return _of_itself(steps_after_ice(circuit, protection, low_c, shelf, frozen=frozen))


def _of_itself(steps: Iterable[JobStep]) -> tuple[JobStep, ...]:
    return tuple(replace(step, circuits=()) for step in steps)


def frost_cautions(standing: Standing, space: Space) -> tuple[Caution, ...]:
    """The care that these acts call for."""
    if standing in _ICED:
        return (Caution.HEATERS, Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR)
    if standing is Standing.EXPOSED:
        indoors = space.kind in {SpaceKind.HEATED, SpaceKind.COLD, SpaceKind.WRAPPED}
        running = (Caution.CARBON_MONOXIDE,) if indoors else ()
        return (Caution.GLYCOL, *running, Caution.FUEL_VAPOUR)
    return ()

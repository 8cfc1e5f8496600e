"""One act for each craft that the frost threatens: its whole job, in working order."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import JobStep
from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.judgement.frost.act import plan_frost_steps, planned_low
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.space import SpaceKind, Yard

Exposed = Mapping[str, Assessment]  # by circuit: judgements of one craft that call for treatment


class KnownPlans:
    """The last plan of each craft, kept until something that it was made from differs.

    A plan depends on the record, the profile, the shelf and the low in whole degrees, and not on
    the minute. All of that is compared, so whatever a person enters voids it at once.
    """

    def __init__(self, at_most: int) -> None:
        self._at_most = at_most
        self._made: dict[
            tuple[str, str], tuple[PlanStart, Sequence[ShelfProduct], tuple[JobStep, ...]]
        ] = {}

    def forget_plans(self) -> None:
        """Forget every plan."""
        self._made.clear()

    def steps_from(self, start: PlanStart, yard: Yard) -> tuple[JobStep, ...]:
        """What `plan_frost_steps` says of a start, by the yard's shelf."""
        craft = (yard.id, start.craft)
        known = self._made.get(craft)
        if known is None or known[0] != start or known[1] != yard.shelf:
            if len(self._made) >= self._at_most:
                self._made.clear()
            known = start, yard.shelf, plan_frost_steps(start, yard.shelf)
        # The newest start is kept in any case: what shares its parts is compared in no time.
        self._made[craft] = start, yard.shelf, known[2]
        return known[2]


KNOWN_PLANS = KnownPlans(at_most=8192)  # of all yards that this process judges


def is_led(judged: Assessment) -> bool:
    """Whether a craft's job says what is to be done about it."""
    return judged.hazard is Hazard.FROST and judged.standing is Standing.EXPOSED


def plan_craft_acts(
    exposed: Mapping[str, Exposed], craft: Iterable[StoredCraft], yard: Yard
) -> dict[str, PlannedAct]:
    """The whole job against the frost of each craft that the coming low threatens.

    Parameters
    ----------
    exposed : mapping of Exposed by craft
        See `is_led`.
    craft : iterable of StoredCraft
        Those without a record to plan from get none, and neither do those that lost heat is to
        be got back for: each of their circuits keeps the act that was planned for it.
    yard : Yard
    """
    found = {}
    for each in craft:
        threatened = exposed.get(each.id)
        if not threatened or each.plan_start is None or _waits_for_heat(each, threatened, yard):
            continue
        start = replace(
            each.plan_start,
            held=each.protection,
            # Done once, and for the winter: a mix just strong enough for tonight is weak tomorrow.
            low_c=planned_low(min(yard.design_low_c, *(_coldest(o) for o in threatened.values()))),
            only=frozenset(threatened),
        )
        steps = KNOWN_PLANS.steps_from(start, yard)
        if steps:
            hours = (one.deadline for one in threatened.values() if one.deadline)
            assumed = any(map(_looks_first, threatened.values()))
            found[each.id] = PlannedAct(
                occasion=Occasion.IF_IT_RUNS if assumed else Occasion.BEFORE_ICE,
                steps=steps,
                by=min(hours, default=None),
            )
    return found


def _coldest(judged: Assessment) -> float:
    """The cold end of the range in which a circuit's low is expected."""
    facts = judged.facts
    return facts.low_band_low_c if isinstance(facts, FrostFacts) else judged.low_c


def _looks_first(judged: Assessment) -> bool:
    """Whether ice may be in it already: one such part, and nothing of the craft is run before."""
    return isinstance(judged.facts, FrostFacts) and judged.facts.ice_is_assumed


def _waits_for_heat(craft: StoredCraft, threatened: Exposed, yard: Yard) -> bool:
    heated = yard.space(craft.space).kind is SpaceKind.HEATED
    states = (craft.protection[name].state for name in threatened)
    return heated and any(state is LayupState.HEAT_ONLY for state in states)


def with_job(judged: Assessment, jobs: Mapping[str, PlannedAct]) -> Assessment:
    """The same judgement, with its craft's whole job for an act."""
    job = jobs.get(judged.subject.craft)
    if job is None or not is_led(judged) or not isinstance(judged.facts, FrostFacts):
        return judged
    return replace(judged, facts=replace(judged.facts, act=job))

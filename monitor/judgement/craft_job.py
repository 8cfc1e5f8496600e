"""One act for each craft that the frost threatens: the first steps of its whole job."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.judgement.frost.act import before_deadline
from monitor.judgement.speech import Speech, join_sentence
from monitor.phrases.brief_job import brief_job
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.space import SpaceKind

Exposed = Mapping[str, Assessment]  # by circuit: judgements of one craft that call for treatment


@dataclass(frozen=True, slots=True)
class LeadJob:
    """What is to be done to one craft before the frost, and one person's time for it."""

    act: str
    minutes: float


def is_led(judged: Assessment) -> bool:
    """Whether a craft's job says what is to be done about it."""
    return judged.hazard is Hazard.FROST and judged.standing is Standing.EXPOSED


def lead_jobs(
    exposed: Mapping[str, Exposed], craft: Iterable[StoredCraft], speech: Speech
) -> dict[str, LeadJob]:
    """The job of each craft that the coming low threatens.

    Parameters
    ----------
    exposed : mapping of Exposed by craft
        See `is_led`.
    craft : iterable of StoredCraft
        Those without a record to plan from get none, and neither do those that lost heat is to
        be got back for: each of their circuits keeps the act that was said of it.
    speech : Speech
    """
    found = {}
    for each in craft:
        threatened = exposed.get(each.id)
        if not threatened or each.plan_start is None or _waits_for_heat(each, threatened, speech):
            continue
        start = replace(
            each.plan_start,
            held=each.protection,
            # Done once, and for the winter: a mix just strong enough for tonight is weak tomorrow.
            low_c=min(speech.yard.design_low_c, *(_coldest(one) for one in threatened.values())),
            only=frozenset(threatened),
        )
        steps = plan_from(start, speech.yard.shelf or USUAL_SHELF).frost_steps
        if not steps:
            continue
        deadline = min((one.deadline for one in threatened.values() if one.deadline), default=None)
        job = brief_job(steps, start.profile, speech)
        found[each.id] = LeadJob(
            act=join_sentence(f"{before_deadline(speech, deadline)}, {job}."),
            minutes=sum(step.minutes for step in steps),
        )
    return found


def _coldest(judged: Assessment) -> float:
    """The cold end of the range in which a circuit's low is expected."""
    facts = judged.facts
    return facts.low_band_low_c if isinstance(facts, FrostFacts) else judged.low_c


def _waits_for_heat(craft: StoredCraft, threatened: Exposed, speech: Speech) -> bool:
    heated = speech.yard.space(craft.space).kind is SpaceKind.HEATED
    states = (craft.protection[name].state for name in threatened)
    return heated and any(state is LayupState.HEAT_ONLY for state in states)


def with_job(judged: Assessment, jobs: Mapping[str, LeadJob]) -> Assessment:
    """The same judgement, with its craft's job for an act."""
    job = jobs.get(judged.subject.craft)
    if job is None or not is_led(judged) or not isinstance(judged.facts, FrostFacts):
        return judged
    return replace(judged, facts=replace(judged.facts, act=job.act))

"""From facts to faults: the one place that says what counts as a fault of the watch."""

from collections.abc import Iterator
from datetime import timedelta

from monitor.health.store_faults import HealthFacts, ObservedFault, faults_in_store, faults_of_store
from monitor.phrases.own_condition import (
    job_act,
    job_fault_line,
)
from monitor.yard.health import (
    HealthFaultKind,
    JobName,
)
from monitor.yard.space import Yard

_LOOK_AT_LOG = "Look into laidup's log for the reason; a restart mends what hangs."


def faults_of(facts: HealthFacts, yard: Yard, judged_old_after: timedelta) -> list[ObservedFault]:
    """Every fault there is in the facts, the gravest first.

    Parameters
    ----------
    facts : HealthFacts
    yard : Yard
    judged_old_after : timedelta
        A judgement older than this, by the daemon's clock, is a fault.
    """
    found = [
        *faults_of_store(facts),
        *_faults_of_parts(facts),
        *_faults_of_broker(facts),
        *_faults_of_channels(facts),
        *(_fault_of_job(job, problem) for job, problem in facts.jobs.items()),
    ]
    if facts.probe.seen is not None:
        found += faults_in_store(facts.probe.seen, facts, yard, judged_old_after)
    return sorted(found, key=lambda one: not one.is_grave)


def _faults_of_parts(facts: HealthFacts) -> Iterator[ObservedFault]:
    for part, why in sorted(facts.parts.items()):
        yield ObservedFault(
            kind=HealthFaultKind.PROCESS,
            part=part,
            what=f"The {part} is not well: {why}.",
            remedy=_LOOK_AT_LOG,
            is_grave=True,
        )


def _faults_of_broker(facts: HealthFacts) -> Iterator[ObservedFault]:
    if facts.away:
        yield ObservedFault(
            kind=HealthFaultKind.BROKER, what=facts.away, remedy=facts.away_remedy, is_grave=True
        )
    elif facts.catching_up:
        yield ObservedFault(
            kind=HealthFaultKind.BACKLOG,
            what="Messages that had waited in the broker are still being taken in: what is judged"
            " may be older than what is measured.",
            remedy="Wait for it to end; it is taken as fast as the store takes it.",
        )


def _faults_of_channels(facts: HealthFacts) -> Iterator[ObservedFault]:
    stuck = () if facts.probe.seen is None else facts.probe.seen.stuck
    for trouble in stuck:
        yield ObservedFault(
            kind=HealthFaultKind.MESSAGES,
            part=trouble.channel,
            what=f"{_count(trouble.messages, 'message')} by {trouble.channel} do not leave:"
            f" {facts.channels.get(trouble.channel) or trouble.detail}.",
            remedy=_try_channel(trouble.channel),
            is_grave=True,
            since=trouble.since,
        )
    for channel, why in sorted(facts.channels.items()):
        if not any(trouble.channel == channel for trouble in stuck):
            yield ObservedFault(
                kind=HealthFaultKind.MESSAGES,
                part=channel,
                what=f"Messages by {channel} do not leave just now: {why}.",
                remedy=_try_channel(channel),
            )


def _try_channel(channel: str) -> str:
    return f"`laidup check` tries {channel} and says what to mend; laidup keeps trying too."


def _fault_of_job(job: JobName, problem: str) -> ObservedFault:
    return ObservedFault(
        kind=HealthFaultKind.JOB,
        part=job,
        what=job_fault_line(job, problem),
        remedy=job_act(job),
    )


def _count(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"

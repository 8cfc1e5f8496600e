"""What will freeze: every circuit of a space against the coming low, from its lay-up record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import inf, isfinite
from typing import Any

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.stored import StoredCraft
from monitor.judgement.air import SpaceAir
from monitor.judgement.course import Body, Course, Driver, courses, driver, probed
from monitor.judgement.freeze_act import frost_act, frost_cautions
from monitor.judgement.freeze_case import Case, body_of, is_mixed
from monitor.judgement.freeze_memory import (
    Before,
    Part,
    handed_on,
    iced_by,
    not_looked_into,
)
from monitor.judgement.freeze_words import shared_basis
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.space import SpaceKind

# Sensor, gradient inside the space and the lag's own error (common practice, no source).
MARGIN_K = 2.0
SOON_H = 8.0  # an evening's work: what must be done before the night


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostView:
    """All that one space's circuits are judged by."""

    air: SpaceAir
    night: Tonight | None
    speech: Speech
    probes_c: dict[Part, float]  # what a probe in the circuit reads now
    before: Mapping[Part, Before]  # what the round before said of each circuit


def judge_frost(
    views: Mapping[str, FrostView], craft: Mapping[str, Sequence[StoredCraft]]
) -> dict[str, list[Assessment]]:
    """Judge every circuit of the craft in every space.

    Parameters
    ----------
    views : mapping of FrostView by space
    craft : mapping of sequence of StoredCraft by space
        Those that stand in it.

    Returns
    -------
    dict
        By space: one assessment a circuit, in the craft's order.
    """
    drives = {
        space: driver(view.air, view.night, view.speech.yard)
        for space, view in views.items()
        if view.night is not None
    }
    wanted = {space: _wanted(craft.get(space, ()), drive) for space, drive in drives.items()}
    found = courses(
        drives, {space: [body for *_, body in each if body] for space, each in wanted.items()}
    )
    return {
        space: _judge_space(view, view.night, drives[space], wanted[space], found[space])
        if view.night is not None
        else [
            _not_known(view, each, circuit)
            for each in craft.get(space, ())
            for circuit in each.circuits
        ]
        for space, view in views.items()
    }


_Wanted = tuple[StoredCraft, Circuit, Body | None]  # None: drained, nothing in it to follow


def _wanted(craft: Sequence[StoredCraft], drive: Driver) -> list[_Wanted]:
    found: list[_Wanted] = []
    for each in craft:
        since_h = _since_h(each, drive)
        for circuit in each.circuits:
            held = each.protection[circuit.id]
            drained = held.basis is Basis.DRAINED
            found.append((each, circuit, None if drained else body_of(circuit, held, since_h)))
    return found


def _judge_space(
    view: FrostView,
    night: Tonight,
    drive: Driver,
    wanted: Sequence[_Wanted],
    found: Mapping[Body, Course],
) -> list[Assessment]:
    verdicts: dict[tuple[object, ...], _Verdict] = {}
    judged = []
    for each, circuit, body in wanted:
        protection = each.protection[circuit.id]
        if body is None:
            judged.append(_drained(view, each, circuit, protection))
            continue
        part = (each.id, circuit.id)
        probe_c = view.probes_c.get(part)
        course = found[body] if probe_c is None else probed(drive, body, probe_c)
        iced = iced_by(
            view.air.now, view.before.get(part), protection, course, mixed=is_mixed(body)
        )
        key = (*_alike(circuit, protection), body, iced, probe_c)
        verdict = verdicts.get(key)
        if verdict is None:
            case = Case(
                circuit=circuit,
                protection=protection,
                body=body,
                course=course,
                is_probed=probe_c is not None,
                iced=iced,
            )
            verdict = verdicts[key] = _verdict(view, night, case)
        why = protection.why.rstrip(". ")
        judged.append(
            Assessment(
                subject=Subject(each.space, each.id, circuit.id),
                hazard=Hazard.FROST,
                at=view.air.now,
                basis=sentence(f"{circuit.name}: {why}; {verdict.tail}"),
                **verdict.fields,
            )
        )
    return judged


@dataclass(frozen=True, slots=True)
class _Verdict:
    fields: dict[str, Any]
    tail: str


def _alike(circuit: Circuit, protection: Protection) -> tuple[object, ...]:
    """Circuits that are equal in all this get one and the same verdict."""
    made = (circuit.name, circuit.volume_l, circuit.drainage)
    holds = (protection.state, protection.basis, protection.liquid, protection.burst_point_c)
    return (*made, *holds, protection.glycol_mass_fraction)


def _since_h(craft: StoredCraft, drive: Driver) -> float:
    """When the craft came into this air, if that was within the hours looked at."""
    if craft.since is None:
        return -inf
    since_h = (craft.since - drive.now) / timedelta(hours=1)
    # At the latest now: else a move that is entered ahead of time would leave no air at all.
    return min(since_h, 0.0) if since_h > drive.hours[0] else -inf


def _verdict(view: FrostView, night: Tonight, case: Case) -> _Verdict:
    course, body, now = case.course, case.body, view.air.now
    standing = _standing(case)
    # Slush in a mix is no deadline yet: a third of it ice is.
    due_h = course.locked_h if case.mixed else course.first_ice_h
    deadline = now + timedelta(hours=due_h) if isfinite(due_h) else None
    through = isfinite(course.frozen_through_h) and not case.mixed
    urgency, severity = _weight(standing, due_h)
    space = view.air.space
    return _Verdict(
        {
            "standing": standing,
            "act": frost_act(standing, space, case.circuit, case.protection, view.speech, deadline),
            "now_c": course.now_c,
            "low_c": course.low_c,
            "low_at": now + timedelta(hours=course.low_h),
            "limit_c": body.ice_point_c,
            "burst_c": case.protection.burst_point_c,
            "margin_k": course.low_c - body.ice_point_c,
            "deadline": deadline,
            "ends": now + timedelta(hours=course.frozen_through_h) if through else None,
            "urgency": urgency,
            "severity": severity,
            "certainty": _certainty(standing, case),
            "cautions": frost_cautions(standing, space),
            "figures": _figures(night, case),
        },
        shared_basis(view.air, night, case, standing, view.speech),
    )


def _figures(night: Tonight, case: Case) -> dict[str, float]:
    course, body = case.course, case.body
    known = {
        "lag_h": body.lag_h,
        "unknown_share": course.unknown_share,
        "ice_fraction": case.ice_at(course.now_c),
        "ice_fraction_at_low": case.ice_at(course.low_c),
        "air_low_c": night.low_c,
        "first_ice_in_h": course.first_ice_h,
    }
    if case.mixed:
        known["third_ice_c"] = body.locked_c
        known["third_ice_in_h"] = course.locked_h
    else:
        known["frozen_through_in_h"] = course.frozen_through_h
    known |= handed_on(case.iced)
    return {name: value for name, value in known.items() if isfinite(value)}


def _standing(case: Case) -> Standing:
    body, course = case.body, case.course
    if case.mixed:
        if course.now_c <= body.locked_c:
            return Standing.ICING
        if course.low_c <= body.locked_c:
            return Standing.EXPOSED
        if case.iced.at is not None:
            return Standing.SUSPECT
        if course.now_c <= body.ice_point_c:
            return Standing.SLUSH
    else:
        if course.ice_fraction >= 1.0:
            return Standing.SOLID
        if course.now_c <= body.ice_point_c or course.ice_fraction > 0.0:
            return Standing.ICING
        if case.iced.at is not None:
            return Standing.SUSPECT
        if course.low_c <= body.ice_point_c:
            return Standing.EXPOSED
    near = min(course.low_c - MARGIN_K, course.guessed_low_c)
    return Standing.THIN if near < body.ice_point_c else Standing.HOLDING


def _weight(standing: Standing, due_h: float) -> tuple[Urgency, Severity]:
    if standing in {Standing.ICING, Standing.SOLID}:
        return Urgency.IMMEDIATE, Severity.SEVERE
    if standing is Standing.SUSPECT:
        return Urgency.EXPECTED, Severity.SEVERE
    if standing is Standing.EXPOSED:
        soon = due_h <= SOON_H
        return (Urgency.EXPECTED if soon else Urgency.FUTURE), Severity.SEVERE
    return Urgency.FUTURE, Severity.MINOR


def _certainty(standing: Standing, case: Case) -> Certainty:
    if case.is_probed and standing in {Standing.ICING, Standing.SOLID}:
        return Certainty.OBSERVED
    return Certainty.POSSIBLE if case.start_is_guessed else Certainty.LIKELY


def _drained(
    view: FrostView, each: StoredCraft, circuit: Circuit, protection: Protection
) -> Assessment:
    return Assessment(
        subject=Subject(each.space, each.id, circuit.id),
        hazard=Hazard.FROST,
        standing=Standing.HOLDING,
        at=view.air.now,
        basis=sentence(f"{circuit.name}: {protection.why.rstrip('. ')}; nothing in it can freeze."),
        limit_c=-inf,
        burst_c=-inf,
        margin_k=inf,
        urgency=Urgency.FUTURE,
        severity=Severity.MINOR,
        certainty=Certainty.LIKELY,
    )


def _not_known(view: FrostView, each: StoredCraft, circuit: Circuit) -> Assessment:
    protection = each.protection[circuit.id]
    if protection.basis is Basis.DRAINED:
        return _drained(view, each, circuit, protection)
    part = (each.id, circuit.id)
    before = view.before.get(part)
    iced = not_looked_into(protection, before)
    standing = Standing.SUSPECT if iced.at else Standing.NOT_KNOWN
    space = view.air.space
    risk = Severity.MODERATE if space.kind is not SpaceKind.HEATED else Severity.SEVERE
    return Assessment(
        subject=Subject(each.space, each.id, circuit.id),
        hazard=Hazard.FROST,
        standing=standing,
        at=view.air.now,
        basis=sentence(
            f"{circuit.name}: {protection.why.rstrip('. ')}.",
            f"No air reading from {space.name} for two hours, so nobody knows how cold it is.",
        ),
        act=f"Read a thermometer in {space.name} by hand and mend its sensor.",
        limit_c=protection.ice_point_c,
        burst_c=protection.burst_point_c,
        urgency=Urgency.UNKNOWN,
        severity=Severity.MINOR if protection.state is LayupState.PROVEN else risk,
        certainty=Certainty.UNKNOWN,
        cautions=frost_cautions(standing, space),
        figures=handed_on(iced),
    )

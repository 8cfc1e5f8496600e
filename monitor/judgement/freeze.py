"""What will freeze: every circuit of a space against the coming low, from its lay-up record."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import inf, isfinite
from typing import Any

import numpy as np

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.stored import StoredCraft
from monitor.judgement.air import SpaceAir
from monitor.judgement.course import Body, Course, Driver, courses, driver, probed
from monitor.judgement.freeze_act import frost_act, frost_cautions
from monitor.judgement.sky import sky_loss
from monitor.judgement.slush import COMPUTED_SHORT, locked_point, short_of_glycol, slush_share
from monitor.judgement.speech import Speech, sentence
from monitor.judgement.tonight import Tonight
from monitor.wording import FREEZING
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

MARGIN_K = 2.0  # sensor, gradient inside the space and the lag's own error (common practice)
SOON_H = 8.0  # an evening's work: what must be done before the night
_GUESS_SHARE = 0.1  # above it the start of the lag still counts
# Figures that the next round is handed on: last time at which the circuit was computed to hold
# ice as water, and at which a third of a mix in it was ice.
ICED_AT = "iced_at_unix_s"
THIRD_ICE_AT = "third_ice_at_unix_s"

Part = tuple[str, str]  # a craft's id and one of its circuits'


@dataclass(frozen=True, slots=True)
class Iced:
    """Ice that a circuit has been through and that nobody has looked into since."""

    as_water_at: datetime | None = None  # last time; only an inspection ends it
    as_mix_at: datetime | None = None  # last time at a third of ice; a sample read ends it too

    @property
    def at(self) -> datetime | None:
        """The last of both."""
        return max((at for at in (self.as_water_at, self.as_mix_at) if at), default=None)


@dataclass(frozen=True, slots=True)
class Before:
    """What an earlier round said of one circuit."""

    at: datetime
    iced: Iced


def remembered(earlier: Iterable[Assessment]) -> dict[Part, Before]:
    """What the round before knew of ice, by craft and circuit, wherever the craft stood."""
    return {
        (each.subject.craft, each.subject.part): Before(
            each.at, Iced(_time(each, ICED_AT), _time(each, THIRD_ICE_AT))
        )
        for each in earlier
        if each.hazard is Hazard.FROST
    }


def _time(judged: Assessment, figure: str) -> datetime | None:
    at_s = judged.figures.get(figure)
    return None if at_s is None else datetime.fromtimestamp(at_s, UTC)


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
            found.append((each, circuit, None if drained else _body(circuit, held, since_h)))
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
        iced = _iced(view, part, protection, body, course)
        key = (*_alike(circuit, protection), body, iced, probe_c)
        verdict = verdicts.get(key)
        if verdict is None:
            case = _Case(
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """One kind of circuit in one kind of state; many craft share it."""

    circuit: Circuit
    protection: Protection
    body: Body
    course: Course
    is_probed: bool
    iced: Iced

    @property
    def mixed(self) -> bool:
        """Whether it is a mix that turns to slush before its ice counts."""
        return self.body.locked_c < self.body.ice_point_c


@dataclass(frozen=True, slots=True)
class _Verdict:
    fields: dict[str, Any]
    tail: str


def _alike(circuit: Circuit, protection: Protection) -> tuple[object, ...]:
    """Circuits that are equal in all this get one and the same verdict."""
    made = (circuit.name, circuit.volume_l, circuit.drainage)
    holds = (protection.state, protection.basis, protection.liquid, protection.burst_point_c)
    return (*made, *holds, protection.glycol_mass_fraction)


def _iced(view: FrostView, part: Part, protection: Protection, body: Body, course: Course) -> Iced:
    """Ice that it was computed or entered to hold, as far as nobody has looked since."""
    before = view.before.get(part)
    last: datetime | None = None
    if isfinite(course.iced_last_h):
        # Only what came since the last round: before it the craft may have stood elsewhere.
        at = view.air.now + timedelta(hours=course.iced_last_h)
        if before is None or at >= before.at or course.iced_last_h == 0.0:
            last = at
    mixed = body.locked_c < body.ice_point_c
    return _not_looked_into(
        protection, before, as_water=None if mixed else last, as_mix=last if mixed else None
    )


def _not_looked_into(
    protection: Protection,
    before: Before | None,
    as_water: datetime | None = None,
    as_mix: datetime | None = None,
) -> Iced:
    """What of this and of all that is remembered no person has ended.

    A mix that was a third ice may have lost glycol, and a plug of it may have done harm: a sample
    read again ends that. Water that was ice must be inspected, whatever is poured in afterwards.
    """
    known = Iced() if before is None else before.iced
    looked = [protection.inspected_at]
    water = _newest(protection.suspect_since, known.as_water_at, as_water, after=looked)
    looked.append(protection.sampled_at)
    return Iced(water, _newest(known.as_mix_at, as_mix, after=looked))


def _newest(*times: datetime | None, after: Iterable[datetime | None]) -> datetime | None:
    ended = max((at for at in after if at is not None), default=None)
    return max(
        (at for at in times if at is not None and (ended is None or at > ended)), default=None
    )


def _since_h(craft: StoredCraft, drive: Driver) -> float:
    """When the craft came into this air, if that was within the hours looked at."""
    if craft.since is None:
        return -inf
    since_h = (craft.since - drive.now) / timedelta(hours=1)
    # At the latest now: else a move that is entered ahead of time would leave no air at all.
    return min(since_h, 0.0) if since_h > drive.hours[0] else -inf


def _body(circuit: Circuit, protection: Protection, since_h: float) -> Body:
    point_c, glycol = _counted_on(protection)
    return Body(
        lag_h=circuit.lag_low_h,
        heat_capacity_kj_k=circuit.heat_capacity_kj_k,
        liquid_kg=circuit.volume_l,
        ice_point_c=point_c,
        locked_c=locked_point(point_c, protection.liquid, glycol),
        since_h=since_h,
    )


def _counted_on(protection: Protection) -> tuple[float, float | None]:
    """Ice point and share of glycol that the judgement counts on: those on record, or fewer."""
    point_c, glycol = protection.ice_point_c, protection.glycol_mass_fraction
    if protection.basis is not Basis.COMPUTED:
        return point_c, glycol
    return short_of_glycol(point_c, protection.liquid, glycol)


def _verdict(view: FrostView, night: Tonight, case: _Case) -> _Verdict:
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
            "certainty": _certainty(standing, course, is_probed=case.is_probed),
            "cautions": frost_cautions(standing, space),
            "figures": _figures(night, case),
        },
        _tail(view, night, case, standing),
    )


def _figures(night: Tonight, case: _Case) -> dict[str, float]:
    course, body = case.course, case.body
    known = {
        "lag_h": body.lag_h,
        "unknown_share": course.unknown_share,
        "ice_fraction": _ice_at(case, course.now_c),
        "ice_fraction_at_low": _ice_at(case, course.low_c),
        "air_low_c": night.low_c,
        "first_ice_in_h": course.first_ice_h,
    }
    if case.mixed:
        known["third_ice_c"] = body.locked_c
        known["third_ice_in_h"] = course.locked_h
    else:
        known["frozen_through_in_h"] = course.frozen_through_h
    known |= _handed_on(case.iced)
    return {name: value for name, value in known.items() if isfinite(value)}


def _handed_on(iced: Iced) -> dict[str, float]:
    times = {ICED_AT: iced.as_water_at, THIRD_ICE_AT: iced.as_mix_at}
    return {name: at.timestamp() for name, at in times.items() if at is not None}


def _standing(case: _Case) -> Standing:
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


def _ice_at(case: _Case, at_c: float) -> float:
    """Share that is ice: by the lever rule in a mix, by the latent heat in water."""
    if not case.mixed:
        return case.course.ice_fraction
    if at_c >= case.body.ice_point_c:
        return 0.0
    _, glycol = _counted_on(case.protection)
    return slush_share(case.body.ice_point_c, case.protection.liquid, glycol, at_c)


def _weight(standing: Standing, due_h: float) -> tuple[Urgency, Severity]:
    if standing in {Standing.ICING, Standing.SOLID}:
        return Urgency.IMMEDIATE, Severity.SEVERE
    if standing is Standing.SUSPECT:
        return Urgency.EXPECTED, Severity.SEVERE
    if standing is Standing.EXPOSED:
        soon = due_h <= SOON_H
        return (Urgency.EXPECTED if soon else Urgency.FUTURE), Severity.SEVERE
    return Urgency.FUTURE, Severity.MINOR


def _certainty(standing: Standing, course: Course, *, is_probed: bool) -> Certainty:
    if is_probed and standing in {Standing.ICING, Standing.SOLID}:
        return Certainty.OBSERVED
    return Certainty.POSSIBLE if course.unknown_share > _GUESS_SHARE else Certainty.LIKELY


def _tail(view: FrostView, night: Tonight, case: _Case, standing: Standing) -> str:
    """What it can stand and what is coming: the half of the basis that others share."""
    say, course, body = view.speech, case.course, case.body
    computed = case.protection.basis is Basis.COMPUTED
    short = f", {COMPUTED_SHORT:.0%} less glycol allowed for" if computed else ""
    holds = (
        f"judged as plain water, ice at {FREEZING}"
        if case.protection.state is not LayupState.PROVEN
        else f"first ice at {say.temperature(body.ice_point_c)} ({case.protection.basis}{short})"
    )
    if case.mixed:
        holds += f", a third of it ice at {say.temperature(body.locked_c)}"
    how = (
        "its own probe"
        if case.is_probed
        else f"computed with a lag of {body.lag_h:g} h behind the coldest air"
    )
    low_at = view.air.now + timedelta(hours=course.low_h)
    parts = [
        f"{holds}. Inside {say.temperature(course.now_c)} now, {say.temperature(course.low_c)}"
        f" at the lowest about {say.clock(low_at)} ({how}).",
        f"{view.air.space.name} to {say.temperature(night.low_c)}{_sky(view, night, case)}:"
        f" {night.how}.",
    ]
    water = case.protection.state is not LayupState.PROVEN
    if water and isfinite(night.zero_without_heat_h):
        parts.append(
            "It is safe only while the space is heated: without heat the air would reach"
            f" {FREEZING} in about {night.zero_without_heat_h:.0f} h."
        )
    if course.unknown_share > _GUESS_SHARE:
        parts.append("How cold it was before the readings began is not known.")
    if standing is Standing.SUSPECT and case.mixed and case.iced.as_mix_at is not None:
        parts.append(
            f"A third of it or more was ice at {say.clock(case.iced.as_mix_at)}; what stands in it"
            " now may be weaker than what was read."
        )
    elif standing is Standing.SUSPECT:
        parts.append("It has been through ice; warmth does not undo that.")
    return " ".join(parts)


def _sky(view: FrostView, night: Tonight, case: _Case) -> str:
    """Why it may get colder inside than the air outside; empty under a roof, and by its probe."""
    taken_k = float(np.max(sky_loss(view.air, night.hours, view.speech.yard), initial=0.0))
    if case.is_probed or taken_k <= 0.0:
        return ""
    return f", and a clear sky takes up to {view.speech.difference(taken_k)} more"


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
    iced = _not_looked_into(protection, before)
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
        figures=_handed_on(iced),
    )

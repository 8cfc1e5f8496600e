"""What will freeze: every circuit of a space against the coming low, from its lay-up record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import inf, isfinite

import numpy as np

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.driving_air import DrivingAir, driving_air
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.tonight import outdoor_air
from monitor.judgement.frost.act import frost_cautions
from monitor.judgement.frost.cooling import cool_bodies, cool_from_probe
from monitor.judgement.frost.frost_case import FrostCase, body_of
from monitor.judgement.frost.ice_so_far import Body, Cooling
from monitor.judgement.frost.past_ice import CircuitBefore, Part, iced_by, not_looked_into
from monitor.judgement.frost.verdict import Verdict, verdict_on
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.frost_facts import FrostFacts, UnreadFrostFacts
from monitor.yard.losses import act_from
from monitor.yard.space import WARM, SpaceKind, Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostView:
    """All that one space's circuits are judged by."""

    air: SpaceAir
    night: Tonight | None
    yard: Yard
    probes_c: dict[Part, float]  # what a probe in the circuit reads now


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostInputs:
    """The circuits of a yard at one moment, and the air that each is to be followed through."""

    views: Mapping[str, FrostView]
    craft: Mapping[str, Sequence[StoredCraft]]
    drives: dict[str, DrivingAir]
    wanted: dict[str, list["_Wanted"]]

    @classmethod
    def gather(
        cls, views: Mapping[str, FrostView], craft: Mapping[str, Sequence[StoredCraft]]
    ) -> "FrostInputs":
        """Of the craft that stand in each space; both are by space."""
        drives = {
            space: driving_air(view.air, view.night, view.yard)
            for space, view in views.items()
            if view.night is not None
        }
        outdoors = outdoor_air({space: view.air for space, view in views.items()})
        wanted = {
            # What comes into the warm thaws there; and a new yard enters all of a shop in one day.
            space: _circuits_wanted(
                craft.get(space, ()),
                drive,
                None if views[space].air.space.kind in WARM else outdoors,
            )
            for space, drive in drives.items()
        }
        return cls(views=views, craft=craft, drives=drives, wanted=wanted)


Coolings = dict[str, dict[Body, Cooling]]  # of a yard at one moment, by space


def cool_circuits(asked: Sequence[FrostInputs]) -> list[Coolings]:
    """Follow the circuits of several moments at once: that costs little more than one moment."""
    drives = {
        (moment, space): drive
        for moment, each in enumerate(asked)
        for space, drive in each.drives.items()
    }
    bodies = {
        (moment, space): [body for *_, body in wanted if body]
        for moment, each in enumerate(asked)
        for space, wanted in each.wanted.items()
    }
    found = cool_bodies(drives, bodies)
    return [
        {space: found[moment, space] for space in each.drives} for moment, each in enumerate(asked)
    ]


def judge_frost(
    asked: FrostInputs, found: Coolings, before: Mapping[Part, CircuitBefore]
) -> dict[str, list[Assessment]]:
    """Judge every circuit of the craft in every space.

    Parameters
    ----------
    asked : FrostInputs
    found : mapping by space and body
        Its part of `cool_circuits`.
    before : mapping of CircuitBefore by part
        What the round before said of each circuit.

    Returns
    -------
    dict
        By space: one assessment a circuit, in the craft's order.
    """
    return {
        space: _judge_space(
            view, view.night, asked.drives[space], asked.wanted[space], found[space], before
        )
        if view.night is not None
        else [
            _not_known(view, each, circuit, before)
            for each in asked.craft.get(space, ())
            for circuit in each.circuits
        ]
        for space, view in asked.views.items()
    }


_THREATENED = frozenset({Standing.EXPOSED, Standing.ICING, Standing.SOLID})

_Wanted = tuple[StoredCraft, Circuit, Body | None]  # None: drained, nothing in it to follow


def _circuits_wanted(
    craft: Sequence[StoredCraft], drive: DrivingAir, outdoors: SpaceAir | None
) -> list[_Wanted]:
    found: list[_Wanted] = []
    for each in craft:
        since_h = _since_h(each, drive)
        came_from = each.came_from if isfinite(since_h) else ""
        outside_c = inf if came_from or outdoors is None else _air_then(outdoors, since_h)
        for circuit in each.circuits:
            held = each.protection[circuit.id]
            drained = held.basis is Basis.DRAINED
            found.append(
                (
                    each,
                    circuit,
                    None if drained else body_of(circuit, held, since_h, came_from, outside_c),
                )
            )
    return found


def _judge_space(
    view: FrostView,
    night: Tonight,
    drive: DrivingAir,
    wanted: Sequence[_Wanted],
    found: Mapping[Body, Cooling],
    before: Mapping[Part, CircuitBefore],
) -> list[Assessment]:
    verdicts: dict[tuple[object, ...], Verdict] = {}
    judged = []
    for each, circuit, body in wanted:
        protection = each.protection[circuit.id]
        if body is None:
            judged.append(_judge_drained(view, each, circuit, protection))
            continue
        part = (each.id, circuit.id)
        probe_c = view.probes_c.get(part)
        course = found[body] if probe_c is None else cool_from_probe(drive, body, probe_c)
        iced = iced_by(
            view.air.now,
            before.get(part),
            protection,
            course,
            act_from(view.yard.losses.of_circuit(circuit)),
            mixed=body.is_mixed,
        )
        key = (*_verdict_key(circuit, protection), body, iced, probe_c)
        verdict = verdicts.get(key)
        if verdict is None:
            case = FrostCase(
                now=view.air.now,
                circuit=circuit,
                protection=protection,
                body=body,
                course=course,
                is_probed=probe_c is not None,
                iced=iced,
            )
            verdict = verdicts[key] = verdict_on(case, view.air, night, view.yard, drive.sky)
        # What stays warm because it is stuck clears nothing; what threatens even so, does.
        if view.air.unfollowed and probe_c is None and verdict["standing"] not in _THREATENED:
            judged.append(_not_known(view, each, circuit, before))
            continue
        judged.append(
            Assessment(
                subject=Subject(each.space, each.id, circuit.id),
                hazard=Hazard.FROST,
                at=view.air.now,
                **verdict,
            )
        )
    return judged


def _verdict_key(circuit: Circuit, protection: Protection) -> tuple[object, ...]:
    """Key under which circuits get one and the same verdict."""
    made = (circuit.name, circuit.volume_l, circuit.drainage)
    holds = (protection.state, protection.basis, protection.glycol, protection.burst_point_c)
    return (*made, *holds, protection.glycol_mass_fraction)


def _since_h(craft: StoredCraft, drive: DrivingAir) -> float:
    """When the craft came into this air, if that was within the hours looked at."""
    if craft.since is None:
        return -inf
    since_h = (craft.since - drive.now) / timedelta(hours=1)
    # At the latest now: else a move that is entered ahead of time would leave no air at all.
    return min(since_h, 0.0) if since_h > drive.hours[0] else -inf


def _air_then(air: SpaceAir, since_h: float) -> float:
    """Air when a craft came [°C]; inf where it was not read, or came before all that was."""
    if not isfinite(since_h):
        return inf
    then_c = float(air.air_c[int(np.abs(air.hours - since_h).argmin())])
    return then_c if isfinite(then_c) else inf


def _judge_drained(
    view: FrostView, each: StoredCraft, circuit: Circuit, protection: Protection
) -> Assessment:
    return Assessment(
        subject=Subject(each.space, each.id, circuit.id),
        hazard=Hazard.FROST,
        standing=Standing.HOLDING,
        at=view.air.now,
        facts=FrostFacts(layup=protection.state, basis=protection.basis),
        limit_c=-inf,
        burst_c=-inf,
        margin_k=inf,
        urgency=Urgency.FUTURE,
        severity=Severity.MINOR,
        certainty=Certainty.LIKELY,
    )


def _not_known(
    view: FrostView, each: StoredCraft, circuit: Circuit, before: Mapping[Part, CircuitBefore]
) -> Assessment:
    protection = each.protection[circuit.id]
    if protection.basis is Basis.DRAINED:
        return _judge_drained(view, each, circuit, protection)
    iced = not_looked_into(protection, before.get((each.id, circuit.id)))
    standing = Standing.SUSPECT if iced.at else Standing.NOT_KNOWN
    space = view.air.space
    risk = Severity.MODERATE if space.kind is not SpaceKind.HEATED else Severity.SEVERE
    return Assessment(
        subject=Subject(each.space, each.id, circuit.id),
        hazard=Hazard.FROST,
        standing=standing,
        at=view.air.now,
        facts=UnreadFrostFacts(past_ice=iced),
        calls_for_act=True,
        limit_c=protection.ice_point_c,
        burst_c=protection.burst_point_c,
        urgency=Urgency.UNKNOWN,
        severity=Severity.MINOR if protection.state is LayupState.PROVEN else risk,
        certainty=Certainty.UNKNOWN,
        cautions=frost_cautions(standing, space),
    )

"""The yard at one moment as people ask for it: what tonight brings, who is worst, what to do first.

Pages, mails and the command line all tell the same story because they all start from here.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from monitor.craft.stored import StoredCraft
from monitor.phrases.standings import PLACES, worst_first
from monitor.reports.standing_work import StandingWork, list_standing_work
from monitor.reports.tasks import Task, list_visits, merge_damp
from monitor.store.transaction import Transaction
from monitor.yard.alarm import Alarm
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Standing,
    Subject,
)
from monitor.yard.facts import EarlierSentences
from monitor.yard.frost_facts import UnreadFrostFacts
from monitor.yard.space import Space, Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacePicture:
    """One space and its air."""

    space: Space
    air: Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftPicture:
    """One craft with every judgement of it; each list has the worst first.

    Invariant: every circuit of the craft is there, judged or not.
    """

    craft: StoredCraft
    circuits: tuple[Assessment, ...]
    surfaces: tuple[Assessment, ...]
    battery: Assessment | None

    @property
    def worst(self) -> Assessment | None:
        """The worst circuit; None for a craft without any."""
        return self.circuits[0] if self.circuits else None


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedPicture:
    """The newest judgement of everything in the yard."""

    at: datetime
    judged_at: datetime | None  # None: nothing was judged yet
    yard: Yard
    spaces: tuple[SpacePicture, ...]
    craft: tuple[CraftPicture, ...]  # worst first
    sensors: tuple[Assessment, ...]  # worst first


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture(JudgedPicture):
    """All that laidup knows of the yard at one moment."""

    tasks: tuple[Task, ...]  # in order of urgency
    alarms: tuple[Alarm, ...]  # open, the oldest first
    standing_work: tuple[StandingWork, ...] = ()  # craft not laid up yet that no task speaks of

    def cautions(self) -> tuple[Caution, ...]:
        """The cautions that the tasks call for, each once, in the order of the tasks."""
        asked = (c for task in self.tasks for reason in task.reasons for c in reason.cautions)
        return tuple(c for c in dict.fromkeys(asked) if c is not Caution.NOT_LIFE_SAFETY)


def read_picture(
    tx: Transaction, yard: Yard, craft: Sequence[StoredCraft], at: datetime
) -> Picture:
    """Read the latest round of judgements and the open alarms, and put them in order."""
    return compose_picture(
        yard, craft, tx.assessments.latest_judgements(), tx.alarms.open_alarms(), at
    )


def read_judged_picture(
    tx: Transaction, yard: Yard, craft: Sequence[StoredCraft], at: datetime
) -> JudgedPicture:
    """Read the latest round of judgements alone: what it calls for is not worked out."""
    judged = _of_yard(tx.assessments.latest_judgements(), yard, craft)
    return JudgedPicture(**_judged_parts(yard, craft, judged, at))


def compose_picture(
    yard: Yard,
    craft: Sequence[StoredCraft],
    assessments: Iterable[Assessment],
    alarms: Iterable[Alarm],
    at: datetime,
) -> Picture:
    """Put one round of judgements in the order in which people need it.

    Judgements of a craft that the yard no longer keeps are left out; a circuit or a space that
    was not judged stands in the picture as not known.
    """
    judged = _of_yard(assessments, yard, craft)
    places = {space.id: space for space in yard.spaces}
    tasks = merge_damp(list_visits(judged, {one.id: one for one in craft}, places))
    return Picture(
        **_judged_parts(yard, craft, judged, at),
        tasks=tasks,
        alarms=tuple(alarms),
        standing_work=list_standing_work(_without_frost_task(craft, tasks), yard),
    )


def _judged_parts(
    yard: Yard, craft: Sequence[StoredCraft], judged: Sequence[Assessment], at: datetime
) -> dict[str, Any]:
    """The fields of a `JudgedPicture`."""
    return {
        "at": at,
        "judged_at": max((a.at for a in judged), default=None),
        "yard": yard,
        "spaces": _spaces(yard, judged, at),
        "craft": _craft(craft, judged, at),
        "sensors": tuple(
            sorted((a for a in judged if a.hazard is Hazard.SILENCE), key=worst_first)
        ),
    }


def _of_yard(
    assessments: Iterable[Assessment], yard: Yard, craft: Sequence[StoredCraft]
) -> list[Assessment]:
    kept = {one.id: one for one in craft}
    places = {space.id: space for space in yard.spaces}
    return [a for a in assessments if _is_of_yard(a.subject, places, kept)]


def _is_of_yard(
    subject: Subject, places: Mapping[str, Space], kept: Mapping[str, StoredCraft]
) -> bool:
    return subject.space in places and (not subject.craft or subject.craft in kept)


def _without_frost_task(craft: Iterable[StoredCraft], tasks: Iterable[Task]) -> list[StoredCraft]:
    """Craft that no task against frost speaks of."""
    asked = {one.id for task in tasks if task.first.hazard is Hazard.FROST for one in task.craft}
    return [one for one in craft if one.id not in asked]


def _spaces(yard: Yard, judged: Iterable[Assessment], at: datetime) -> tuple[SpacePicture, ...]:
    air = {a.subject.space: a for a in judged if _is_air(a)}
    return tuple(
        SpacePicture(space=space, air=air.get(space.id) or _unseen_air(space, at))
        for space in yard.spaces
    )


def compose_space_picture(space: Space, judged: Iterable[Assessment], at: datetime) -> SpacePicture:
    """One space with the judgement of its air; without one it stands as not known."""
    air = next((a for a in judged if _is_air(a) and a.subject.space == space.id), None)
    return SpacePicture(space=space, air=air or _unseen_air(space, at))


def _is_air(judged: Assessment) -> bool:
    return judged.hazard is Hazard.AIR and not judged.subject.part


def _craft(
    craft: Sequence[StoredCraft], judged: Sequence[Assessment], at: datetime
) -> tuple[CraftPicture, ...]:
    of_craft: dict[str, list[Assessment]] = {one.id: [] for one in craft}
    for assessment in judged:
        if assessment.subject.craft:
            of_craft[assessment.subject.craft].append(assessment)
    pictures = [compose_craft_picture(one, of_craft[one.id], at) for one in craft]
    return tuple(sorted(pictures, key=_worst_craft_first))


def compose_craft_picture(
    craft: StoredCraft, judged: Sequence[Assessment], at: datetime
) -> CraftPicture:
    """One craft with the judgements that are of it; a circuit without one stands as not known."""
    frost: dict[str, Assessment] = {}
    surfaces: list[Assessment] = []
    batteries: list[Assessment] = []
    for one in judged:
        if one.hazard is Hazard.FROST:
            known = frost.get(one.subject.part, one)
            frost[one.subject.part] = min(known, one, key=worst_first)
        elif one.hazard is Hazard.DAMP:
            surfaces.append(one)
        elif one.hazard is Hazard.BATTERY:
            batteries.append(one)
    circuits = [frost.get(c.id) or _unjudged_circuit(craft, c.id, at) for c in craft.circuits]
    return CraftPicture(
        craft=craft,
        circuits=tuple(sorted(circuits, key=worst_first)),
        surfaces=tuple(sorted(surfaces, key=worst_first)),
        battery=min(batteries, key=worst_first, default=None),
    )


def _worst_craft_first(picture: CraftPicture) -> tuple[int, float, str]:
    parts = [*picture.circuits[:1], *([picture.battery] if picture.battery else [])]
    worst = min((worst_first(part)[:2] for part in parts), default=(PLACES, math.inf))
    return (*worst, picture.craft.name)


def _unjudged_circuit(craft: StoredCraft, circuit: str, at: datetime) -> Assessment:
    protection = craft.protection[circuit]
    return Assessment(
        subject=Subject(craft.space, craft.id, circuit),
        hazard=Hazard.FROST,
        standing=Standing.NOT_KNOWN,
        at=at,
        facts=UnreadFrostFacts(never_judged=True),
        limit_c=protection.ice_point_c,
        burst_c=protection.burst_point_c,
        certainty=Certainty.UNKNOWN,
    )


def _unseen_air(space: Space, at: datetime) -> Assessment:
    return Assessment(
        subject=Subject(space.id),
        hazard=Hazard.AIR,
        standing=Standing.NOT_KNOWN,
        at=at,
        facts=EarlierSentences(basis="Not judged yet: no reading of this space's air."),
    )

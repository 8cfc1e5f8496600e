"""A hard-winter test for machines: SI, the unit in the key, UTC; null is not known."""

from datetime import UTC, datetime
from typing import Any

import numpy as np

from monitor.phrases.hard_winter import (
    answer_sentences,
    assumption_sentences,
    late_craft,
    saving_job,
    space_sentence,
    supplies_of,
)
from monitor.phrases.plan import sentence_of_step
from monitor.phrases.step_in_words import CircuitNames
from monitor.units import json_number
from monitor.wording import SI, Wording
from monitor.yard.hard_winter import (
    CircuitWinter,
    CraftWinter,
    HardWinter,
    SpaceWinter,
    night_of_time,
)
from monitor.yard.people import names_by_id


def hard_winter_json(winter: HardWinter) -> dict[str, Any]:
    """The whole answer.

    Parameters
    ----------
    winter : HardWinter

    Returns
    -------
    dict
        ``counts`` by outcome, ``work``, ``craft`` in the order of doing, ``spaces``, and in words
        what it comes to (``answer``) and on what it rests (``assumptions``).
    """
    words = Wording(zone=winter.yard.zone, units=SI, people=names_by_id(winter.yard))
    weather = winter.weather
    lowest = int(np.nanargmin(weather.air_c))
    danger = [one for one in winter.craft if one.in_danger]
    late, done_on = late_craft(winter)
    return {
        "yard": winter.yard.id,
        "made_at": _utc(winter.made_at),
        "answer": list(answer_sentences(winter, words)),
        "counts": {str(outcome): count for outcome, count in winter.count_outcomes().items()},
        "weather": {
            "source": weather.source,
            "begin": _utc(weather.begin),
            "end": _utc(weather.end),
            "colder_by_k": weather.colder_by_k,
            "unread_h": weather.unread_h,
            "low_c": json_number(float(weather.air_c[lowest]), 1),
            "low_at": _utc(weather.time_of(lowest * weather.step_h)),
        },
        "work": {
            "minutes": sum(one.minutes for one in danger),
            "first_due_at": _utc(min((one.due_at for one in danger if one.due_at), default=None)),
            "hands": winter.yard.duty.hands,
            "done_on": done_on.isoformat() if danger else None,
            "late": [one.craft.id for one in late],
            "products": [
                {
                    "product": one.product.id,
                    "name": one.product.name,
                    "to_buy": one.product.to_buy,
                    "volume_l": one.litres,
                    "containers": one.containers,
                    "container_l": one.product.container_l,
                    "craft": list(one.craft),
                }
                for one in supplies_of(winter)
            ],
        },
        "craft": [_craft_json(one, winter, words) for one in winter.craft],
        "spaces": [_space_json(one, winter, words) for one in winter.spaces],
        "learnt_at": _utc(winter.learnt_at),
        "members": winter.members,
        "assumptions": list(assumption_sentences(winter, words)),
    }


def _craft_json(told: CraftWinter, winter: HardWinter, words: Wording) -> dict[str, Any]:
    names = CircuitNames.of_craft(told.craft)
    return {
        "craft": told.craft.id,
        "name": told.craft.name,
        "space": told.craft.space,
        "berth": told.craft.berth or None,
        "outcome": told.outcome,
        "record_believed": not told.craft.unreadable,
        "chance": json_number(told.chance, 3),
        "due_at": _utc(told.due_at),
        "due_night": _night(told.due_at, winter),
        "likely_night": _night(told.likely_at, winter),
        "job": saving_job(told, words) if told.in_danger else None,
        "steps": [sentence_of_step(step, names, words) for step in told.steps],
        "minutes": told.minutes,
        "circuits": [_circuit_json(one, winter) for one in told.circuits],
    }


def _circuit_json(told: CircuitWinter, winter: HardWinter) -> dict[str, Any]:
    return {
        "circuit": told.circuit,
        "name": told.name,
        "outcome": told.outcome,
        "chance": json_number(told.chance, 3),
        "chance_if_gaps_are_cold": json_number(told.chance_unread, 3),
        "act_from_chance": json_number(told.act_from_chance, 3),
        "ice_point_c": json_number(told.ice_point_c, 1),
        "low_c": json_number(told.low_c, 1),
        "low_in_one_of_ten_c": json_number(told.cold_low_c, 1),
        "room_k": json_number(told.room_k, 1),
        "due_night": _night(told.due_at, winter),
        "likely_night": _night(told.likely_at, winter),
    }


def _space_json(told: SpaceWinter, winter: HardWinter, words: Wording) -> dict[str, Any]:
    return {
        "space": told.space.id,
        "follows": told.follows,
        "low_c": json_number(told.low_c, 1),
        "low_at": _utc(told.low_at),
        "lag_h": None if told.lag_h is None else json_number(told.lag_h, 1),
        "floor_share": json_number(told.floor_share, 2),
        "offset_k": json_number(told.offset_k, 1),
        "heat_level_c": None if told.level_c is None else json_number(told.level_c, 1),
        "heat_unknown": told.heat_unknown,
        "heat_is_lost": told.heat_is_lost,
        "heat_off_from": _utc(told.heat_off_from),
        "says": space_sentence(told, winter, words),
    }


def _night(at: datetime | None, winter: HardWinter) -> str | None:
    """The evening's date by the yard's clock."""
    return None if at is None else night_of_time(at, winter.yard).isoformat()


def _utc(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat(timespec="minutes")

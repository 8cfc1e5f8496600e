"""Judgements in few bytes: equal ones are written once, with the list of their subjects."""

import json
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from datetime import datetime
from operator import itemgetter
from typing import Any

from pydantic import BaseModel, ConfigDict, model_validator

from monitor.store.earlier_facts import with_facts
from monitor.yard.assessment import Assessment, Subject, WorkTurn

_LEVEL = 6  # a hundredth longer than at 9, in half of the time
_OF_EACH = frozenset({"subject", "turn"})
_SHARED = itemgetter(*(each.name for each in fields(Assessment) if each.name not in _OF_EACH))


class _JudgementAlone(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")  # NaN and infinity are meant
    judgement: Assessment


class _Subjects(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")
    subjects: list[tuple[Subject, WorkTurn | None]]


class JudgementGroup(_JudgementAlone, _Subjects):
    """One judgement, and everything that it is of."""


class _Picture(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")
    groups: list[JudgementGroup]

    @model_validator(mode="before")
    @classmethod
    def _read_earlier_program(cls, stored: dict[str, Any]) -> dict[str, Any]:
        """What a program before this one left, once it has been replaced."""
        groups = stored["groups"]
        if not all(isinstance(each, dict) for each in groups):
            return stored
        read = [each | {"judgement": with_facts(each["judgement"])} for each in groups]
        return stored | {"groups": read}


def group_equal(judged: Iterable[Assessment]) -> list[JudgementGroup]:
    """Gather judgements that differ in subject and turn alone, in the order of the first of each.

    Those that `Assessment.of_others` made of one share the objects of all its other fields.
    """
    groups: dict[tuple[int, ...], JudgementGroup] = {}
    for one in judged:
        key = tuple(map(id, _SHARED(one.__dict__)))
        known = groups.get(key)
        if known is None:
            known = groups[key] = JudgementGroup.model_construct(judgement=one, subjects=[])
        known.subjects.append((one.subject, one.turn))
    return list(groups.values())


def pack_groups(groups: Sequence[JudgementGroup]) -> bytes:
    """Write groups as compressed JSON; digits that no sensor can tell would not compress."""
    return zlib.compress(f'{{"groups":[{",".join(map(_as_json, groups))}]}}'.encode(), _LEVEL)


def _as_json(group: JudgementGroup) -> str:
    judgement = _rounded_json(_JudgementAlone.model_construct(judgement=group.judgement))
    named = _Subjects.model_construct(subjects=group.subjects)
    # Thousands of subjects may hold no number that would have to be rounded.
    any_turn = any(turn is not None for _, turn in group.subjects)
    subjects = _rounded_json(named) if any_turn else named.model_dump_json()
    return f"{judgement[:-1]},{subjects[1:]}"  # two objects made one


def _rounded_json(of: BaseModel) -> str:
    rounded = json.loads(of.model_dump_json(), parse_float=_rounded)
    return json.dumps(rounded, separators=(",", ":"))


def pad_to_block(packed: bytes) -> bytes:
    """Fill up to a whole number of kibibytes, so that most pictures have the length of before.

    SQLite then overwrites in place; else it frees pages, takes others, and writes the list of both.
    """
    return packed + bytes(-len(packed) % 1024)


def _rounded(number: str) -> float:
    return round(float(number), 3)


def unpack_judgements(packed: bytes, at: datetime) -> list[Assessment]:
    """Read what `pack_groups` wrote: one judgement a subject, as it stood at a later time."""
    written = zlib.decompressobj().decompress(packed)  # which passes over what pads it
    picture = _Picture.model_validate_json(written)
    return [
        each
        for group in picture.groups
        for each in replace(group.judgement, at=at).of_others(group.subjects)
    ]

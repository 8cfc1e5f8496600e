"""Judgements with sentences of a test's own, in place of the facts that judgement would find."""

from typing import TypedDict

from monitor.craft.stored import StoredCraft
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names
from monitor.wording import SI, Units, Wording
from monitor.yard.assessment import Assessment
from monitor.yard.facts import EarlierSentences
from monitor.yard.space import Yard


class Written(TypedDict):
    """What `Assessment` takes of it."""

    facts: EarlierSentences
    calls_for_act: bool


def written(basis: str = "by hand", act: str = "", **figures: float) -> Written:
    """Facts that read as these sentences, and have these numbers."""
    return {
        "facts": EarlierSentences(basis=basis, act=act, figures=figures),
        "calls_for_act": bool(act),
    }


def basis_said(seen: Assessment, yard: Yard, *craft: StoredCraft, units: Units = SI) -> str:
    """What a judgement rests on, with the yard's names."""
    words = Wording(zone=yard.zone, now=seen.at, units=units)
    return basis_text(seen, Names.of(yard, craft), words)


def act_said(seen: Assessment, yard: Yard, *craft: StoredCraft) -> str:
    """What a judgement asks for, in SI, with the yard's names."""
    return act_text(seen, Names.of(yard, craft), Wording(zone=yard.zone, now=seen.at))

"""Judgements as earlier programs stored them, with finished sentences, read as those of today."""

from math import nan
from typing import Any

from monitor.yard.frost_facts import Occasion


def with_facts(judged: Any) -> Any:  # noqa: ANN401 - whatever stands in the row
    """A stored judgement in the shape of today's; one that has it already as it is."""
    if not isinstance(judged, dict):
        return judged
    if "basis" in judged:
        return _of_sentences(dict(judged))
    facts = judged.get("facts")
    if isinstance(facts, dict) and facts.get("form") == "frost":
        said = facts.get("act")
        if isinstance(said, str):
            return {**judged, "facts": {**facts, "act": _act_of(said)}}
    return judged


def _act_of(said: str) -> dict[str, str] | None:
    """An act whose steps were not kept; its sentence does not say what it was planned for."""
    return {"occasion": Occasion.BEFORE_ICE, "written": said} if said else None


def _of_sentences(judged: dict[str, Any]) -> dict[str, Any]:
    text = {"form": "text", "basis": judged.pop("basis"), "act": judged.pop("act", "")}
    figures = judged.pop("figures", {})
    text["past_ice"] = {
        "as_water_at": figures.pop("iced_at_unix_s", None),
        "as_mix_at": figures.pop("third_ice_at_unix_s", None),
    }
    text["battery"] = {
        "may_be_frozen_at": figures.pop("may_be_frozen_at_unix_s", None),
        "charge_known_at": figures.pop("charge_known_at_unix_s", None),
        "charge_known_fraction": figures.pop("charge_known_fraction", nan),
    }
    text["figures"] = figures
    return judged | {"facts": text, "calls_for_act": bool(text["act"])}

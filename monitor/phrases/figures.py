"""A judgement's further numbers under the names that JSON has for them, unit in the name."""

from math import isfinite

from monitor.yard.assessment import Assessment
from monitor.yard.facts import ChargingFacts, SensingFacts, SilenceFacts, WetDayFacts


def figures_of(seen: Assessment) -> dict[str, float]:
    """Every number beyond those that all judgements have; only what is known and finite."""
    known = dict(seen.figures)
    match seen.facts:
        case SilenceFacts() as facts:
            known |= {"quiet_s": facts.quiet_s, "interval_s": facts.interval_s}
        case SensingFacts() as facts:
            known |= {"sensors_apart_k": facts.apart_k}
        case ChargingFacts() as facts:
            known |= {"voltage_v": facts.voltage_v, "highest_v": facts.highest_v}
        case WetDayFacts() as facts:
            known |= {"wet_hours_24h": facts.wet_h}
    return {name: value for name, value in known.items() if isfinite(value)}

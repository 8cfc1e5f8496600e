"""What is said of damp: air that wets, metal that sweats."""

from monitor.phrases.names import Names
from monitor.physics.wetness import WET_HUMIDITY_PCT
from monitor.wording import Wording
from monitor.yard.assessment import Subject
from monitor.yard.facts import WetDayFacts


def wet_day_basis(facts: WetDayFacts, subject: Subject, names: Names, words: Wording) -> str:
    """For how many hours of the last day a building's air was wetting."""
    return (
        f"{names.space(subject.space)} was above {WET_HUMIDITY_PCT:.0f} % RH and above"
        f" {words.temperature(0.0, 0)} for {facts.wet_h:.0f} of the {facts.heard_h:.0f} h heard of"
        f" the last day, at {facts.mean_rh_pct:.0f} % RH in the mean."
    )


def wet_day_act(subject: Subject, names: Names) -> str:
    """What dries a building."""
    return (
        f"Dry {names.space(subject.space)}: air it when the air outside holds less water, or run a"
        " dehumidifier, and look for standing water."
    )

"""What is said of batteries and of the maintainers that charge them."""

from monitor.phrases.names import Names
from monitor.wording import Wording
from monitor.yard.assessment import Subject
from monitor.yard.facts import ChargingFacts


def charging_basis(facts: ChargingFacts, subject: Subject, names: Names, words: Wording) -> str:
    """What a maintainer holds its battery at, against the most that is right."""
    craft = names.craft_name(subject.craft)
    parts = []
    if facts.over:
        holds = "holds" if facts.fresh else "last held"
        parts.append(
            f"The maintainer of {craft} {holds} {facts.voltage_v:.2f} V, where"
            f" {facts.highest_v:.1f} V is the most that a charge of this battery needs."
        )
    if facts.hot:
        stands = "is" if facts.fresh else "was"
        parts.append(
            f"The battery of {craft} {stands} at {words.temperature(facts.battery_c)}; above"
            f" {words.temperature(facts.highest_c)} charging has to stop."
        )
    if not facts.fresh:
        parts.append("Nothing fresh was heard since: nobody knows whether it still does.")
    return " ".join(parts)


def charging_act() -> str:
    """What to do where a maintainer drives its battery too hard."""
    return (
        "Switch the maintainer off at the mains, air the place, keep sparks and flames away, let"
        " the battery cool before anyone touches it, and enter that it is off. If its equalise"
        " stage was set off on purpose, stay with it and enter that (flooded batteries only)."
    )

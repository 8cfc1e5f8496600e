"""What a person should do about a circuit in the cold, and the care that it calls for."""

from datetime import datetime

from monitor.craft.circuit import Circuit, Drainage, Way
from monitor.craft.protection import LayupState, Protection
from monitor.judgement.speech import Speech, sentence
from monitor.yard.assessment import Caution, Standing
from monitor.yard.space import Space, SpaceKind

_POUR_TIMES = 2.0  # common practice, no source: product to push through for each litre it holds
_LEAST_POUR_L = 0.4  # about 14 fl oz, a usual pour


def frost_act(
    standing: Standing,
    space: Space,
    circuit: Circuit,
    protection: Protection,
    speech: Speech,
    deadline: datetime | None,
) -> str:
    """Say the act in the trade's order: heat first, then drain, then antifreeze."""
    name = circuit.name.lower() if circuit.name[1:2].islower() else circuit.name
    if standing is Standing.ICING and protection.state is LayupState.PROVEN:
        return (
            f"Do not start it. Bring gentle heat to it or move it into a warm space; once thawed,"
            f" drain the {name}, put a stronger mix in, and read a sample."
        )
    if standing in {Standing.ICING, Standing.SOLID}:
        return (
            f"Do not start, crank or pull hoses of this craft. Give it gentle warmth or move it"
            f" into a warm space, keep it quarantined, and inspect the {name} once it has thawed."
        )
    if standing is Standing.SUSPECT and protection.state is LayupState.PROVEN:
        return (
            f"Do not start it. Read a sample of the {name} again, because ice leaves a mix weaker,"
            f" look for leaks, and enter both.{_again(speech, deadline)}"
        )
    if standing is Standing.SUSPECT:
        return (
            f"Do not start. Thaw it, look for leaks or test the {name} under pressure, check the"
            " oil for water, and enter the inspection."
        )
    if standing is Standing.THIN:
        if protection.state is LayupState.PROVEN:
            return f"Read a sample of the {name} again when convenient."
        return f"Keep an eye on {space.name}; treat the {name} before a colder night."
    if standing is not Standing.EXPOSED:
        return ""
    before = f" before {speech.clock(deadline)}" if deadline else " today"
    if protection.state is LayupState.HEAT_ONLY and space.kind is SpaceKind.HEATED:
        return f"Get the heat in {space.name} going again{before}, or drain the {name}."
    if protection.blocked:
        return (
            f"{sentence(before.strip())}, find where the blockage in the {name} is, drain it there"
            " and probe it; nothing that is run or poured in can be trusted to get through."
        )
    if protection.state is LayupState.PROVEN:
        return f"Treat the {name} again{before}: {_treatment(circuit, name, speech)}."
    return f"{sentence(before.strip())}, {_treatment(circuit, name, speech)}.{_meanwhile(circuit)}"


def _again(speech: Speech, deadline: datetime | None) -> str:
    """What is to be done besides where the next cold comes before long."""
    if deadline is None:
        return ""
    return f" A third of it is ice again by {speech.clock(deadline)}: put a stronger mix in before."


def _treatment(circuit: Circuit, name: str, speech: Speech) -> str:
    """What the profile says protects the circuit, surest and quickest first."""
    if Way.CHANGE_OIL in circuit.ways:
        return f"let the water and oil out of the {name} and refill with fresh oil"
    if Way.TEST in circuit.ways:
        return f"test the coolant of the {name}, and strengthen it"
    amount = speech.about(max(_POUR_TIMES * circuit.volume_l, _LEAST_POUR_L))
    if circuit.hot_run:
        return (
            f"pull and probe every drain of the {name}, then fill it by hand with about {amount} of"
            " undiluted antifreeze, or run that through only with the engine hot, and read a sample"
        )
    pour = (
        f"run about {amount} of undiluted antifreeze through the {name} until it comes out at the"
        " jug's colour, and read a sample"
    )
    antifreeze = _takes_antifreeze(circuit)
    if Way.DRAIN in circuit.ways and (circuit.drainage is not Drainage.NONE or not antifreeze):
        return f"drain the {name} and see that it is empty{f'; or {pour}' if antifreeze else ''}"
    return pour


def _meanwhile(circuit: Circuit) -> str:
    if _takes_antifreeze(circuit) and circuit.drainage is Drainage.NONE:
        return " If time is short, let out what you can first."
    return ""


def _takes_antifreeze(circuit: Circuit) -> bool:
    """True also where no way is on file: then antifreeze is what helps most circuits."""
    return not circuit.ways or not {Way.RUN_THROUGH, Way.POUR_IN}.isdisjoint(circuit.ways)


def frost_cautions(standing: Standing, space: Space) -> tuple[Caution, ...]:
    """The care that these acts call for."""
    if standing in {Standing.ICING, Standing.SOLID, Standing.SUSPECT}:
        return (Caution.HEATERS, Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR)
    if standing is Standing.EXPOSED:
        indoors = space.kind in {SpaceKind.HEATED, SpaceKind.COLD, SpaceKind.WRAPPED}
        running = (Caution.CARBON_MONOXIDE,) if indoors else ()
        return (Caution.GLYCOL, *running, Caution.FUEL_VAPOUR)
    return ()

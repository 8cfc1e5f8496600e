"""What a person should do about a circuit in the cold, and the care that it calls for."""

from datetime import datetime

from monitor.craft.circuit import Circuit
from monitor.craft.plan.alone import start_of_circuit
from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.protection import LayupState, Protection
from monitor.judgement.speech import Speech, join_sentence
from monitor.phrases.brief_job import brief_job
from monitor.yard.assessment import Caution, Standing
from monitor.yard.space import Space, SpaceKind


def frost_act(
    standing: Standing,
    space: Space,
    circuit: Circuit,
    protection: Protection,
    speech: Speech,
    deadline: datetime | None,
    low_c: float,
) -> str:
    """Say what a circuit by itself calls for; `lead_jobs` says it of a craft whose record is known.

    Parameters
    ----------
    standing : Standing
    space : Space
        Where its craft stands.
    circuit : Circuit
    protection : Protection
    speech : Speech
    deadline : datetime or None
        When ice is to be expected.
    low_c : float
        Coldest that the circuit is expected to get [°C].
    """
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
            f" look for leaks, and enter both.{_repeat_before(speech, deadline)}"
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
    # Water that is to be exactly as cold as its ice point is threatened, too.
    start = start_of_circuit(circuit, protection, min(low_c, -0.1))
    steps = plan_from(start, speech.yard.shelf or USUAL_SHELF).frost_steps
    job, when = brief_job(steps, start.profile, speech), before_deadline(speech, deadline)
    if protection.state is LayupState.HEAT_ONLY and space.kind is SpaceKind.HEATED:
        return f"Get the heat in {space.name} going again {when}, or {job}."
    return join_sentence(f"{when}, {job}.")


def before_deadline(speech: Speech, deadline: datetime | None) -> str:
    """``before 20:20``; ``today`` where no deadline is known."""
    return f"before {speech.clock(deadline)}" if deadline else "today"


def _repeat_before(speech: Speech, deadline: datetime | None) -> str:
    """Also treat it before the next cold, where one is near."""
    if deadline is None:
        return ""
    return f" A third of it is ice again by {speech.clock(deadline)}: put a stronger mix in before."


def frost_cautions(standing: Standing, space: Space) -> tuple[Caution, ...]:
    """The care that these acts call for."""
    if standing in {Standing.ICING, Standing.SOLID, Standing.SUSPECT}:
        return (Caution.HEATERS, Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR)
    if standing is Standing.EXPOSED:
        indoors = space.kind in {SpaceKind.HEATED, SpaceKind.COLD, SpaceKind.WRAPPED}
        running = (Caution.CARBON_MONOXIDE,) if indoors else ()
        return (Caution.GLYCOL, *running, Caution.FUEL_VAPOUR)
    return ()

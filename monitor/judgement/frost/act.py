"""What a person should do about a circuit in the cold, and the care that it calls for."""

from datetime import datetime

from monitor.craft.circuit import Circuit
from monitor.craft.plan.after_ice import steps_after_ice
from monitor.craft.plan.alone import start_of_circuit
from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.circuits import reading_steps
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
    if standing in {Standing.ICING, Standing.SOLID, Standing.SUSPECT}:
        return _act_after_ice(standing, circuit, protection, speech, deadline, low_c)
    if standing not in {Standing.EXPOSED, Standing.THIN}:
        return ""
    # Water that is to be exactly as cold as its ice point is threatened, too.
    start = start_of_circuit(circuit, protection, min(low_c, -0.1))
    if standing is Standing.THIN and protection.state is LayupState.PROVEN:
        read = list(reading_steps(start, list(start.profile.circuits)))
        return join_sentence(f"{brief_job(read, start.profile, speech)} when convenient.")
    steps = plan_from(start, speech.yard.shelf or USUAL_SHELF).frost_steps
    job, when = brief_job(steps, start.profile, speech), before_deadline(speech, deadline)
    if standing is Standing.THIN:
        return f"Keep an eye on {space.name}; before a colder night, {job}."
    if protection.state is LayupState.HEAT_ONLY and space.kind is SpaceKind.HEATED:
        return f"Get the heat in {space.name} going again {when}, or {job}."
    return join_sentence(f"{when}, {job}.")


def before_deadline(speech: Speech, deadline: datetime | None) -> str:
    """``before 20:20``, ``now`` once that has passed; ``today`` where no deadline is known."""
    if deadline is None:
        return "today"
    return f"before {speech.clock(deadline)}" if deadline > speech.now else "now"


def _act_after_ice(
    standing: Standing,
    circuit: Circuit,
    protection: Protection,
    speech: Speech,
    deadline: datetime | None,
    low_c: float,
) -> str:
    """What is done first of the steps after ice; of a mix that was proven, what makes it so again.

    Nobody is told to run an engine in which ice may have broken something: that is only counted.
    """
    frozen = standing in {Standing.ICING, Standing.SOLID}
    shelf = speech.yard.shelf or USUAL_SHELF
    low_c = min(low_c, -0.1)
    steps = steps_after_ice(circuit, protection, low_c, shelf, frozen=frozen)
    mixed = protection.state is LayupState.PROVEN
    profile = start_of_circuit(circuit, protection, low_c).profile
    job = brief_job(steps, profile, speech, told_steps=1 + frozen + mixed)
    if frozen:
        return join_sentence(f"{job}.")
    by = f"; all {before_deadline(speech, deadline)}" if deadline and mixed else ""
    return f"Do not start it: {job}{by}."


def frost_cautions(standing: Standing, space: Space) -> tuple[Caution, ...]:
    """The care that these acts call for."""
    if standing in {Standing.ICING, Standing.SOLID, Standing.SUSPECT}:
        return (Caution.HEATERS, Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR)
    if standing is Standing.EXPOSED:
        indoors = space.kind in {SpaceKind.HEATED, SpaceKind.COLD, SpaceKind.WRAPPED}
        running = (Caution.CARBON_MONOXIDE,) if indoors else ()
        return (Caution.GLYCOL, *running, Caution.FUEL_VAPOUR)
    return ()

"""The words of a job plan: each step as a sentence, in a reader's units."""

from collections.abc import Callable

from monitor.craft.plan.step import Ask, Care, Instead, JobPlan, JobStep, Note, StepKind
from monitor.craft.profile import Profile
from monitor.phrases.spring import SPRING_SENTENCES, SPRING_TITLES
from monitor.phrases.step_in_words import CircuitNames, StepInWords, capitalize_first
from monitor.wording import Wording, listed


def _blockage(told: StepInWords) -> str:
    if Ask.DRY in told.step.asks:
        return (
            f"Find what blocks {told.names}, drain it there{told.standing} and probe until it runs"
            " free. Nothing that is run or poured in gets through before."
        )
    return (
        f"Open {told.names}, clear what blocks it and close it again. Nothing that is run or"
        " poured in gets through before."
    )


def _flush(told: StepInWords) -> str:
    engine = Care.CARBON_MONOXIDE in told.step.cautions
    how = (
        f"Outdoors, run {told.engine} on fresh water ({told.order}) and flush"
        if engine
        else "Flush"
    )
    fuel = " See treated fuel at the filter or bowl." if Ask.TREATED_FUEL in told.step.asks else ""
    why = (
        "what stands in there is poison, or nobody knows that it is not. Tag the taps first, and"
        " let it into a drum."
        if Note.POISON in told.step.notes
        else "no scale reads what stands in there, and nothing can be built on it. Catch what comes"
        " out before."
    )
    return f"{how} {told.path} until clear water comes out: {why}{fuel}"


def _through(told: StepInWords) -> str:
    hot = ", the engine hot" if Ask.HOT_ENGINE in told.step.asks else ""
    return (
        f"Outdoors, run {told.dose} through {told.path}{hot}, fed from a bucket or tank:"
        f" {told.order}. It is enough when the outlet shows the jug's colour. {told.sample}."
    )


def _fuel_out(told: StepInWords) -> str:
    return (
        f"Empty filter, lines and bowls of {told.engine}: no treated fuel has run through it, and"
        " it is not to run on water now."
    )


def _oil(told: StepInWords) -> str:
    before = " It was milky before." if Note.WATER_IN_OIL in told.step.notes else ""
    return (
        f"Let a little oil out of {told.names} and look at it first.{before} Clear: change it."
        " Water or milky: a seal leaks. Let all of it out, renew the seal, then refill; without a"
        " seal at hand refill all the same, so that no water freezes in there, and book the seal"
        " for before spring. Look again: only clear oil counts."
    )


def _fog(told: StepInWords) -> str:
    if Note.AS_RUN_ENDS in told.step.notes:
        return (
            f"Fog {told.engine} as {'its own' if told.on_each_engine else 'that'} run"
            " ends, then once more through the plug holes, ignition off. Nothing runs after."
        )
    return f"Fog {told.engine} through the plug holes, ignition off. Nothing runs after."


def _empty(told: StepInWords) -> str:
    emptied = f"Pump out {told.names}, open the lowest drains and see them empty."
    return f"{told.drain_tips} {emptied}".lstrip()


def _drain(told: StepInWords) -> str:
    if told.step.posture is None:
        return f"Drain {told.names}. Probe each opening and see it dry.{told.drain_tips}"
    return (
        f"Stand it {told.step.posture} and let {told.names} run empty. Probe each opening and see"
        f" it dry.{told.drain_tips}"
    )


_AUTUMN_SENTENCES: dict[StepKind, Callable[[StepInWords], str]] = {
    StepKind.THAW: lambda told: (
        "Do not start, crank or pull hoses of it. Give it gentle heat or move it into a warm space"
        f" until {told.names} are thawed through."
    ),
    StepKind.INSPECT_AFTER_ICE: lambda told: (
        f"Do not start it. Thawed through, look for leaks or test {told.names} under pressure, and"
        " look at the oil for water."
    ),
    StepKind.MEND_FINDING: lambda told: (
        f"{told.found}. Mend what needs a test run now: a run after the lay-up undoes it."
    ),
    StepKind.EMPTY_TANK: _empty,
    StepKind.CLEAR_BLOCKAGE: _blockage,
    StepKind.FLUSH: _flush,
    StepKind.STABILISE_FUEL: lambda told: (
        (
            "Let the water out of the fuel filter, put stabiliser with biocide into the diesel and"
            if Note.DIESEL in told.step.notes
            else "Put stabiliser into fresh fuel and"
        )
        + " fill the tank to 95 %; where local code wants it empty, empty it and"
        " enter that."
    ),
    StepKind.RUN_TREATED_FUEL: lambda told: (
        f"Outdoors, run {told.engine} on fresh water for 5 to 10 minutes: {told.order}. See"
        " treated fuel at the filter or bowl."
    ),
    StepKind.DRAIN_FUEL: _fuel_out,
    StepKind.DRAIN_ENGINE: lambda told: (
        f"Pull every drain of {told.names}{told.standing}. Probe each until it runs free."
        f"{told.drain_tips}"
    ),
    StepKind.REFIT_DRAINS: lambda told: (
        f"Put the drains of {told.names} back and tighten them: what goes in next must stay in."
    ),
    StepKind.FILL_BY_HAND: lambda told: (
        f"Pour {told.dose} into {told.names} until it comes out at the jug's colour. {told.sample}."
    ),
    StepKind.RUN_ANTIFREEZE: _through,
    StepKind.FOG: _fog,
    StepKind.DRAIN: _drain,
    StepKind.PUMP_ANTIFREEZE: lambda told: (
        f"Pump {told.dose} through {told.names}, the pump's inlet hose taken off and put into a"
        f" pail of it, until every outlet shows the jug's colour. {told.sample}."
    ),
    StepKind.BLOW_OUT: lambda told: f"Blow out {told.names} until both ends run dry.",
    StepKind.READ_SAMPLE: lambda told: (
        f"Draw a sample from {told.names} and read it{told.scale}: {told.reading}."
    ),
    StepKind.TEST_COOLANT: lambda told: f"Read a sample of {told.names}: {told.reading}.",
    StepKind.RENEW_COOLANT: lambda told: (
        f"Strengthen or change what is in {told.names}, and warm it through."
    ),
    StepKind.CHANGE_OIL: _oil,
    StepKind.WARM: lambda told: (
        f"No mix that a scale reads holds in {told.names}, and no drain empties it: keep the craft"
        " in heat."
    ),
    StepKind.CHANGE_ENGINE_OIL: lambda told: (
        f"Change oil and filter of {told.engine}, warm if it has just run. Look at what comes out:"
        " milky oil has water in it."
    ),
    StepKind.SPRAY_METAL: lambda _: "Spray bare metal with corrosion film.",
    StepKind.DRY_BILGE: lambda _: "Dry the bilge, and find where the water came from.",
    StepKind.BENCH_BATTERY: lambda _: (
        "Take the battery to the bench, let it rest, read it and put it on a maintainer. If it may"
        " be frozen, thaw it and look at it first."
    ),
    StepKind.CLOSE_OPENINGS: lambda _: (
        "Screen intake, exhaust and vents against mice, leave no food aboard, open the lockers."
    ),
    StepKind.COVER: lambda _: (
        "Hull bow up, bilge plugs out and tied to the helm. Fit a vented cover, held off the"
        " craft. Tag the helm DO NOT START, with date and readings."
    ),
    StepKind.OTHER: lambda told: f"{capitalize_first(str(told.step.act).replace('-', ' '))}.",
}
_SENTENCES = _AUTUMN_SENTENCES | SPRING_SENTENCES

_ALSO = {
    Instead.PROBE_DRY: "probe it dry and leave it so",
    Instead.FILL: "pour antifreeze in until it comes out, and read a sample",
    Instead.POUR: "pour it in by hand, if the engine cannot run",
    Instead.BLOW_OUT: "blow it out until both ends run dry",
    Instead.RUN_ANTIFREEZE: "run antifreeze through and read a sample",
    Instead.STAY_WARM: "keep the craft in heat",
}

_ASKS = {
    Ask.DRY: "seen dry",
    Ask.OUTFLOW: "outflow at the jug's colour",
    Ask.CLEAR_WATER: "clear water at the outlet",
    Ask.READING: "the reading, its scale and the zero with water",
    Ask.HOT_ENGINE: "that the engine was hot",
    Ask.CLEAR_OIL: "how the oil looked",
    Ask.TREATED_FUEL: "treated fuel seen",
    Ask.RESTED_VOLTAGE: "volts at rest",
}


def step_sentence(step: JobStep, profile: Profile, words: Wording) -> str:
    """What a step asks for, whole: verb first, with quantity, product and the reading to reach.

    Parameters
    ----------
    step : JobStep
    profile : Profile
        Of the craft; names its circuits.
    words : Wording
        The reader's units and zone.
    """
    return sentence_of_step(step, CircuitNames.of_profile(profile), words)


def sentence_of_step(step: JobStep, circuits: CircuitNames, words: Wording) -> str:
    """The same, where the names of the circuits are known and not the type of craft."""
    return _SENTENCES[step.kind](StepInWords(step, circuits, words))


def starts_from_nothing(plan: JobPlan) -> str:
    """Why a plan counts no work that was done; empty where it counts all of it."""
    if not plan.unreadable:
        return ""
    return (
        "Its record cannot be read, so no work on it counts and the plan starts from nothing:"
        f" {plan.unreadable.rstrip('. ')}."
    )


def step_title(step: JobStep, profile: Profile, words: Wording) -> str:
    """A heading over a step of spring; empty where its sentence says it all."""
    title = SPRING_TITLES.get(step.kind)
    return title(StepInWords(step, CircuitNames.of_profile(profile), words)) if title else ""


def asked_words(step: JobStep) -> str:
    """What is to be noted of a step, so that it counts; empty if nothing."""
    return listed([_ASKS[one] for one in step.asks])


def also_words(step: JobStep) -> str:
    """What would do in its place; empty if nothing."""
    return listed([_ALSO[one] for one in step.instead], "or")

"""The words of a job plan: each step as a sentence, in a reader's units."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.step import Ask, Instead, JobStep, Note, StepKind
from monitor.craft.plan.yard import Supply, Workload
from monitor.craft.profile import CircuitKind, Profile
from monitor.wording import Wording, listed

_TOLD_STEPS = 2  # of a job in an alarm
_FEW = 2  # circuits that are named in a short act; of more only the first is


@dataclass(frozen=True, slots=True)
class _Told:
    """One step, the craft's type, and how its reader reads."""

    step: JobStep
    profile: Profile
    words: Wording

    @property
    def names(self) -> str:
        return f"the {listed([_name(self.profile, name) for name in self.step.circuits])}"

    @property
    def path(self) -> str:
        """What antifreeze or water runs through, named as a whole where it is one."""
        paths: dict[str, list[str]] = {}
        for one in self.profile.circuits:
            if one.kind is CircuitKind.RAW and one.flow:
                paths.setdefault(one.flow, []).append(one.circuit.id)
        for names in paths.values():
            if len(names) > _FEW and set(names) == set(self.step.circuits):
                side = _name(self.profile, names[0]).split()[0] + " " if len(paths) > 1 else ""
                return f"the {side}engine's raw-water side"
        return self.names

    @property
    def short(self) -> str:
        """The circuits in few words: a whole path by its name, of many the first."""
        rest = len(self.step.circuits) - 1
        if self.path != self.names or rest < 1:
            return self.path
        return f"the {_name(self.profile, self.step.circuits[0])} and {rest} more"

    @property
    def dose(self) -> str:
        step = self.step
        if step.quantity_l is None or step.product is None:
            return "antifreeze"
        return f"{self.words.about(step.quantity_l)} of {product_words(step.product)}"

    @property
    def reading(self) -> str:
        reading = self.step.reading_c
        return "" if reading is None else f"{self.words.temperature(reading)} or colder"

    @property
    def sample(self) -> str:
        return f"Read a sample from the outlet: {self.reading}"

    @property
    def standing(self) -> str:
        return f", standing {self.step.posture}" if self.step.posture else ""

    @property
    def order(self) -> str:
        if Note.ENGINE_FIRST in self.step.notes:
            return "engine on, water on; water off, engine off"
        if Note.WATER_FIRST in self.step.notes:
            return "water on, engine on; engine off, water off"
        return "as its manual says"

    @property
    def found(self) -> str:
        finding = self.step.finding
        if finding is None:
            return ""
        day = self.words.day(finding.found_at)
        by = self.words.person(finding.by)
        return f"{finding.seen.part}: {finding.seen.words} (found {day} by {by})"


def _name(profile: Profile, circuit: str) -> str:
    name = profile.find(circuit).circuit.name
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def _blockage(told: _Told) -> str:
    if Ask.DRY in told.step.asks:
        return (
            f"Find what blocks {told.names}, drain it there{told.standing} and probe until it runs"
            " free. Nothing that is run or poured in gets through before."
        )
    return (
        f"Open {told.names} and clear what blocks it. Nothing that is run or poured in gets"
        " through before."
    )


def _through(told: _Told) -> str:
    hot = ", the engine hot" if Ask.HOT_ENGINE in told.step.asks else ""
    return (
        f"Run {told.dose} through {told.path}{hot}, fed from a bucket or tank, until the outlet"
        f" shows the jug's colour. {told.sample}."
    )


def _fuel_out(told: _Told) -> str:
    if Note.FUEL_TREATED in told.step.notes:
        return (
            "Empty filter and bowls: the engine has not run since the stabiliser went in, and is"
            " not to run on water now."
        )
    return (
        "Let the fuel out of tank, filter and bowls: it is untreated, and the engine is not to run"
        " on water now."
    )


def _oil(told: _Told) -> str:
    seals = (
        " It was milky before: book the seals before spring."
        if Note.WATER_IN_OIL in told.step.notes
        else ""
    )
    return (
        f"Change the oil of {told.names} and look at what comes out: clear. Milky is water.{seals}"
    )


def _fog(told: _Told) -> str:
    if Note.AS_RUN_ENDS in told.step.notes:
        return (
            "Fog the engine as that run ends, then once more through the plug holes, ignition off."
            " Nothing runs after."
        )
    return "Fog it through the plug holes, ignition off. Nothing runs after."


def _ice(told: _Told) -> str:
    day = f" on {told.words.day(told.step.at)}" if told.step.at else ""
    one = told.profile.find(told.step.circuits[0]).circuit
    return (
        f"It was below its ice point{day} without proven protection: presume damage"
        f" ({one.material}). Thawed through, test it under pressure, look for weeping and at the"
        " oil. Do not start."
    )


def _uncover(told: _Told) -> str:
    look = "Take the cover off, look for water, nests and gnawed wires"
    if Note.SCREENED in told.step.notes:
        return f"{look}; take every screen and plug out of intakes, vents and exhaust."
    return f"{look}."


_BATTERY = {
    Note.ON_BENCH: "Bring it from the bench by its tag",
    Note.ABOARD: "It wintered aboard: look for bulges and cracks first",
    Note.WITH_OWNER: "Its owner has it",
    Note.NOWHERE: "Nobody noted where it is: find it, look for bulges and cracks",
}


def _battery(told: _Told) -> str:
    step = told.step
    where = next(_BATTERY[note] for note in step.notes if note in _BATTERY)
    last = (
        f"; last read {step.volts:g} V on {told.words.day(step.at)}"
        if step.volts is not None and step.at is not None
        else ""
    )
    return f"{where}. Rested voltage and a load test before it goes in, clamps clean{last}."


def _fuel(told: _Told) -> str:
    day = told.words.day(told.step.at) if told.step.at else ""
    if Note.FUEL_DRAINED in told.step.notes:
        state = f"drained on {day}: fill with fresh fuel"
    elif Note.FUEL_TREATED in told.step.notes:
        state = f"stabilised on {day}: look at a sample before it is used"
    else:
        state = "untreated as far as the record says: draw a sample, expect to drain it"
    return f"Fuel {state}. Hoses, clamps and filter; look for leaks with the tank valve open."


def _start(told: _Told) -> str:
    smoke = (
        " It was fogged: it smokes at first, and wants new plugs after."
        if Note.FOGGED in told.step.notes
        else ""
    )
    return (
        "Take the DO NOT START tag off last. Turn it over by hand with the plugs out and look for"
        f" water. On the hose: {told.order}. Watch temperature, flow and bilge for leaks.{smoke}"
    )


_SENTENCES: dict[StepKind, Callable[[_Told], str]] = {
    StepKind.INSPECT_AFTER_ICE: lambda told: (
        f"Do not start it. Thawed through, look for leaks or test {told.names} under pressure, and"
        " look at the oil for water."
    ),
    StepKind.MEND_FINDING: lambda told: (
        f"{told.found}. Mend what needs a test run now: a run after the lay-up undoes it."
    ),
    StepKind.EMPTY_TANK: lambda told: (
        f"Pump out {told.names}, open the lowest drains and see them empty."
    ),
    StepKind.CLEAR_BLOCKAGE: _blockage,
    StepKind.STABILISE_FUEL: lambda _: (
        "Put stabiliser into fresh fuel and fill the tank to 95 %; where local code wants it empty,"
        " empty it."
    ),
    StepKind.RUN_TREATED_FUEL: lambda told: (
        f"Outdoors, run the engine on fresh water for 5 to 10 minutes: {told.order}. See treated"
        " fuel at the filter or bowl."
    ),
    StepKind.DRAIN_FUEL: _fuel_out,
    StepKind.DRAIN_ENGINE: lambda told: (
        f"Pull every drain of {told.names}{told.standing}. Probe each until it runs free."
    ),
    StepKind.FILL_BY_HAND: lambda told: (
        f"Pour {told.dose} into {told.names} until it comes out at the jug's colour. {told.sample}."
    ),
    StepKind.RUN_ANTIFREEZE: _through,
    StepKind.FOG: _fog,
    StepKind.DRAIN: lambda told: (
        f"Drain {told.names}{told.standing}. Probe each opening and see it dry."
    ),
    StepKind.PUMP_ANTIFREEZE: lambda told: (
        f"Pump {told.dose} through {told.names} until every outlet shows the jug's colour."
        f" {told.sample}."
    ),
    StepKind.BLOW_OUT: lambda told: f"Blow out {told.names} until both ends run dry.",
    StepKind.READ_SAMPLE: lambda told: (
        f"Draw a sample from {told.names} and read it: {told.reading}."
    ),
    StepKind.TEST_COOLANT: lambda told: f"Read the coolant of {told.names}: {told.reading}.",
    StepKind.RENEW_COOLANT: lambda told: (
        f"Strengthen or change the coolant of {told.names}, warm it through and read it:"
        f" {told.reading}."
    ),
    StepKind.CHANGE_OIL: _oil,
    StepKind.WARM: lambda told: (
        f"No mix that a scale reads holds in {told.names}, and no drain empties it: keep the craft"
        " in heat."
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
        "Fit a vented cover, held off the craft. Tag the helm DO NOT START, with date and readings."
    ),
    StepKind.OTHER: lambda told: f"{_capital(str(told.step.act).replace('-', ' '))}.",
    StepKind.UNCOVER: _uncover,
    StepKind.LOOK_AFTER_ICE: _ice,
    StepKind.LOOK_AT_UNPROVEN: lambda told: (
        f"{_capital(told.names)}: no proof of protection over the winter. Look for cracks and leaks"
        " before and after filling."
    ),
    StepKind.SETTLE_FINDING: lambda told: f"{told.found}.",
    StepKind.CATCH_ANTIFREEZE: lambda told: (
        f"From {told.names}, into a drum with a label. Then flush with fresh water, and catch the"
        " first of it too."
    ),
    StepKind.CLOSE_DRAINS: lambda told: (
        f"Drains, plugs and hoses of {told.names}; bilge plugs in, their tag off the helm; new"
        " clamps where old ones are weak."
    ),
    StepKind.LOOK_AT_OILS: lambda told: (
        f"Level and colour in {told.names} and in the engine: milky means water, and no start."
    ),
    StepKind.FIT_BATTERY: _battery,
    StepKind.LOOK_AT_FUEL: _fuel,
    StepKind.FIRST_START: _start,
    StepKind.COMMISSION: lambda _: (
        "From then on its winter protection is void, and the record says so."
    ),
}

_TITLES: dict[StepKind, Callable[[_Told], str]] = {
    StepKind.UNCOVER: lambda _: "Uncover and look",
    StepKind.LOOK_AFTER_ICE: lambda told: f"Inspect {told.names.removeprefix('the ')}",
    StepKind.LOOK_AT_UNPROVEN: lambda _: "Look at what was never proven",
    StepKind.SETTLE_FINDING: lambda told: (
        f"Settle finding {told.step.finding.seen.id if told.step.finding else ''}"
    ),
    StepKind.CATCH_ANTIFREEZE: lambda _: "Drain and catch the antifreeze",
    StepKind.CLOSE_DRAINS: lambda _: "Close what was opened to drain",
    StepKind.LOOK_AT_OILS: lambda _: "Look at the oils",
    StepKind.FIT_BATTERY: lambda _: "Battery",
    StepKind.LOOK_AT_FUEL: lambda _: "Fuel",
    StepKind.FIRST_START: lambda _: "First start, outdoors",
    StepKind.COMMISSION: lambda _: "Enter it as commissioned",
}

_ALSO = {
    Instead.PROBE_DRY: "probe it dry and leave it so",
    Instead.FILL: "fill it by hand",
    Instead.POUR: "pour it in by hand, if the engine cannot run",
    Instead.BLOW_OUT: "blow it out until both ends run dry",
    Instead.RUN_ANTIFREEZE: "run antifreeze through and read a sample",
    Instead.STAY_WARM: "keep the craft in heat",
}

_ASKS = {
    Ask.DRY: "seen dry",
    Ask.OUTFLOW: "outflow at the jug's colour",
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
    return _SENTENCES[step.kind](_Told(step, profile, words))


_BRIEFS: dict[StepKind, Callable[[_Told], str]] = {
    StepKind.INSPECT_AFTER_ICE: lambda told: f"thaw {told.short} and look for leaks",
    StepKind.EMPTY_TANK: lambda told: f"pump out and drain {told.short}",
    StepKind.CLEAR_BLOCKAGE: lambda told: (
        f"find what blocks {told.short}, drain it there and probe it"
        if Ask.DRY in told.step.asks
        else f"open {told.short} and clear what blocks it"
    ),
    StepKind.DRAIN_ENGINE: lambda told: f"pull and probe every drain of {told.short}",
    StepKind.FILL_BY_HAND: lambda told: (
        f"fill {told.short} by hand, {told.dose}, and read a sample"
    ),
    StepKind.RUN_ANTIFREEZE: lambda told: f"run {told.dose} through {told.short} and read a sample",
    StepKind.DRAIN: lambda told: f"drain {told.short}{told.standing} and see it dry",
    StepKind.PUMP_ANTIFREEZE: lambda told: (
        f"pump {told.dose} through {told.short} and read a sample"
    ),
    StepKind.BLOW_OUT: lambda told: f"blow out {told.short} until both ends run dry",
    StepKind.READ_SAMPLE: lambda told: f"read a sample of {told.short}",
    StepKind.TEST_COOLANT: lambda told: f"test {told.short}",
    StepKind.RENEW_COOLANT: lambda told: f"strengthen {told.short} and read it",
    StepKind.CHANGE_OIL: lambda told: f"let water and oil out of {told.short}, fill in fresh oil",
    StepKind.WARM: lambda told: f"move it into heat, no mix holds in {told.short}",
}


def brief_job(steps: Sequence[JobStep], profile: Profile, words: Wording) -> str:
    """The first steps against the frost in a few words, for an alarm; the rest only counted.

    Parameters
    ----------
    steps : sequence of JobStep
        Those that keep frost out, in order; at least one.
    profile : Profile
        Of the craft.
    words : Wording
    """
    told = [_BRIEFS[step.kind](_Told(step, profile, words)) for step in steps[:_TOLD_STEPS]]
    rest = len(steps) - len(told)
    if rest:
        told.append(f"{rest} more {'step' if rest == 1 else 'steps'}")
    return "; then ".join(told)


def step_title(step: JobStep, profile: Profile, words: Wording) -> str:
    """A heading over a step of spring; empty where its sentence says it all."""
    title = _TITLES.get(step.kind)
    return title(_Told(step, profile, words)) if title else ""


def asked_words(step: JobStep) -> str:
    """What is to be noted of a step, so that it counts; empty if nothing."""
    return listed([_ASKS[one] for one in step.asks])


def also_words(step: JobStep) -> str:
    """What would do in its place; empty if nothing."""
    return listed([_ALSO[one] for one in step.instead], "or")


def product_words(product: ShelfProduct) -> str:
    """A product as it stands on the shelf, or what to buy where nothing there would do."""
    lot = f", lot {product.lot}" if product.lot else ""
    buy = " (nothing on the shelf reaches that: buy it)" if product.to_buy else ""
    return f"{product.name}{lot}{buy}"


def supply_words(supply: Supply, words: Wording) -> str:
    """How much of a product the whole yard takes."""
    product = supply.product
    each = words.volume(product.container_l)
    many = "containers" if supply.containers != 1 else "container"
    return (
        f"{words.volume(supply.litres)} of {product_words(product)}: {supply.containers} {many} of"
        f" {each}, for {listed(supply.craft)}"
    )


def workload_words(load: Workload) -> str:
    """When a crew is through with all of it."""
    people = "person" if load.hands == 1 else "people"
    day = load.done_on
    return (
        f"{minutes_words(load.minutes)} of work: {load.hands} {people} with"
        f" {minutes_words(load.day_minutes)} a day each are through on {day:%A} {day.day} {day:%B}"
    )


def minutes_words(minutes: float) -> str:
    """Write ``40 min``, ``2 h 25 min``."""
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

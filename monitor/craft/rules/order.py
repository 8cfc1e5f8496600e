"""Rules of order: what must come before what."""

from collections.abc import Iterator, Sequence

from monitor.craft.circuit import Way
from monitor.craft.layup import ANTIFREEZE, ENGINE_RUNS, FOGGING, Act, FlowOrder, LayupEntry
from monitor.craft.profile import Profile, Proof
from monitor.craft.reach import is_of_engine, paths_by_engine, ran_engine
from monitor.craft.rules.case import Breach, Case, Rule
from monitor.wording import listed

_PROTECTING = ANTIFREEZE | {Act.DRAINED, Act.BLOWN_OUT}


def repair_after_layup(case: Case) -> Iterator[Breach]:
    """Repairs before the last run: testing one takes a run, and a run undoes the lay-up."""
    first: LayupEntry | None = None
    for entry in case.entries:
        if first is None and entry.act in _PROTECTING:
            first = entry
        if first is not None and entry.act is Act.REPAIRED:
            yield Breach(
                rule="repair-after-lay-up",
                why=(
                    f"repaired on {case.words.day(entry.at)}, after lay-up began on"
                    f" {case.words.day(first.at)}: testing a repair takes a run on water, and that"
                    " undoes the lay-up"
                ),
                remedy="Say whether it was run; if it was, lay it up again.",
                at=entry.at,
                entry=entry.id,
            )


def stabiliser_after_last_run(case: Case) -> Iterator[Breach]:
    """Stabiliser before the last run, each engine for itself.

    Only a run brings it to filter, pump and engine.
    """
    entries = case.entries
    place = next((n for n, one in enumerate(entries) if one.act is Act.FUEL_STABILISED), None)
    if place is None:
        return
    first = entries[place]
    answers = [
        one
        for one in entries[place:]
        if one.act is Act.FUEL_DRAINED or ran_engine(one, case.profile)
    ]
    paths = paths_by_engine(case.profile)
    still = [path for path in paths if not any(is_of_engine(one, path) for one in answers)]
    for name, engine in _engines_named(case.profile, paths, still):
        yield Breach(
            rule="stabiliser-after-last-run",
            part=name,
            why=(
                f"stabiliser went in on {case.words.day(first.at)} and {engine} run since: filter,"
                " pump and carburettors or injectors hold untreated fuel"
            ),
            remedy=(
                "Drain what holds untreated fuel, or run the engine and treat its circuits again"
                " after."
            ),
            at=first.at,
            entry=first.id,
        )


def _engines_named(
    profile: Profile, paths: Sequence[tuple[str, ...]], still: Sequence[tuple[str, ...]]
) -> list[tuple[str, str]]:
    """Name, and subject of a sentence, of the engines whose flow paths are left.

    Of all engines alike it is said once; else of each, for what mends it may differ.
    """
    if len(still) == len(paths):
        return [("", "the engine has not" if len(paths) == 1 else "no engine has")]
    names = dict(zip(paths, profile.engine_names, strict=False))
    if still and not names:
        return [("", "not every engine has")]
    return [(names[path], f"the {names[path]} engine has not") for path in still]


_FLOW_REASONS = {
    FlowOrder.ENGINE_FIRST: (
        "water that flows while a hose-fed jet engine stands floods the exhaust and can lock the"
        " engine: engine on, water on, water off, engine off"
    ),
    FlowOrder.WATER_FIRST: (
        "a rubber impeller that turns dry burns in seconds: water on, engine on, engine off,"
        " water off"
    ),
}


def water_order(case: Case) -> Iterator[Breach]:
    """Hose-fed jets: engine first. Rubber-impeller pumps: water first."""
    wanted = case.profile.flow_order
    for entry in case.entries:
        if (
            wanted is not None
            and entry.act in ENGINE_RUNS
            and entry.flow_order not in {None, wanted}
        ):
            yield Breach(
                rule="water-order",
                why=(
                    f"run {entry.flow_order} on {case.words.day(entry.at)}; {_FLOW_REASONS[wanted]}"
                ),
                remedy=(
                    "Plugs out, turn it by hand and look for water before it runs again."
                    if wanted is FlowOrder.ENGINE_FIRST
                    else "Look at the impeller before it runs again."
                ),
                at=entry.at,
                entry=entry.id,
            )


def cold_thermostat(case: Case) -> Iterator[Breach]:
    """A thermostat engine is run hot or filled by hand: shut, it sends the flow past the block."""
    for entry in case.entries:
        if entry.act is not Act.ANTIFREEZE_RUN_THROUGH or entry.evidence.engine_hot:
            continue
        behind = [
            case.name(name)
            for name in entry.circuits
            if (way := case.profile.find(name).treatment(Way.RUN_THROUGH))
            and Proof.HOT_ENGINE in way.needs
        ]
        if behind:
            known = "cold" if entry.evidence.engine_hot is False else "not noted to be hot"
            yield Breach(
                rule="cold-thermostat",
                why=(
                    f"antifreeze ran through on {case.words.day(entry.at)} with the engine {known}:"
                    f" its thermostat sends the flow past {listed(behind)}, and colour at the"
                    " exhaust says nothing of them"
                ),
                remedy="Pull and probe every drain, then fill by hand; or run it hot and read.",
                at=entry.at,
                entry=entry.id,
            )


def fog_not_last(case: Case) -> Iterator[Breach]:
    """Fog last, each engine for itself: whatever runs afterwards washes the film off."""
    told = set()
    for path in case.profile.engine_paths:
        of_engine = [one for one in case.entries if is_of_engine(one, path)]
        place = max((n for n, one in enumerate(of_engine) if one.act in FOGGING), default=None)
        if place is None:
            continue
        last, after = of_engine[place], of_engine[place + 1 :]
        entry = next((one for one in after if ran_engine(one, case.profile)), None)
        if entry is not None and entry.id not in told:
            told.add(entry.id)
            yield Breach(
                rule="fog-not-last",
                why=(
                    f"the engine ran on {case.words.day(entry.at)}, after it was fogged on"
                    f" {case.words.day(last.at)}: the run burnt the film off"
                ),
                remedy="Fog again, last of all.",
                at=entry.at,
                entry=entry.id,
            )


RULES: tuple[Rule, ...] = (
    repair_after_layup,
    stabiliser_after_last_run,
    water_order,
    cold_thermostat,
    fog_not_last,
)

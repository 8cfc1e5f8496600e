"""Rules of completeness: what a whole lay-up of this type holds, and what is not on record."""

from collections.abc import Collection, Iterator

from monitor.craft.layup import (
    ANTIFREEZE,
    FOGGING,
    RUNS,
    Act,
    LayupEntry,
    Outflow,
    is_of_engine_oil,
)
from monitor.craft.profile import Want
from monitor.craft.protection import Basis, LayupState
from monitor.craft.reach import is_of_engine, paths_by_engine, reached
from monitor.craft.readings import why_unreadable
from monitor.craft.rules.case import Breach, Case, Rule
from monitor.wording import listed

_ON_AN_ENGINE = FOGGING | RUNS | {Act.ANTIFREEZE_RUN_THROUGH, Act.FUEL_DRAINED}


def circuit_missing(case: Case) -> Iterator[Breach]:
    """A circuit that the craft has and the record does not."""
    named = {name for entry in case.entries for name in reached(entry, case.profile)}
    for one in case.profile.circuits:
        if one.circuit.id not in named:
            ways = listed([each.way.value for each in one.treatments], "or")
            yield Breach(
                rule="circuit-missing",
                part=one.circuit.id,
                why=(
                    f"nothing is on record for {one.circuit.name}: what nobody wrote down is judged"
                    " as water"
                ),
                remedy=f"Inspect it, or treat it: {ways}.",
            )


def reading_missing(case: Case) -> Iterator[Breach]:
    """Colour shows that something came; only a reading shows what."""
    held = case.protections(case.at)
    for name, protection in held.items():
        if protection.state is not LayupState.PROVEN:
            continue
        if protection.basis not in {Basis.COMPUTED, Basis.LABEL}:
            continue
        yield Breach(
            rule="reading-missing",
            part=name,
            why=(
                f"{case.name(name)}: its ice point of"
                f" {case.words.temperature(protection.ice_point_c)} is {protection.basis}; no"
                " sample from its outlet was read"
            ),
            remedy=(
                "Draw a sample and read it."
                if len(protection.went_in) <= 1
                else "Flush it until clear water comes, fill it with one product, and read that."
            ),
        )


def outflow_not_noted(case: Case) -> Iterator[Breach]:
    """Poured is no evidence; come out is."""
    for entry in case.entries:
        if entry.act not in ANTIFREEZE or entry.evidence.outflow is not Outflow.NOT_LOOKED:
            continue
        if entry.evidence.ice_point_c is not None and not why_unreadable(
            entry.evidence, entry.product
        ):
            continue
        names = listed([case.name(name) for name in entry.circuits])
        yield Breach(
            rule="outflow-not-noted",
            why=(
                f"antifreeze went into {names} on {case.words.day(entry.at)} and nobody noted what"
                " came out: a blocked passage takes it just as well"
            ),
            remedy="Pour again and watch the outlet, or draw a sample.",
            at=entry.at,
            entry=entry.id,
        )


def work_missing(case: Case) -> Iterator[Breach]:
    """Work that belongs to a lay-up of this type and is not on record this season.

    What is done to an engine is missed of each engine, but for what names no circuit.
    """
    paths = paths_by_engine(case.profile)
    names = dict(zip(paths, case.profile.engine_names, strict=False))
    for want in case.profile.wants:
        still = [
            path for path in paths if not any(_is_done(one, want, path) for one in case.entries)
        ]
        if not still:
            continue
        acts = listed([str(act) for act in want.acts], "or")
        of_one = [names[path] for path in still] if names and len(still) < len(paths) else [""]
        for name in of_one:
            of_engine = f" for the {name} engine" if name else ""
            yield Breach(
                rule="work-missing",
                part="battery" if Act.BATTERY_REMOVED in want.acts else name,
                why=f"not on record{of_engine}: {acts}; {want.reason}",
                remedy="Do it, or enter it if it was done.",
            )


def _is_done(entry: LayupEntry, want: Want, path: Collection[str]) -> bool:
    """Whether an entry is work that is wanted, on the engine of a flow path where it is on one."""
    if entry.act not in want.acts:
        return False
    if entry.act is Act.OIL_CHANGED:  # a housing's oil is not the engine's, which alone is wanted
        return is_of_engine_oil(entry)
    return entry.act not in _ON_AN_ENGINE or is_of_engine(entry, path)


def fuel_not_seen(case: Case) -> Iterator[Breach]:
    """A last run counts for the fuel of an engine once treated fuel was seen at its filter."""
    told = set()
    runs = [one for one in case.entries if one.act is Act.FUEL_RUN_THROUGH]
    for path in paths_by_engine(case.profile):
        of_engine = [one for one in runs if is_of_engine(one, path)]
        if not of_engine or any(one.evidence.treated_fuel_seen for one in of_engine):
            continue
        last = of_engine[-1]
        if last.id in told:
            continue
        told.add(last.id)
        yield Breach(
            rule="fuel-not-seen",
            why=(
                f"run on {case.words.day(last.at)} to bring treated fuel through, and nobody noted"
                " seeing it at the filter or bowl"
            ),
            remedy="Look at the filter or bowl.",
            at=last.at,
            entry=last.id,
        )


RULES: tuple[Rule, ...] = (
    circuit_missing,
    reading_missing,
    outflow_not_noted,
    work_missing,
    fuel_not_seen,
)

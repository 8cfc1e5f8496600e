"""What a plan starts from: a craft's record at one time, brought down to what planning asks."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from monitor.craft.circuit import Way
from monitor.craft.craft_condition import UNKNOWN_KEEPING, Keeping
from monitor.craft.findings import Finding
from monitor.craft.layup import (
    ANTIFREEZE,
    FOGGING,
    RUNS,
    Act,
    FlowOrder,
    LayupEntry,
    Liquid,
    Outflow,
    Product,
    is_of_engine_oil,
)
from monitor.craft.plan.step import Note
from monitor.craft.profile import CircuitKind, CircuitProfile, FuelSystem, Profile
from monitor.craft.protection import Basis, LayupState, Protection, plain_water
from monitor.craft.reach import is_of_engine, paths_by_engine, ran_engine

STANDING_MARGIN_K = 2.0  # below the low that what stands must reach: a refractometer's allowance
NEW_MARGIN_K = 5.0  # below the low that new work must reach: common practice, no source
_WETS = RUNS | {Act.CIRCUIT_OPENED, Act.COMMISSIONED}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStart:
    """One craft's record at one time.

    ``entries`` are those of this season that count, in the order of the work.
    """

    craft: str
    profile: Profile
    held: Mapping[str, Protection]
    entries: tuple[LayupEntry, ...]
    low_c: float = 0.0
    battery_waits: bool = False  # aboard, or nobody knows where, and nothing feeds it
    # Circuits that are asked for, and with them what is not proven; empty: all.
    only: frozenset[str] = frozenset()
    keeping: Keeping = UNKNOWN_KEEPING
    findings: tuple[Finding, ...] = ()
    iced: frozenset[str] = frozenset()  # circuits that were part ice, and nobody read since
    flushed: frozenset[str] = frozenset()  # circuits that the plan itself flushes first

    @property
    def goal_c(self) -> float:
        """Ice point that new work must reach [°C]."""
        return self.low_c - NEW_MARGIN_K

    @property
    def standing_goal_c(self) -> float:
        """Ice point that what stands in a circuit must reach [°C]."""
        return self.low_c - STANDING_MARGIN_K

    def after_flush(self, group: Iterable[CircuitProfile]) -> "PlanStart":
        """The same start with these circuits unblocked and full of clear water."""
        names = {one.circuit.id for one in group}
        return replace(
            self,
            flushed=self.flushed | names,
            held={
                name: replace(
                    plain_water(name, LayupState.VOID, one.why),
                    suspect_since=one.suspect_since,
                    blocked=one.blocked,
                    poison=one.poison,
                )
                if name in names
                else one
                for name, one in self.held.items()
            },
        )

    def weak_circuits(self) -> list[CircuitProfile]:
        """Circuits that do not stand the low, in the profile's order."""
        if self.low_c >= 0.0:
            return []
        return [
            one
            for one in self.profile.circuits
            if self._is_asked(one.circuit.id)
            and (
                self.held[one.circuit.id].ice_point_c > self.standing_goal_c
                or self.was_part_ice(one.circuit.id)
            )
        ]

    def _is_asked(self, circuit: str) -> bool:
        proven = self.held[circuit].state is LayupState.PROVEN
        return not self.only or circuit in self.only or not proven

    def was_part_ice(self, circuit: str) -> bool:
        """Whether a mix that was proven was part ice since, so that its reading is stale."""
        protection = self.held[circuit]
        dry = protection.basis is Basis.DRAINED
        return circuit in self.iced and protection.state is LayupState.PROVEN and not dry

    def has_on_record(self, *acts: Act) -> bool:
        """Whether one of these acts is on record this season."""
        return any(entry.act in acts for entry in self.entries)

    def place_of_last(self, *acts: Act) -> int:
        """Place of the last such entry in the order of the work; -1 where there is none."""
        return max((n for n, entry in enumerate(self.entries) if entry.act in acts), default=-1)

    def last_run(self) -> int:
        """Place of the last run of the engine that was no fogging; -1 where there is none."""
        return max(
            (
                n
                for n, entry in enumerate(self.entries)
                if entry.act not in FOGGING and ran_engine(entry, self.profile)
            ),
            default=-1,
        )

    def fog_holds(self, path: Collection[str]) -> bool:
        """Whether the engine of a flow path was fogged, and has not run since."""
        fogged = False
        for entry in self.entries:
            if is_of_engine(entry, path):
                if entry.act in FOGGING:
                    fogged = True
                elif ran_engine(entry, self.profile):
                    fogged = False
        return fogged

    @property
    def engine_oil_holds(self) -> bool:
        """Whether the engine's oil was changed, and nothing ran since but what lays it up."""
        fresh = False
        for entry in self.entries:
            if is_of_engine_oil(entry):
                fresh = True
            elif entry.act is Act.RUN_ON_WATER:
                fresh = False
        return fresh

    @property
    def paths_needing_fuel_run(self) -> tuple[tuple[str, ...], ...]:
        """Flow paths of the engines that want treated fuel brought to them, engine by engine."""
        return tuple(path for path in paths_by_engine(self.profile) if self.needs_fuel_run(path))

    def needs_fuel_run(self, path: Collection[str]) -> bool:
        """Whether its lay-up holds stabilised fuel, and none is on record to be at this engine."""
        fuel = {Act.FUEL_STABILISED, Act.FUEL_DRAINED}
        if not any(fuel.intersection(want.acts) for want in self.profile.wants):
            return False
        in_tank = at_engine = False
        for entry in self.entries:
            if not is_of_engine(entry, path):
                continue
            if entry.act is Act.FUEL_DRAINED:
                return False
            if entry.act is Act.FUEL_STABILISED:
                in_tank, at_engine = True, False
            elif entry.act not in FOGGING and ran_engine(entry, self.profile):
                at_engine = in_tank
        return not at_engine

    def is_blocked(self, circuit: str) -> bool:
        """Whether nothing goes through a circuit when the plan comes to fill it."""
        return circuit not in self.flushed and self.was_blocked(circuit)

    def was_blocked(self, circuit: str) -> bool:
        """Whether nothing came out when antifreeze last went in, and nobody has opened it since."""
        found = False
        for entry in self.entries:
            if circuit in entry.circuits:
                if entry.act in ANTIFREEZE:
                    found = entry.evidence.outflow is Outflow.NONE
                elif entry.act is Act.CIRCUIT_OPENED or entry.evidence.dry:
                    found = False
        return found or self.held[circuit].blocked

    def product_last_in(self, circuit: str) -> Product | None:
        """What was last put into a circuit, if it is on record."""
        into = [
            entry.product
            for entry in self.entries
            if entry.act in ANTIFREEZE and circuit in entry.circuits
        ]
        return into[-1] if into else None

    def water_l(self, group: list[CircuitProfile]) -> float:
        """Water or mix that stands in circuits, all together [L].

        What somebody measured before pouring takes the profile's place, while no water came in
        since: the profile has what stays after ordinary draining, at the upper end. Circuits that
        nobody had drained or opened keep it.
        """
        names = {one.circuit.id for one in group}
        usual = sum(one.circuit.volume_l for one in group)
        if names & self.flushed:
            return usual
        known: float | None = None
        for entry in self.entries:
            if entry.act in _WETS and (not entry.circuits or names & set(entry.circuits)):
                known = None
            elif entry.residual_l is not None and set(entry.circuits) == names:
                known = entry.residual_l
        if known is None:
            return usual
        keeps = sum(
            one.circuit.volume_l for one in group if not self.held[one.circuit.id].held_less
        )
        return min(usual, max(known, keeps, _LEAST_SHARE * usual))

    def glycol_in(self, group: list[CircuitProfile]) -> tuple[float, Liquid | None]:
        """Glycol by mass that may be built on, over all circuits, and which one it is."""
        volume = sum(one.circuit.volume_l for one in group)
        proven = [
            (one.circuit.volume_l, self.held[one.circuit.id])
            for one in group
            if self.held[one.circuit.id].state is LayupState.PROVEN
            and self.held[one.circuit.id].basis is not Basis.DRAINED
        ]
        stood = sum(
            litres * (protection.glycol_mass_fraction or 0.0) for litres, protection in proven
        )
        glycols = {held.glycol for _, held in proven if held.glycol is not None}
        if len(glycols) != 1 or Liquid.NOT_KNOWN in glycols:
            return 0.0, None
        return stood / volume, glycols.pop()

    def went_in(self, group: Iterable[CircuitProfile]) -> frozenset[Liquid]:
        """Kinds of product that went into circuits since each of them was last empty."""
        return frozenset().union(*(self.held[one.circuit.id].went_in for one in group))


_LEAST_SHARE = 0.1  # of the profile's volume: nobody gets more out of a passage than that


def is_tank(one: CircuitProfile) -> bool:
    """Whether it is emptied to the eye rather than filled: a tank, bag or heater."""
    return one.kind is CircuitKind.PLUMBING and one.treatment(Way.DRAIN) is not None


def is_engine(one: CircuitProfile) -> bool:
    """Whether lake water runs through it whenever the engine does."""
    return one.kind is CircuitKind.RAW


def hose_order(profile: Profile) -> tuple[Note, ...]:
    """Which comes first when its engine runs on a hose; empty where its manual has to say."""
    if profile.flow_order is None:
        return ()
    return (
        Note.ENGINE_FIRST if profile.flow_order is FlowOrder.ENGINE_FIRST else Note.WATER_FIRST,
    )


def diesel_note(profile: Profile) -> tuple[Note, ...]:
    """That its engine is a diesel, where it is one: it has no plugs to take out."""
    return (Note.DIESEL,) if profile.fuel is FuelSystem.DIESEL else ()

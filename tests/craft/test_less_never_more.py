"""Less evidence never gives more protection: what must hold for every record on every profile.

Each property compares two records of which the second says less, or says something worse. What is
held in it may nowhere be better: no colder ice point, no colder burst point, no proof that was not
there, no more confidence. `PROPERTIES=nightly` in the environment strains them.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from math import inf
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.craft.circuit import Drainage
from monitor.craft.circuit_events import Iced
from monitor.craft.lacks import can_make_safe
from monitor.craft.layup import (
    ANTIFREEZE,
    RUNS,
    Act,
    LayupEntry,
    Liquid,
    OilAppearance,
    Outflow,
    Posture,
    Product,
)
from monitor.craft.mixture import GLYCOLS, strength_of
from monitor.craft.profile import CircuitKind
from monitor.craft.protection import Basis, Confidence, LayupState, Protection
from monitor.craft.reasons import Lack
from tests.craft.scene import NOON, held, library, record, work
from tests.tried import tried

FEW = settings(
    max_examples=tried(20),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
EACH = settings(FEW, max_examples=tried(20))  # type of craft
LATER = NOON + timedelta(days=30)  # when all of it is done
CONFIDENCE = [Confidence.NONE, Confidence.LOW, Confidence.MEDIUM, Confidence.HIGH]
# Acts that prove nothing and take something away, wherever they stand in a record, a flush of which
# nobody saw the end among them. An opening is not: it clears a blockage.
UNDOING = [
    *sorted(RUNS),
    Act.PORT_LEFT_OPEN,
    Act.COMMISSIONED,
    Act.COVER_TORN,
    Act.COVER_OFF,
    Act.FOGGED_RUNNING,
    Act.BROUGHT_BACK,
]
WORK = [
    *[Act.ANTIFREEZE_POURED, Act.ANTIFREEZE_RUN_THROUGH] * 4,
    *[Act.DRAINED, Act.INSPECTED] * 3,
    *[Act.BLOWN_OUT, Act.OIL_CHANGED] * 2,
    *[
        Act.REPAIRED,
        Act.STOOD,
        Act.KEPT_WARM,
        Act.OWNER_STATEMENT,
        Act.CIRCUIT_OPENED,
        *UNDOING,
    ],
]

strengths = st.sampled_from([0.1, 0.3, 0.5, 0.6]) | st.floats(0.05, 0.6)
products = st.builds(
    Product,
    name=st.just("jug"),
    liquid=st.sampled_from([*[Liquid.PROPYLENE] * 6, *[Liquid.ETHYLENE] * 2, *Liquid]),
    strength=st.sampled_from([0.3, 0.5]) | st.none() | strengths,
    label_burst_c=st.none() | st.floats(-60, -8),
)
scales = st.sampled_from([None, Liquid.PROPYLENE, Liquid.ETHYLENE])
readings = st.sampled_from([-30.0, -5.0]) | st.floats(-80, 0)


@st.composite
def works(
    draw: Callable[..., Any], profile: str, number: int, acts: Sequence[Act] = WORK
) -> LayupEntry:
    """One piece of work on a craft of that type, mostly with its evidence."""
    act = draw(st.sampled_from(acts))
    ids = library()[profile].circuit_ids
    circuits = draw(
        st.just(ids) | st.lists(st.sampled_from(ids), min_size=1, max_size=4, unique=True)
    )
    reads = act in ANTIFREEZE or act is Act.INSPECTED
    pours = act in ANTIFREEZE
    maybe = draw(st.none() | readings) if reads else None
    return work(
        act,
        draw(st.integers(0, 60)),
        *circuits,
        id=f"e{number}",
        product=draw(products | st.none()) if pours else None,
        quantity_l=draw(st.none() | st.floats(0.05, 30.0)) if pours else None,
        residual_l=draw(st.none() | st.floats(0.0, 3.0)) if pours else None,
        again=draw(st.booleans()) if pours else False,
        outflow=draw(st.sampled_from([*[Outflow.SEEN] * 3, *Outflow]))
        if pours
        else draw(st.sampled_from([Outflow.CLEAR_WATER, *Outflow]))
        if act is Act.FLUSHED
        else Outflow.NOT_LOOKED,
        ice_point_c=maybe,
        scale=draw(st.sampled_from([None, Liquid.PROPYLENE, Liquid.PROPYLENE, Liquid.ETHYLENE]))
        if maybe is not None
        else None,
        zeroed_on=draw(st.none() | st.sampled_from([NOON.date(), LATER.date()])),
        dry=draw(st.sampled_from([True, True, None, False]))
        if act in {Act.DRAINED, Act.BLOWN_OUT, Act.INSPECTED}
        else None,
        oil=draw(st.sampled_from([*[OilAppearance.CLEAR] * 3, None, *OilAppearance]))
        if act in {Act.OIL_CHANGED, Act.INSPECTED}
        else None,
        posture=draw(st.none() | st.sampled_from(Posture)),
        engine_hot=draw(st.sampled_from([True, True, None, False])),
        used_away=draw(st.none() | st.booleans()) if act is Act.BROUGHT_BACK else None,
        witness=draw(st.sampled_from(["", "Ada"])),
    )


@st.composite
def records(draw: Callable[..., Any]) -> tuple[str, list[LayupEntry], tuple[Iced, ...]]:
    """A type of craft, work on it, and times at which a circuit of it held ice."""
    profile = draw(st.sampled_from(sorted(library())))
    count = draw(st.integers(1, 6))
    done = [draw(works(profile, number)) for number in range(count)]
    ids = library()[profile].circuit_ids
    iced = draw(
        st.lists(
            st.builds(
                Iced,
                circuit=st.sampled_from(ids),
                at=st.integers(0, 60).map(lambda hours: NOON + timedelta(hours=hours)),
            ),
            max_size=2,
        )
    )
    return profile, done, tuple(iced)


def account(
    profile: str, done: list[LayupEntry], iced: tuple[Iced, ...] = ()
) -> dict[str, Protection]:
    return held(record(*done, profile=profile, iced=iced), LATER)


def rank(one: Protection) -> tuple[bool, float, float, int]:
    """What is held, in numbers of which more is better."""
    return (
        one.state is LayupState.PROVEN,
        -one.ice_point_c,
        -one.burst_point_c,
        CONFIDENCE.index(one.confidence),
    )


def assert_no_better(
    less: dict[str, Protection], more: dict[str, Protection], *, sure: bool = True
) -> None:
    """Nothing in ``less`` may be held better than in ``more``; ``sure``: nor more surely."""
    for name, one in less.items():
        parts = zip(rank(one), rank(more[name]), ("state", "ice", "burst", "sure"), strict=True)
        for least, most, what in parts:
            if what == "sure" and not sure:
                continue
            slack = 1e-6 if most not in {inf, -inf} else 0.0
            assert least <= most + slack, (name, what, one, more[name])


def without(entry: LayupEntry, what: str) -> LayupEntry:
    """The entry without one piece of evidence that speaks for it."""
    evidence = entry.evidence
    if what in {"quantity_l", "residual_l"}:
        return replace(entry, **{what: None})
    if what == "liquid":
        unnamed = replace(entry.product, liquid=Liquid.NOT_KNOWN) if entry.product else None
        return replace(entry, product=unnamed)
    nothing = {"outflow": Outflow.NOT_LOOKED, "witness": ""}.get(what)
    return replace(entry, evidence=replace(evidence, **{what: nothing}))


def speaks_for_it(entry: LayupEntry, what: str) -> bool:
    """Whether that piece of evidence is one that helps, and not one that warns."""
    evidence = entry.evidence
    if what == "liquid":
        return entry.product is not None and entry.product.liquid in GLYCOLS
    if what in {"dry", "engine_hot"}:
        return getattr(evidence, what) is True
    if what == "used_away":
        return evidence.used_away is False
    if what == "oil":
        return evidence.oil is OilAppearance.CLEAR
    if what == "residual_l":
        return entry.residual_l is not None and entry.residual_l <= LEAST_LEFT_L
    if what == "outflow":
        return evidence.outflow in (
            {Outflow.CLEAR_WATER}
            if entry.act is Act.FLUSHED
            else {Outflow.SEEN, Outflow.FULL_COLOUR}
        )
    if what == "scale":
        # The wrong scale is a warning: it takes the reading away.
        return evidence.scale is not None and (
            entry.product is None or entry.product.liquid in {evidence.scale, Liquid.NOT_KNOWN}
        )
    return getattr(entry, what, None) is not None or getattr(evidence, what, None) is not None


def glycols_named(done: list[LayupEntry]) -> set[Liquid]:
    """Every kind that a scale or a product names."""
    scales = {one.evidence.scale for one in done if one.evidence.scale is not None}
    poured = {one.product.liquid for one in done if one.product is not None}
    return (scales | poured) - {Liquid.NOT_KNOWN}


LEAST_LEFT_L = 0.04  # no circuit of any profile keeps less, so that it can only help
HELPFUL = [
    *["quantity_l", "residual_l", "outflow", "scale", "zeroed_on"],
    *["witness", "dry", "oil", "engine_hot", "used_away", "liquid"],
]


@FEW
@given(records(), st.data())
def test_taking_evidence_away_never_raises_what_is_held(drawn, data):
    profile, done, iced = drawn
    spot = data.draw(st.integers(0, len(done) - 1))
    what = data.draw(st.sampled_from(HELPFUL))
    if not speaks_for_it(done[spot], what):
        return
    if what in {"scale", "liquid"} and len(glycols_named(done)) > 1:
        return  # what contradicts another reading or product is a warning
    less = [*done[:spot], without(done[spot], what), *done[spot + 1 :]]
    assert_no_better(account(profile, less, iced), account(profile, done, iced))


@FEW
@given(records(), st.data(), st.floats(0, 60))
def test_a_warmer_reading_never_raises_what_is_held(drawn, data, warmer_k):
    profile, done, iced = drawn
    read = [n for n, one in enumerate(done) if one.evidence.ice_point_c is not None]
    if not read:
        return
    spot = data.draw(st.sampled_from(read))
    evidence = done[spot].evidence
    warmer = replace(evidence, ice_point_c=min(evidence.ice_point_c + warmer_k, 0.0))
    less = [*done[:spot], replace(done[spot], evidence=warmer), *done[spot + 1 :]]
    found, after = account(profile, done, iced), account(profile, less, iced)
    # A reading that cannot be is a warning, and a warmer one may be true.
    read_now = {
        name for name, one in after.items() if one.basis is Basis.MEASURED is not found[name].basis
    }
    if any(Lack.COLDER_THAN_POURED in why.lacks for one in found.values() for why in one.reasons):
        return
    kept = {name: one for name, one in after.items() if name not in read_now}
    # It may agree with another reading that contradicted the colder one, and so be surer.
    assert_no_better(kept, found, sure=False)


@FEW
@given(records(), st.data())
def test_no_reading_is_never_better_than_the_best_reading(drawn, data):
    profile, done, iced = drawn
    read = [n for n, one in enumerate(done) if one.evidence.ice_point_c is not None]
    if not read:
        return
    spot = data.draw(st.sampled_from(read))
    evidence = done[spot].evidence
    product = done[spot].product
    if any(one.evidence.ice_point_c < -30.0 for one in (done[n] for n in read if n != spot)):
        return  # nothing gets colder by standing: beside a colder reading, it warns
    unnamed = product is None or product.liquid is Liquid.NOT_KNOWN
    if len(glycols_named(done)) > 1 or (evidence.scale is None and unnamed):
        return  # of another glycol, or one that nobody names, it warns of what goes in on top

    def reading(value: float | None) -> list[LayupEntry]:
        changed = replace(evidence, ice_point_c=value)
        return [*done[:spot], replace(done[spot], evidence=changed), *done[spot + 1 :]]

    unread, best = account(profile, reading(None), iced), account(profile, reading(-30.0), iced)
    if any(Lack.COLDER_THAN_POURED in why.lacks for one in best.values() for why in one.reasons):
        return  # what went in cannot read that
    # A sample shows that there is something to read: a circuit seen dry is that no more.
    wet = {
        name: one
        for name, one in unread.items()
        if one.basis is not Basis.DRAINED and one.ice_point_c >= -30.0
    }
    assert_no_better(wet, best, sure=False)  # an earlier reading may have been the surer one


@FEW
@given(records(), st.data(), st.floats(0.01, 0.99))
def test_less_of_a_product_never_raises_what_is_held(drawn, data, share):
    profile, done, iced = drawn
    poured = [n for n, one in enumerate(done) if one.quantity_l is not None]
    if not poured:
        return
    spot = data.draw(st.sampled_from(poured))
    done = [replace(one, again=one.act in ANTIFREEZE) for one in done]
    if any(is_weaker(done[spot].product, one.product) for n, one in enumerate(done) if n != spot):
        return  # less of what thins a stronger mix thins it less
    litres = done[spot].quantity_l * share
    less = [*done[:spot], replace(done[spot], quantity_l=litres), *done[spot + 1 :]]
    found, after = account(profile, done, iced), account(profile, less, iced)
    read_less = {
        name for name, one in after.items() if found[name].basis is Basis.MEASURED is not one.basis
    }
    kept = {name: one for name, one in after.items() if name not in read_less}
    assert_no_better(kept, found, sure=False)


@pytest.mark.parametrize("profile", sorted(library()))
@EACH
@given(data=st.data())
def test_naming_fewer_circuits_of_a_run_never_raises_what_is_held(profile, data):
    flow = data.draw(st.sampled_from(flows(profile)))
    fewer = data.draw(st.lists(st.sampled_from(flow), min_size=1, unique=True))
    done = [data.draw(works(profile, n)) for n in range(data.draw(st.integers(0, 3)))]
    told = data.draw(works(profile, 9, acts=[Act.ANTIFREEZE_RUN_THROUGH]))
    # Said to be a second one: which earlier account it may repeat depends on what it names.
    told = replace(told, at=NOON + timedelta(hours=61), again=True)
    named, all_of_it = (
        account(profile, [*done, replace(told, circuits=tuple(names))]) for names in (fewer, flow)
    )
    assert_no_better(named, all_of_it)


@pytest.mark.parametrize("profile", sorted(library()))
@EACH
@given(data=st.data())
def test_what_a_run_does_not_name_never_gains_by_it(profile, data):
    flow = data.draw(st.sampled_from(flows(profile)))
    named = data.draw(st.lists(st.sampled_from(flow), min_size=1, unique=True))
    done = [data.draw(works(profile, n)) for n in range(data.draw(st.integers(0, 3)))]
    told = data.draw(works(profile, 9, acts=[Act.ANTIFREEZE_RUN_THROUGH]))
    told = replace(told, circuits=tuple(named), at=NOON + timedelta(hours=61))
    after = account(profile, [*done, told])
    beside = {name: one for name, one in after.items() if name not in named}
    assert_no_better(beside, account(profile, done))


@pytest.mark.parametrize("profile", sorted(library()))
@EACH
@given(data=st.data())
def test_two_accounts_of_a_pour_hold_no_more_than_either_told_of_all_its_circuits(profile, data):
    flow = data.draw(st.sampled_from(flows(profile)))
    names = st.lists(st.sampled_from(flow), min_size=1, unique=True).map(tuple)
    done = [data.draw(works(profile, n)) for n in range(data.draw(st.integers(0, 2)))]
    act = data.draw(st.sampled_from(sorted(ANTIFREEZE)))
    first, second = (
        replace(
            data.draw(works(profile, n, acts=[act])),
            circuits=data.draw(names),
            at=NOON + timedelta(hours=61 + n),
            again=n == 0,
        )
        for n in range(2)
    )
    kinds = {one.product.liquid for one in (first, second) if one.product is not None}
    apart = act is Act.ANTIFREEZE_POURED and not set(first.circuits) & set(second.circuits)
    if apart or len(kinds - {Liquid.NOT_KNOWN}) > 1:
        return  # two pours, whatever anybody says
    both = account(profile, [*done, first, second])
    every = tuple(dict.fromkeys((*first.circuits, *second.circuits)))
    for told in (first, second):
        alone = account(profile, [*done, replace(told, circuits=every, again=True)])
        # It does not mean what such work cannot fill, unless it says so.
        meant = {
            name: both[name]
            for name in every
            if name in told.circuits or can_make_safe(told, library()[profile].find(name))
        }
        assert_no_better(meant, alone, sure=False)


@pytest.mark.parametrize("profile", sorted(library()))
@EACH
@given(data=st.data())
def test_no_reading_after_a_run_on_water_proves_what_no_pour_since_can_explain(profile, data):
    done = [data.draw(works(profile, n)) for n in range(data.draw(st.integers(0, 4)))]
    water = work(data.draw(st.sampled_from([*sorted(RUNS), Act.COMMISSIONED])), 70)
    read = data.draw(works(profile, 9, acts=[Act.INSPECTED]))
    evidence = replace(read.evidence, dry=None, ice_point_c=-20.0)
    read = replace(read, at=NOON + timedelta(hours=71), evidence=evidence)
    found = account(profile, [*done, water, read])
    for one in library()[profile].circuits:
        if one.kind is CircuitKind.RAW:
            assert found[one.circuit.id].state is not LayupState.PROVEN, found[one.circuit.id]


def flows(profile: str) -> list[tuple[str, ...]]:
    """Ids of the circuits of each flow path, one that has none being a path of its own."""
    paths: dict[str, list[str]] = {}
    for one in library()[profile].circuits:
        paths.setdefault(one.flow or one.circuit.id, []).append(one.circuit.id)
    return [tuple(names) for names in paths.values()]


def is_weaker(one: Product | None, other: Product | None) -> bool:
    """Whether a product may be weaker than another, or than what nobody told of it."""
    weak, strong = (strength_of(each) or 0.0 for each in (one, other))
    return weak < max(strong, 0.6 if other is None or other.strength is None else 0.0)


@FEW
@given(records(), st.data())
def test_water_said_to_be_left_says_nothing_where_nobody_drained(drawn, data):
    profile, done, iced = drawn
    drains = {Act.DRAINED, Act.BLOWN_OUT, Act.CIRCUIT_OPENED}
    unread = [
        replace(one, evidence=replace(one.evidence, ice_point_c=None))
        for one in done
        if one.act not in drains
    ]
    poured = [n for n, one in enumerate(unread) if one.act in ANTIFREEZE]
    if not poured:
        return
    spot = data.draw(st.sampled_from(poured))
    if any(
        library()[profile].find(name).circuit.drainage is Drainage.SELF
        for name in unread[spot].circuits
    ):
        return  # it empties itself as it stands
    nothing_left, untold = (
        [*unread[:spot], replace(unread[spot], residual_l=litres), *unread[spot + 1 :]]
        for litres in (0.0, None)
    )
    assert_no_better(account(profile, nothing_left, iced), account(profile, untold, iced))


@FEW
@given(records(), st.data(), st.floats(-60, 0))
def test_a_later_reading_without_a_pour_never_raises_what_was_read(drawn, data, reading):
    profile, done, iced = drawn
    ids = library()[profile].circuit_ids
    where = data.draw(st.sampled_from(ids))
    first = work(Act.INSPECTED, 70, where, id="first", ice_point_c=-8.0, scale=data.draw(scales))
    later = work(
        Act.INSPECTED, 80, where, id="later", ice_point_c=reading, scale=data.draw(scales),
        zeroed_on=NOON.date(),
    )  # fmt: skip
    one = account(profile, [*done, first, later], iced)[where]
    before = account(profile, [*done, first], iced)[where]
    assert one.ice_point_c >= -8.0 or one.ice_point_c >= before.ice_point_c


@FEW
@given(records(), st.data())
def test_adding_an_act_that_undoes_never_raises_what_is_held(drawn, data):
    profile, done, iced = drawn
    # A run between two pours shows that they were two: told so, they are two without it.
    done = [replace(one, again=one.act in ANTIFREEZE) for one in done]
    act = data.draw(st.sampled_from(UNDOING))
    ids = library()[profile].circuit_ids
    extra = work(
        act,
        data.draw(st.integers(0, 70)),
        *data.draw(st.lists(st.sampled_from(ids), max_size=3, unique=True)),
        id="extra",
        used_away=data.draw(st.none() | st.just(True)) if act is Act.BROUGHT_BACK else None,
    )
    assert_no_better(account(profile, [*done, extra], iced), account(profile, done, iced))


@FEW
@given(records(), st.data())
def test_adding_a_doubt_never_raises_what_is_held(drawn, data):
    profile, done, iced = drawn
    # Water found between two pours shows that they were two: told so, they are two without it.
    done = [replace(one, again=one.act in ANTIFREEZE) for one in done]
    ids = library()[profile].circuit_ids
    doubt = data.draw(
        st.sampled_from(
            [
                {"act": Act.DRAINED, "dry": False},
                {"act": Act.INSPECTED, "dry": False},
                {"act": Act.INSPECTED, "oil": OilAppearance.MILKY},
                {"act": Act.ANTIFREEZE_POURED, "outflow": Outflow.NONE},
                {"act": Act.FLUSHED},
                {"act": Act.FLUSHED, "outflow": Outflow.NONE},
                {"act": Act.CIRCUIT_OPENED},
            ]
        )
    )
    last = doubt["act"] in {Act.FLUSHED, Act.CIRCUIT_OPENED, Act.ANTIFREEZE_POURED}
    circuits = data.draw(st.lists(st.sampled_from(ids), min_size=1, max_size=3, unique=True))
    hours = 80 if last else data.draw(st.integers(0, 70))
    said = {key: value for key, value in doubt.items() if key != "act"}
    extra = work(doubt["act"], hours, *circuits, id="extra", **said)
    assert_no_better(account(profile, [*done, extra], iced), account(profile, done, iced))


@FEW
@given(records(), st.data(), st.integers(0, 3000))
def test_entering_the_same_thing_twice_never_raises_what_is_held(drawn, data, minutes):
    profile, done, iced = drawn
    twice = data.draw(st.sampled_from(done))
    if twice.act in {Act.REPAIRED, Act.CIRCUIT_OPENED}:
        return  # a second one clears what was found blocked since the first
    other = replace(
        twice, id="other", by="Tom Varga", at=twice.at + timedelta(minutes=minutes), again=False
    )
    between = [one for one in done if one is not twice and twice.at <= one.at <= other.at]
    # A sample read after other work is news of what stands there then, not the same thing twice.
    one_pour = twice.evidence.ice_point_c is None and all(
        one.act in ANTIFREEZE for one in (twice, *between)
    )
    if not between or one_pour:
        assert_no_better(
            account(profile, [*done, other], iced), account(profile, done, iced), sure=False
        )


@FEW
@given(records(), st.randoms(use_true_random=False))
def test_the_order_of_writing_does_not_matter_where_times_tell_it(drawn, chance):
    profile, done, iced = drawn
    done = [replace(one, at=one.at + timedelta(minutes=n)) for n, one in enumerate(done)]
    shuffled = list(done)
    chance.shuffle(shuffled)
    assert account(profile, done, iced) == account(profile, shuffled, iced)


@FEW
@given(records(), st.data())
def test_of_two_accounts_of_one_pour_the_worse_counts(drawn, data):
    profile, done, iced = drawn
    poured = [n for n, one in enumerate(done) if one.act in ANTIFREEZE]
    if not poured:
        return
    spot = data.draw(st.sampled_from(poured))
    told = data.draw(works(profile, 99, acts=sorted(ANTIFREEZE)))
    told = replace(
        told,
        again=False,
        at=done[spot].at + timedelta(minutes=1),
        circuits=done[spot].circuits if data.draw(st.booleans()) else told.circuits,
    )
    kinds = {one.product.liquid for one in (told, done[spot]) if one.product is not None}
    if len(kinds - {Liquid.NOT_KNOWN}) > 1:
        return  # two pours, whatever anybody says
    told_of_it = set(done[spot].circuits)
    both = {
        name: one
        for name, one in account(profile, [*done, told], iced).items()
        if name in told_of_it or name not in told.circuits
    }
    assert_no_better(both, account(profile, done, iced), sure=False)
    if not done[spot].again and told.circuits == done[spot].circuits:
        # Without the first account, the second alone; what it is mixed with is the same.
        alone = [*done[:spot], replace(told, at=done[spot].at), *done[spot + 1 :]]
        assert_no_better(both, account(profile, alone, iced), sure=False)

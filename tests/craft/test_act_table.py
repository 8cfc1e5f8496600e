"""What an act proves of each shape of circuit, and what it cannot prove whatever was seen."""

from itertools import product

import pytest

from monitor.craft.act_table import (
    CLAIMS,
    PROVING,
    TABLE,
    WAY_OF,
    Deed,
    Verdict,
    circuits_within_reach,
    verdict_on,
)
from monitor.craft.layup import Act, OilAppearance, Outflow
from monitor.craft.profile import CircuitKind, Shape, careful_shape
from monitor.craft.protection import LayupState
from tests.craft.scene import NOON, ROOT, STRONG, held, library, record, work

V8 = "sterndrive-raw-water"
LOOP = "pwc-four-stroke"


def state(*entries, circuit, profile):
    return held(record(*entries, profile=profile))[circuit].state


def can_prove(act, one):
    """Whether both the table and the circuit's profile let an act make it proven."""
    proves = any(verdict_on(deed, one) is Verdict.PROVES for deed in PROVING.get(act, ()))
    way = WAY_OF.get(act)
    return proves and (way is None or one.treatment(way) is not None)


def printed_table():
    """The table in Markdown: a row for each deed, a column for each shape."""
    head = ["act, with what was seen", *(str(shape) for shape in Shape)]
    rows = [
        [str(deed), *(printed_cell(cells[shape]) for shape in Shape)]
        for deed, cells in TABLE.items()
    ]
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def printed_cell(cell):
    return f"{cell.verdict}: {cell.note}" if cell.note else str(cell.verdict)


def test_every_deed_has_a_verdict_on_every_shape():
    assert set(TABLE) == set(Deed)
    assert {shape for cells in TABLE.values() for shape in cells} == set(Shape)
    assert all(len(cells) == len(Shape) for cells in TABLE.values())


def test_the_contributors_guide_prints_the_table_as_it_is():
    assert printed_table() in (ROOT / "DEVELOPERS.md").read_text()


@pytest.mark.parametrize("circuit", [one.circuit.id for one in library()[V8].circuits])
def test_clear_engine_oil_proves_no_circuit_but_the_housing_that_it_came_from(circuit):
    every = library()[V8].circuit_ids
    changed = work("oil-changed", 0, *every, oil=OilAppearance.CLEAR)
    proven = state(changed, circuit=circuit, profile=V8) is LayupState.PROVEN
    assert proven == (circuit == "drive-lube")


def test_clear_oil_on_the_block_alone_leaves_everything_as_it_was():
    changed = work("oil-changed", 0, "block", oil=OilAppearance.CLEAR)
    assert held(record(changed, profile=V8)) == held(record(profile=V8))


@pytest.mark.parametrize(
    ("act", "circuit"),
    [
        ("drained", "water-box"),
        ("drained", "coolant"),
        ("inspected", "water-box"),
        ("inspected", "coolant"),
        ("inspected", "raw-side"),
    ],
)
def test_no_look_shows_a_water_box_or_coolant_loop_dry(act, circuit):
    seen = work(act, 0, circuit, dry=True)
    assert state(seen, circuit=circuit, profile=LOOP) is not LayupState.PROVEN


def test_draining_a_coolant_loop_undoes_its_reading():
    read = work("inspected", 0, "coolant", ice_point_c=-37.0)
    drained = work("drained", 1, "coolant", dry=True)
    assert state(read, circuit="coolant", profile=LOOP) is LayupState.PROVEN
    assert state(read, drained, circuit="coolant", profile=LOOP) is LayupState.VOID


def test_air_at_the_outlet_shows_a_hose_dry_but_only_hints_at_a_passage():
    blown = work("blown-out", 0, "hoses", "cylinder-passages", dry=True)
    found = held(record(blown))
    assert found["hoses"].state is LayupState.PROVEN
    assert found["cylinder-passages"].state is LayupState.UNPROVEN


def test_a_reading_of_a_gearcase_is_a_note():
    read = work("inspected", 0, "gearcase", ice_point_c=-30.0)
    assert state(read, circuit="gearcase", profile="outboard") is LayupState.UNKNOWN


def test_a_look_at_a_passage_leaves_its_reading_as_it_stood():
    read = work("antifreeze-run-through", 0, "cylinder-passages", ice_point_c=-30.0, quantity_l=6.0)
    looked = work("inspected", 24, "cylinder-passages", dry=True)
    assert held(record(read, looked))["cylinder-passages"].ice_point_c == -30.0


def test_a_run_through_every_circuit_proves_those_that_the_flow_passes_and_no_other():
    every = library()[LOOP].circuit_ids
    run = work(
        "antifreeze-run-through",
        0,
        *every,
        product=STRONG,
        quantity_l=8.0,
        outflow=Outflow.FULL_COLOUR,
    )
    found = held(record(run, profile=LOOP))
    assert {name for name, one in found.items() if one.state is LayupState.PROVEN} == {
        "raw-side",
        "water-box",
        "hoses",
    }


EVERYTHING_SEEN = {
    "product": STRONG,
    "quantity_l": 4.0,
    "outflow": Outflow.FULL_COLOUR,
    "dry": True,
    "oil": OilAppearance.CLEAR,
    "engine_hot": True,
}


@pytest.mark.parametrize(("profile", "act"), list(product(sorted(library()), sorted(CLAIMS))))
def test_no_act_proves_a_circuit_that_its_row_does_not(profile, act):
    for one in library()[profile].circuits:
        stands = {} if one.posture is None else {"posture": one.posture}
        for reading in (None, -30.0):
            said = {**EVERYTHING_SEEN, **stands, "ice_point_c": reading}
            done = work(act, 0, one.circuit.id, at=NOON, **said)
            if state(done, circuit=one.circuit.id, profile=profile) is LayupState.PROVEN:
                assert can_prove(act, one), one.circuit.id


@pytest.mark.parametrize("profile", sorted(library()))
def test_every_treatment_of_a_shipped_profile_is_one_that_its_row_proves(profile):
    acts = {way: act for act, way in WAY_OF.items()}
    for one in library()[profile].circuits:
        for treatment in one.treatments:
            if treatment.way in acts:
                assert can_prove(acts[treatment.way], one), (one.circuit.id, treatment.way)


def test_all_circuits_of_an_act_are_those_of_which_it_can_tell_anything():
    assert circuits_within_reach(Act.OIL_CHANGED, library()[V8]) == ("drive-lube",)
    assert "water-box" not in circuits_within_reach(Act.DRAINED, library()[LOOP])
    assert circuits_within_reach(Act.FOGGED_RUNNING, library()[LOOP]) == ()


@pytest.mark.parametrize("kind", CircuitKind)
def test_a_circuit_without_a_shape_is_of_the_one_that_is_hardest_to_prove(kind):
    # Of the shapes that its kind can have, none is proven by an act by which this one is not.
    can_be = {
        CircuitKind.RAW: {Shape.LOW_LOOP, Shape.PASSAGE, Shape.SMALL_PART},
        CircuitKind.PLUMBING: {Shape.TANK, Shape.SMALL_PART},
        CircuitKind.COOLANT: {Shape.COOLANT_LOOP},
        CircuitKind.OIL: {Shape.OIL_FILLED},
        CircuitKind.POCKET: {Shape.POCKET},
    }[kind]
    chosen = careful_shape(kind, ())
    for cells in TABLE.values():
        if cells[chosen].verdict is Verdict.PROVES:
            assert all(cells[other].verdict is Verdict.PROVES for other in can_be)

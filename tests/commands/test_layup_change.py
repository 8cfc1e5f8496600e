"""Putting the record right: only what changes is named, and what that does is told."""

import getpass
import json
import re

import pytest

from tests.commands.yard_files import copied_yard, laidup

ENTRY = re.compile(r"Entered as (\w+)\.")


@pytest.fixture
def bench(tmp_path, capsys):
    """The demo's yard; runs `laidup layup` and returns status and what it said."""
    config = copied_yard(tmp_path)

    def say(*arguments: str, status: int = 0) -> str:
        assert laidup("layup", *arguments, "--config", str(config)) == status
        told = capsys.readouterr()
        return " ".join((told.out if status == 0 else told.err).split())

    return say


POUR = (
    *("add", "k10", "--act", "antifreeze-poured", "--circuit", "water-box", "--by", "Ines"),
    *("--at", "2026-11-13T10:00", "--product", "pink", "--liquid", "propylene"),
    *("--strength", "30%", "--quantity", "1L", "--outflow", "seen"),
    *("--ice-point", "-12C", "--scale", "propylene", "--zeroed-on", "2026-11-13"),
)


def work(bench, craft: str) -> dict[str, dict]:
    return {one["id"]: one for one in json.loads(bench("list", craft, "--json"))}


def test_a_correction_names_only_what_changes_and_tells_what_it_changes(bench):
    old = ENTRY.search(bench(*POUR))[1]
    told = bench("correct", old, "--ice-point", "−11,5 °C", "--lot", "P26", "--entered-by", "Tom")
    assert "reading: −12.0 °C → −11.5 °C" in told
    assert "lot: not said → P26" in told
    assert "quantity" not in told
    assert "water-box: proven, ice from −12.0 °C → proven, ice from −11.5 °C" in told
    new = ENTRY.search(told)[1]
    entries = work(bench, "k10")
    assert entries[old]["replaced_by"] == new
    assert entries[new]["quantity_l"] == 1.0
    assert (entries[new]["by"], entries[new]["entered_by"]) == ("operator", "mechanic")


def test_a_field_that_nobody_said_is_cleared(bench):
    old = ENTRY.search(bench(*POUR))[1]
    told = bench("correct", old[:6], "--clear", "ice-point", "--clear", "scale",
                 "--clear", "zeroed-on", "--entered-by", "Tom")  # fmt: skip
    assert "reading: −12.0 °C → not said" in told
    new = work(bench, "k10")[ENTRY.search(told)[1]]
    assert "ice_point_c" not in new["evidence"]


def test_a_withdrawal_prints_its_consequence_and_can_be_taken_back(bench):
    old = ENTRY.search(bench(*POUR))[1]
    told = bench("withdraw", old, "--entered-by", "Tom", "--note", "that was k1")
    assert "water-box: proven, ice from −12.0 °C → unknown, judged as plain water" in told
    gone = ENTRY.search(told)[1]
    assert f"{old} is on record already, and {gone} took its place." in bench(*POUR)
    back = bench("withdraw", gone, "--entered-by", "Tom")
    assert "water-box: unknown, judged as plain water → proven, ice from −12.0 °C" in back


def test_an_entry_is_moved_to_the_right_craft_in_one_go(bench):
    old = ENTRY.search(bench(*POUR))[1]
    told = bench("reassign", old, "k12", "--entered-by", "Tom")
    assert "k10 Loon: Entered as" in told
    assert "water-box: proven, ice from −12.0 °C → unknown" in told
    assert "k12 Killdeer: Entered as" in told
    assert "→ proven, ice from −12.0 °C" in told
    note = [one["note"] for one in work(bench, "k10").values() if one["act"] == "withdrawn"]
    assert note == ["it was Killdeer (k12)"]


@pytest.mark.parametrize("ran_first", [True, False])
def test_a_list_without_hours_keeps_its_order_on_the_craft_to_which_it_is_moved(bench, ran_first):
    fill = (*POUR, "--at", "13 Nov 2026")
    run = ("add", "k10", "--act", "run-on-water", "--by", "Ines", "--at", "13 Nov 2026")
    told = [ENTRY.search(bench(*one))[1] for one in ((run, fill) if ran_first else (fill, run))]
    for entry in reversed(told):
        bench("reassign", entry, "k12", "--by", "Tom")
    [craft] = json.loads(bench("protection", "k12", "--json"))
    [box] = [one for one in craft["circuits"] if one["circuit"] == "water-box"]
    assert box["state"] == ("proven" if ran_first else "void")


def test_to_a_craft_without_that_circuit_nothing_is_moved(bench):
    old = ENTRY.search(bench(*POUR))[1]
    told = bench("reassign", old, "k6", "--entered-by", "Tom", status=2)
    assert "no circuit 'water-box'" in told
    assert work(bench, "k10")[old]["replaced_by"] is None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("correct", "zzz", "--lot", "P", "--entered-by", "Tom"), "no entry 'zzz' is on record"),
        (("correct", "OLD", "--lot", "P"), "who runs this, is nobody of this yard. Say who with"),
        (("withdraw", "OLD"), "Say who with --entered-by: "),
        (("reassign", "OLD", "k12"), "Say who with --entered-by: "),
        (("move", "k10", "lee-rack/5"), "Say who with --by: "),
        (
            ("withdraw", "OLD", "--entered-by", "Tom", "--note", "x" * 2001),
            "--note: it is too long. Write 2000 letters at most; it has 2001.",
        ),
        (
            ("correct", "OLD", "--entered-by", "Tom", "--note", "x" * 2001),
            "--note: it is too long. Write 2000 letters at most; it has 2001.",
        ),
        (
            ("correct", "OLD", "--entered-by", "Tom", "--at", "1 Jan 0001"),
            "--at: '1 Jan 0001' is of the year 1. Write a year between 1970 and 2199.",
        ),
        (
            ("move", "k10", "lee-rack/5", "--by", "Tom", "--at", "1 Jan 0001"),
            "--at: '1 Jan 0001' is of the year 1; write a year between 1970 and 2199",
        ),
        (
            ("list", "--at", "0001-01-01T00:00"),
            "is of the year 1; write a year between 1970 and 2199",
        ),
        (("move", "k10", "lee-rack/5", "--by", "V" * 300), "it has 300 letters"),
        (("correct", "OLD", "--entered-by", "Tom"), "says so already"),
        (("correct", "OLD", "--quantity", "1,000L", "--entered-by", "Tom"), "may be 1000 or 1.000"),
        (("correct", "OLD", "--clear", "lott", "--entered-by", "Tom"), "Did you mean 'lot'?"),
        (("withdraw", "OLD", "--entered-by", "Vera"), "one line under [helpers]"),
        (("reassign", "OLD", "k99", "--entered-by", "Tom"), "no craft 'k99'"),
        (("move", "k10", "lee-rack/5", "--by", "Vera"), "one line under [helpers]"),
    ],
)
def test_what_cannot_be_put_right_is_refused_with_a_remedy(bench, arguments, words):
    old = ENTRY.search(bench(*POUR))[1]
    before = work(bench, "k10")
    assert words in bench(*(old if one == "OLD" else one for one in arguments), status=2)
    assert work(bench, "k10") == before


@pytest.mark.parametrize("user", ["ines aldaz", "operator"])
def test_who_runs_the_command_puts_it_right_where_the_yard_knows_that_name(
    bench, monkeypatch, user
):
    monkeypatch.setattr(getpass, "getuser", lambda: user)
    old = ENTRY.search(bench(*POUR))[1]
    new = ENTRY.search(bench("correct", old, "--lot", "P26"))[1]
    assert work(bench, "k10")[new]["entered_by"] == "operator"
    gone = ENTRY.search(bench("withdraw", new))[1]
    assert work(bench, "k10")[gone]["by"] == "operator"
    bench("move", "k10", "lee-rack")
    assert "stands in lee-rack, Ines Aldaz" in bench("list", "k10")


def test_a_part_of_a_name_is_nobody_who_runs_a_command(bench, monkeypatch):
    monkeypatch.setattr(getpass, "getuser", lambda: "aldaz")  # one word of hers
    old = ENTRY.search(bench(*POUR))[1]
    assert "Say who with" in bench("correct", old, "--lot", "P", status=2)

"""``laidup import craft`` and ``laidup layup``: what people type, and what they are told."""

import json
import sqlite3
from contextlib import closing

import pytest

from monitor.settings.load import load_settings
from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, laidup

EVE = "2026-11-14T16:00"


@pytest.fixture
def config(tmp_path):
    """The demo's yard, with no craft yet: they come by import."""
    file = copied_yard(tmp_path)
    text = file.read_text()
    assert 'craft_files = ["craft.toml"]\n' in text
    file.write_text(text.replace('craft_files = ["craft.toml"]\n', ""))
    return file


@pytest.fixture
def yard(config, capsys):
    """The demo's twelve craft on record; runs a verb and returns what it said."""
    laidup("import", "craft", str(config.parent / "craft.toml"), "--config", str(config))
    capsys.readouterr()

    def say(*arguments: str) -> str:
        assert laidup("layup", *arguments, "--config", str(config)) == 0
        return capsys.readouterr().out

    return say


def refused(config, capsys, *arguments: str) -> str:
    assert laidup(*arguments, "--config", str(config)) == 2
    return capsys.readouterr().err


def entries(config, craft: str) -> int:
    settings = load_settings(config)
    store = Store(settings.store_url, settings.yard.id)
    with store.snapshot() as tx:
        found = len(tx.layup.entries_of(craft))
    store.close()
    return found


def test_importing_says_what_was_new_and_again_says_nothing_was(config, capsys):
    file = str(config.parent / "craft.toml")
    laidup("import", "craft", file, "--config", str(config))
    assert "12 craft (12 new), 13 stays (13 new)" in capsys.readouterr().out
    laidup("import", "craft", file, "--config", str(config))
    assert "12 craft (0 new), 13 stays (0 new)" in capsys.readouterr().out


def test_a_file_with_one_slip_is_refused_whole(config, capsys, tmp_path):
    text = (config.parent / "craft.toml").read_text()
    bad = tmp_path / "bad.toml"
    bad.write_text(text.replace('strength = "50%"', 'strength = "120%"', 1))
    told = refused(config, capsys, "import", "craft", str(bad))
    assert "craft[1].layup[3].product.strength" in told
    laidup("migrate", "--config", str(config))
    capsys.readouterr()
    assert laidup("layup", "list", "--json", "--at", EVE, "--config", str(config)) == 0
    assert json.loads(capsys.readouterr().out) == []


def test_work_goes_on_craft_of_the_yards_own_files_without_an_import(tmp_path, capsys):
    config = copied_yard(tmp_path)
    flags = ["--act", "bilge-dried", "--by", "Ines Aldaz", "--at", EVE, "--config", str(config)]
    assert laidup("layup", "add", "k1", *flags) == 0
    capsys.readouterr()
    assert laidup("layup", "list", "--json", "--at", EVE, "--config", str(config)) == 0
    assert len(json.loads(capsys.readouterr().out)) == 12


def test_an_import_of_the_yards_own_craft_file_counts_what_was_new(tmp_path, capsys):
    config = copied_yard(tmp_path)
    file = str(config.parent / "craft.toml")
    laidup("import", "craft", file, "--config", str(config))
    assert "12 craft (12 new), 13 stays (13 new)" in capsys.readouterr().out


def test_a_csv_list_of_craft_comes_in(config, capsys, tmp_path):
    rows = tmp_path / "season.csv"
    rows.write_text(
        "id,name,profile,arrived,place\nk20,Wren,outboard,2026-11-01 09:00,lee-rack/6\n"
    )
    assert laidup("import", "craft", str(rows), "--config", str(config)) == 0
    assert "1 craft (1 new)" in capsys.readouterr().out


def test_the_list_names_every_craft_with_its_weakest_circuit(yard):
    told = json.loads(yard("list", "--at", EVE, "--json"))
    assert [one["craft"] for one in told] == [f"k{n}" for n in range(1, 13)]
    plover = told[1]
    states = {one["circuit"]: one["state"] for one in plover["circuits"]}
    assert states["cylinder-passages"] == "unproven"
    shown = yard("list", "--at", EVE)
    assert "k2 Plover" in shown
    assert "judged as plain water" in " ".join(shown.split())


def test_the_list_counts_what_holds_the_low_that_the_yard_lays_up_for(config, yard):
    text = config.read_text()
    assert "design_low" not in text
    config.write_text(text.replace("[yard]\n", '[yard]\ndesign_low = "-31C"\n', 1))
    assert {one["low_c"] for one in json.loads(yard("list", "--at", EVE, "--json"))} == {-31.0}
    asked = json.loads(yard("list", "--low", "-12C", "--at", EVE, "--json"))
    assert {one["low_c"] for one in asked} == {-12.0}


def test_the_list_of_one_craft_is_its_work_in_order(yard):
    told = json.loads(yard("list", "k12", "--json"))
    acts = [one["act"] for one in told]
    assert acts.index("antifreeze-run-through") < acts.index("run-on-water")


def test_protection_says_why_in_the_yards_units(yard):
    shown = " ".join(yard("protection", "k2", "--at", EVE).split())
    assert "unproven" in shown
    told = json.loads(yard("protection", "k6", "--at", EVE, "--json"))
    hub = next(one for one in told[0]["circuits"] if one["circuit"] == "propeller-hub")
    assert (hub["state"], hub["ice_point_c"]) == ("proven", None)  # dry: no ice point at all


def test_a_plan_gives_steps_quantities_evidence_and_cautions(yard):
    [k3] = json.loads(yard("plan", "k3", "--low", "-12C", "--at", EVE, "--json"))
    run = next(one for one in k3["needs"] if one["quantity_l"])
    assert run["act"] == "run antifreeze"
    assert set(run["evidence"]) == {"outflow at full colour", "reading"}
    assert (run["reading_c"], run["enter_as"]) == (-17.0, "antifreeze-run-through")
    assert k3["minutes"] == sum(one["minutes"] for one in k3["needs"])
    shown = yard("plan", "k1", "k3", "--low", "10F", "--at", EVE)
    assert "Nothing missing by the record: k1 Teal." in shown
    assert "Would also do: pour it in by hand" in " ".join(shown.split())
    assert "Carbon monoxide kills" in shown
    assert "not a life-safety device" in shown


def test_the_whole_yard_gets_a_line_a_craft_and_missing_is_another_name(yard):
    shown = yard("missing", "--low", "-12C", "--at", EVE)
    assert len([line for line in shown.splitlines() if line.startswith("  k")]) == 10
    assert "k12 Killdeer, 1 h" in shown


def test_supplies_add_up_what_all_plans_take_and_say_when_the_work_is_done(yard):
    plans = json.loads(yard("plan", "--low", "-12C", "--at", EVE, "--json"))
    told = json.loads(yard("supplies", "--low", "-12C", "--at", EVE, "--json"))
    poured = sum(step["quantity_l"] or 0.0 for one in plans for step in one["needs"])
    assert sum(one["quantity_l"] for one in told["supplies"]) == pytest.approx(poured)
    for one in told["supplies"]:
        assert one["containers"] * one["container_l"] >= one["quantity_l"]
    assert told["minutes"] == sum(one["minutes"] for one in plans)
    alone = yard("supplies", "--low", "-12C", "--at", EVE, "--hands", "1", "--day", "600min")
    assert "1 person who begins on Sunday 15 November and works 10 h a day is" in " ".join(
        alone.split()
    )


@pytest.mark.parametrize(("hour", "begins_on"), [("09:00", "2026-11-14"), ("13:00", "2026-11-15")])
def test_what_is_left_of_an_afternoon_is_no_day_of_work(yard, hour, begins_on):
    told = json.loads(yard("supplies", "--low", "-12C", "--at", f"2026-11-14T{hour}", "--json"))
    assert told["begins_on"] == begins_on


def test_what_stands_on_the_yards_shelf_is_what_a_plan_pours(yard, config):
    config.write_text(
        config.read_text()
        + '\n[[shelf]]\nid = "pink"\nlabel = "Pink 60 %"\nstrength = "60%"\nlot = "P26-117"\n'
    )
    shown = " ".join(yard("plan", "k3", "--low", "-12C", "--at", EVE).split())
    assert "of Pink 60 %, lot P26-117 through" in shown


def test_review_gives_reasons_and_names_who_keeps_every_rule(yard):
    shown = yard("review", "k1", "k8", "--at", EVE)
    assert "cold-thermostat" in shown
    assert "Every rule kept: k1 Teal." in shown


def test_a_breach_names_the_step_of_the_plan_that_mends_it(yard):
    shown = " ".join(yard("review", "k2", "--at", EVE).split())
    assert "passage-blocked" in shown
    assert "Step 1 of its plan." in shown
    assert "Step 1: Find what blocks the cylinder and head passages" in shown
    [told] = json.loads(yard("review", "k2", "--at", EVE, "--json"))
    blocked = next(one for one in told["breaches"] if one["rule"] == "passage-blocked")
    assert blocked["step"] == 1
    assert blocked["remedy"].startswith("Find what blocks")


def test_without_a_low_a_plan_is_for_the_yards_design_low(yard, config):
    assert "To stand −20" in yard("plan", "k3", "--at", EVE)
    config.write_text(config.read_text().replace("[yard]\n", '[yard]\ndesign_low = "-31C"\n', 1))
    [told] = json.loads(yard("plan", "k3", "--at", EVE, "--json"))
    assert told["low_c"] == -31.0


def test_findings_and_spring_list_remember_autumn(yard):
    assert "gear oil milky" in yard("findings", "--at", EVE)
    assert "Settle finding k7-seal" in yard("spring", "k7", "--at", "2027-04-20T09:00")


def test_adding_work_says_what_it_adds_up_to(yard):
    shown = yard(
        "add",
        "k2",
        "--act",
        "drained",
        "--circuit",
        "cylinder-passages",
        "--dry",
        "yes",
        "--by",
        "Tom Varga",
        "--at",
        "2026-11-14T17:00",
    )
    assert "cylinder-passages: unproven, judged as plain water → proven, dry" in shown
    told = json.loads(yard("protection", "k2", "--at", "2026-11-14T18:00", "--json"))
    head = told[0]["circuits"][0]
    assert (head["circuit"], head["basis"]) == ("cylinder-passages", "drained and seen dry")


def test_adding_work_names_the_rule_that_it_breaks(yard):
    shown = yard(
        "add", "k1", "--act", "run-on-water", "--by", "Tom Varga", "--at", "2026-11-14T17:00"
    )
    assert "→ void, judged as plain water" in shown
    assert "undid the work of 27 Oct 2026" in shown


def test_a_pour_by_flags_takes_ounces_and_fahrenheit(yard):
    opened = ("--act", "circuit-opened", "--circuit", "water-box", "--at", "2026-11-13T09:00")
    yard("add", "k10", *opened, "--by", "Ines Aldaz")  # else nobody let out more than ordinary
    told = json.loads(
        yard(
            "add",
            "k10",
            "--act",
            "antifreeze-poured",
            "--circuits",  # as the column is called
            "water-box",
            "--by",
            "Ines Aldaz",
            "--at",
            "2026-11-13T10:00",
            "--product",
            "pink",
            "--liquid",
            "propylene",
            "--strength",
            "50%",
            "--quantity",
            "14 fluid ounces",
            "--residual",
            "4floz",
            "--outflow",
            "seen",
            "--ice-point",
            "-5F",
            "--scale",
            "propylene",
            "--zeroed-on",
            "2026-11-13",
            "--json",
        )
    )
    assert told["circuits"]["water-box"]["state"] == "proven"
    held = json.loads(yard("protection", "k10", "--at", EVE, "--json"))[0]["circuits"]
    box = next(one for one in held if one["circuit"] == "water-box")
    assert box["ice_point_c"] == pytest.approx(-20.56, abs=0.01)  # -5 °F


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (["--circuit", "hoses", "--strength", "120%"], "layup add: strength:"),
        (["--circuit", "hoses", "--quantity", "14gal"], "was it fl oz?"),
        (["--circuit", "boiler"], "no circuit 'boiler'"),
        (["--circuit", "hoses", "--at", "2026-10-01T09:00"], "before Plover (k2) came"),
        (["--circuit", "hoses", "--at", "2036-10-01T09:00"], "still to come"),
        (["--circuit", "hoses", "--quantity", "14"], "takes one of"),
        ([], "protection belongs to a circuit"),
        (["--circuit", "hoses", "--replaces", "nothing"], "no entry 'nothing'"),
        (["--circuit", "hoses", "--finding", "seal weeps"], "k7-seal:gearcase:seal weeps"),
    ],
)
@pytest.mark.usefixtures("yard")
def test_bad_work_is_named_and_nothing_is_written(config, capsys, flags, words):
    before = entries(config, "k2")
    told = refused(
        config,
        capsys,
        "layup",
        "add",
        "k2",
        "--act",
        "antifreeze-poured",
        "--by",
        "Tom Varga",
        *(["--at", "2026-11-14T17:00"] if "--at" not in flags else []),
        *flags,
    )
    assert words in told
    assert entries(config, "k2") == before


@pytest.mark.usefixtures("yard")
def test_work_without_a_name_or_on_no_craft_is_refused(config, capsys):
    act = ["--act", "flushed", "--at", "2026-11-14T17:00"]
    assert "by: it is missing" in refused(config, capsys, "layup", "add", "k2", *act)
    named = [*act, "--by", "Tom Varga"]
    assert "no craft 'k99'" in refused(config, capsys, "layup", "add", "k99", *named)
    assert "no craft 'k99'" in refused(config, capsys, "layup", "protection", "k99")


def test_a_slip_is_corrected_by_a_further_entry(yard):
    run = json.loads(
        yard(
            "add",
            "k1",
            "--act",
            "run-on-water",
            "--by",
            "Tom Varga",
            "--at",
            "2026-11-13T17:00",
            "--json",
        )
    )
    yard(
        "add",
        "k1",
        "--act",
        "withdrawn",
        "--replaces",
        run["entry"],
        "--by",
        "Ines Aldaz",
        "--at",
        "2026-11-13T18:00",
        "--note",
        "that was k12",
    )
    told = json.loads(yard("protection", "k1", "--at", EVE, "--json"))
    assert {one["state"] for one in told[0]["circuits"]} == {"proven"}
    work = {one["id"]: one for one in json.loads(yard("list", "k1", "--json"))}
    assert work[run["entry"]]["replaced_by"]


def test_moving_a_heat_only_craft_out_says_at_once_what_that_undoes(yard):
    yard("add", "k10", "--act", "kept-warm", "--by", "Ines Aldaz", "--at", "2026-11-13T10:00")
    shown = yard("move", "k10", "lee-rack/5", "--by", "Ines Aldaz", "--at", "2026-11-14T15:00")
    assert "k10 stands in lee-rack/5." in shown
    assert "moved-into-cold" in shown
    assert "On record already." in yard(
        "move", "k10", "lee-rack/5", "--by", "Ines Aldaz", "--at", "2026-11-14T15:00"
    )


@pytest.mark.usefixtures("yard")
def test_a_move_to_nowhere_is_refused(config, capsys):
    told = refused(config, capsys, "layup", "move", "k10", "lee-rack/99", "--by", "Ines Aldaz")
    assert "Lee Rack has no berth '99'" in told


@pytest.mark.parametrize("verb", [("list",), ("list", "k2"), ("protection", "k8")])
def test_a_narrow_terminal_swallows_no_word(yard, monkeypatch, verb):
    monkeypatch.setenv("COLUMNS", "80")
    assert "…" not in yard(*verb)


def test_a_move_into_a_taken_berth_is_entered_and_both_are_named(config, yard, capsys):
    flags = ("--by", "Ines Aldaz", "--config", str(config))
    assert laidup("layup", "move", "k2", "long-shed/1", "--at", EVE, *flags) == 0
    out = capsys.readouterr()
    assert "k2 stands in long-shed/1." in out.out
    assert "Teal (k1) and " in out.err
    assert "(k2) share this berth of Long Shed since" in out.err
    assert "`laidup layup move" in out.err
    craft = json.loads(yard("list", "--json", "--at", EVE))
    assert {"k1", "k2"} <= {one["craft"] for one in craft}  # both are still in care
    # Put right, nobody is told any more.
    assert laidup("layup", "move", "k1", "long-shed/2", "--at", "2026-11-14T16:05", *flags) == 0
    assert capsys.readouterr().err == ""


def test_an_import_that_puts_two_craft_into_one_berth_says_so(config, capsys):
    file = config.parent / "craft.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('"long-shed/2"', '"long-shed/1"', 1), encoding="utf-8")
    assert laidup("import", "craft", str(file), "--config", str(config)) == 0
    out = capsys.readouterr()
    assert "12 craft (12 new)" in out.out
    assert "long-shed/1: Teal (k1) and " in out.err


def test_a_craft_that_left_is_said_to_have_no_plan(yard):
    yard("add", "k6", "--act", "sold", "--at", "2026-11-14T17:00", "--by", "mechanic")
    told = yard("plan", "k6", "--low", "-12C")
    assert "Not in the yard, and so without a plan: k6 Coot." in told


def test_a_craft_with_nothing_left_for_spring_says_so_and_is_no_bare_heading(yard):
    made = ("add", "k6", "--act", "commissioned", "--at", "2026-11-14T17:00", "--by", "mechanic")
    yard(*made)
    told = yard("spring", "k6", "--at", "2026-11-14T18:00")
    assert "k6 Coot: made ready for the water, and the winter left nothing to look at" in told
    assert "before the first start" not in told


def test_craft_and_places_are_named_as_people_name_them(yard, config, capsys):
    by_id = yard("protection", "k1", "--at", EVE)
    assert yard("protection", "teal", "--at", EVE) == by_id
    moved = yard("move", "Teal", "Stove Barn", "--by", "Ines", "--at", "14 Nov 2026 10:00")
    assert "k1 stands in stove-barn." in moved
    assert "Did you mean 'Teal'?" in refused(config, capsys, "layup", "plan", "Teel")
    at = ("--by", "Ines", "--at", "14 Nov 2026 11:00")
    assert "Did you mean 'stove-barn'?" in refused(
        config, capsys, "layup", "move", "k1", "stove barm", *at
    )


@pytest.fixture
def bench(config, monkeypatch):
    """Answers the bench's questions in order; a function among them is called, and says it."""

    def run(*answers) -> list[str]:
        left = list(answers)

        def answer(question: str) -> str:
            asked.append(question)
            if not left:
                raise EOFError
            said = left.pop(0)
            return said() if callable(said) else said

        asked: list[str] = []
        monkeypatch.setattr("builtins.input", answer)
        monkeypatch.setattr("sys.stdin.isatty", lambda: True)
        laidup("layup", "add", "--config", str(config))
        return asked

    return run


COVER = ("Teal", "cover fitted", "Ines", "14 Nov 2026 10:00", "breathable", "", "", "")


@pytest.mark.usefixtures("yard")
def test_a_store_that_refuses_for_a_while_costs_no_answer(config, bench, capsys):
    file = load_settings(config).store_url.removeprefix("sqlite:///")

    def statement(text: str, then: str):
        def run() -> str:
            with closing(sqlite3.connect(file)) as db:
                db.execute(text)
                db.commit()
            return then

        return run

    before = entries(config, "k1")
    shut = statement("ALTER TABLE record_links RENAME TO away", "yes")
    open_again = statement("ALTER TABLE away RENAME TO record_links", "")
    asked = bench(*COVER, shut, open_again, "no")
    told = capsys.readouterr()
    assert "Not written: " in told.err
    assert sum("Your answers are kept" in one for one in asked) == 1
    assert sum("Who did it?" in one for one in asked) == 1
    assert entries(config, "k1") == before + 1


@pytest.mark.usefixtures("yard")
def test_a_claim_that_an_act_cannot_make_is_asked_again_and_the_rest_is_kept(config, bench, capsys):
    before = entries(config, "k3")
    looked = (*("Grebe", "inspected", "Ines", "14 Nov 2026 10:00"),
              *("coolant, hoses", "yes", "", "", "", ""))  # fmt: skip
    asked = bench(*looked, "hoses", "yes", "no")
    assert "says nothing of closed coolant loop" in capsys.readouterr().out
    assert sum("Which circuits" in one for one in asked) == 2
    assert sum("Who did it?" in one for one in asked) == 1
    assert entries(config, "k3") == before + 1


@pytest.mark.usefixtures("yard")
def test_a_run_told_in_the_minute_of_the_work_that_it_undid_does_undo_it(bench, capsys):
    drained = ("k10", "drained", "Ines", "", "hoses", "yes", "", "", "", "yes")
    ran = ("run on water", "", "", "engine first", "", "", "yes")
    asked = bench(*drained, *ran, "no")
    told = capsys.readouterr().out
    assert "hoses: proven, dry → void, judged as plain water" in " ".join(told.split()), asked
    assert sum(one.startswith("Another step on Loon") for one in asked) == 2
    assert told.count("Battery\n") == 1  # the list of acts, once

"""A whole job in one go: a row a step in CSV, steps under their craft in TOML."""

import json

import pytest

from tests.commands.yard_files import copied_yard, laidup

HEADING = (
    "craft,when,who,act,circuits,product,liquid,strength,quantity,outflow,reading,scale,"
    "zero checked,dry"
)
CSV = f"""{HEADING}
k10,13 Nov 2026 10:00,Ines,drained,hoses,,,,,,,,,yes
,,,antifreeze-poured,water-box,pink,propylene,50%,"1,5 L",seen,−21 °C,propylene,13 Nov 2026,
k12,13 Nov 2026 11:00,Tom,drained,hoses exhaust-jacket,,,,,,,,,yes
"""


@pytest.fixture
def yard(tmp_path, capsys):
    """The demo's yard; takes in a work list and returns status and all that was said."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))
    capsys.readouterr()

    def take(text: str, *arguments: str, suffix: str = "csv") -> tuple[int, str]:
        file = tmp_path / f"work.{suffix}"
        file.write_text(text)
        status = laidup("import", "work", str(file), *arguments, "--config", str(config))
        told = capsys.readouterr()
        return status, " ".join((told.out + told.err).split())

    def work(craft: str) -> list[dict]:
        laidup("layup", "list", craft, "--json", "--config", str(config))
        return json.loads(capsys.readouterr().out)

    def layup(*arguments: str) -> str:
        assert laidup("layup", *arguments, "--config", str(config)) == 0
        return capsys.readouterr().out

    take.work, take.layup = work, layup
    return take


def test_a_list_on_two_craft_is_taken_in_with_its_consequence(yard):
    status, told = yard(CSV)
    assert status == 0
    assert "k10 Loon: 2 steps, 2 new" in told
    assert "water-box: unknown, judged as plain water → proven, ice from −21.0 °C" in told
    assert "hoses: void, judged as plain water → proven, dry" in told  # of k12
    assert told.endswith("3 steps on 2 craft, 3 new.")
    pour = next(one for one in yard.work("k10") if one["act"] == "antifreeze-poured")
    assert (pour["at"], pour["by"]) == ("2026-11-13T16:00:00Z", "operator")  # of the row above
    assert pour["quantity_l"] == 1.5


def test_the_same_list_again_adds_nothing(yard):
    yard(CSV)
    assert yard(CSV)[1].endswith("3 steps on 2 craft, 0 new.")


def test_a_list_can_be_tried_without_writing(yard):
    before = yard.work("k10")
    assert yard(CSV, "--try")[1].endswith("3 would be new; nothing was written.")
    assert yard.work("k10") == before


GEAR = "craft,when,who,act,oil,circuits\n"


def test_gear_oil_is_not_taken_for_the_engine_s_and_circuits_go_by_their_names(yard):
    status, told = yard(f"{GEAR}k6,13 Nov 2026 10:00,Ines,gear oil changed,milky,\n")
    assert status == 0, told
    [oil] = [one for one in yard.work("k6") if one.get("evidence", {}).get("oil") == "milky"]
    assert oil["circuits"] == ["gearcase"]
    status, told = yard(f"{GEAR}k9,13 Nov 2026 10:00,Ines,gear oil changed,milky,\n")
    assert (status, "line 2: circuits: " in told, "has no gearcase on file" in told) == (2, 1, 1)
    status, told = yard(f"{GEAR}k9,13 Nov 2026 10:00,Ines,blown out,,ballast pumps and valves\n")
    assert status == 0, told


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ('"1,5 L"|"1,500 L"', "line 3: quantity: '1,500 L' may be 1500 or 1.500"),
        ("hoses exhaust-jacket|hose", "line 4: circuits: Killdeer (k12"),
        ("k12,|k99,", "line 4: craft: no craft 'k99'"),
        ("11:00,Tom|11:00,Vera", "line 4: by: 'Vera' is nobody of this yard"),
        ("13 Nov 2026 11:00|9999-12-31 23:59", "line 4: at: "),
        ("13 Nov 2026 11:00|11/12", "line 4: at: '11/12' may be two different days"),
        ("hoses,,,,,,,,,yes\n,|hoses,,,,,,,,,yes,,,\n,", "line 2: it has 17 fields"),
        ("who,act|who,actt", "line 1: there is no column 'actt'. Did you mean 'act'?"),
        ("seen,−21|none,−21", "line 3: ice_point: nothing came out"),
    ],
)
def test_a_slip_is_named_with_its_line_and_nothing_is_taken_in(yard, change, words):
    before, after = change.split("|")
    assert before in CSV
    known = yard.work("k10")
    status, told = yard(CSV.replace(before, after, 1))
    assert status == 2
    assert words in told
    assert yard.work("k10") == known


TOML = """
by = "Ines"
at = "13 Nov 2026 10:00"
product = { name = "pink", liquid = "propylene", strength = "50%", lot = "P26" }

[[job]]
craft = ["k10", "k12"]
steps = [
  { act = "antifreeze-poured", circuits = "water-box", quantity = "1L", outflow = "seen" },
  { act = "antifreeze-poured", circuits = "hoses", quantity = "0.2L", at = "13 Nov 2026 10:20" },
]
"""


def test_a_toml_job_names_its_craft_once(yard):
    status, told = yard(TOML, suffix="toml")
    assert status == 0
    assert told.endswith("4 steps on 2 craft, 4 new.")
    lots = {one["product"]["lot"] for one in yard.work("k12") if one.get("quantity_l") in {1, 0.2}}
    assert lots == {"P26"}


def test_the_same_as_on_another_craft_takes_over_the_work_and_nothing_seen(yard):
    rows = CSV + "k2,13 Nov 2026 12:00,Tom,,,,,,,,,,,\n"
    rows = rows.replace("dry\n", "dry,same as\n", 1).replace(",,,,,,,,,,,\n", ",,,,,,,,,,,,k10\n")
    status, told = yard(rows)
    assert status == 0, told
    done = [one for one in yard.work("k2") if one["at"] == "2026-11-13T18:00:00Z"]
    assert {one["act"]: one.get("quantity_l") for one in done} == {
        "antifreeze-poured": 1.5,
        "drained": None,
    }
    assert all("evidence" not in one for one in done)
    assert "k2 Plover: 2 steps, 2 new" in told


def test_the_same_as_on_a_craft_without_such_work_is_refused(yard):
    rows = "craft,act,same_as,at,by\nk10,battery-equalised,k12,13 Nov 2026 9:00,Tom\n"
    status, told = yard(rows)
    assert status == 2
    assert "line 2: act: no battery-equalised was done on k12" in told


FILL = {
    "act": "antifreeze-poured",
    "circuits": "water-box",
    "product": "pink",
    "liquid": "propylene",
    "strength": "50%",
    "quantity": "6 L",
    "outflow": "full colour",
}
RUN = {"act": "run-on-water"}


def by_csv(yard, *steps: dict[str, str]) -> None:
    columns = list(FILL)
    rows = [",".join(step.get(column, "") for column in columns) for step in steps]
    lines = [
        f"craft,when,who,{','.join(columns)}",
        *(f"k10,13 Nov 2026,Ines,{row}" for row in rows),
    ]
    status, told = yard("\n".join(lines) + "\n")
    assert status == 0, told


def by_toml(yard, *steps: dict[str, str]) -> None:
    told = "".join(
        "[[job.steps]]\n" + "".join(f'{key} = "{value}"\n' for key, value in step.items())
        for step in steps
    )
    text = f'at = 2026-11-13\nby = "Ines"\n[[job]]\ncraft = "k10"\n{told}'
    status, said = yard(text, suffix="toml")
    assert status == 0, said


def by_flags(yard, *steps: dict[str, str]) -> None:
    for step in steps:
        flags = [part for key, value in step.items() for part in (f"--{key}", value)]
        yard.layup("add", "k10", "--at", "13 Nov 2026", "--by", "Ines", *flags)


@pytest.mark.parametrize("door", [by_csv, by_toml, by_flags])
@pytest.mark.parametrize("ran_last", [True, False])
def test_steps_of_a_date_without_an_hour_count_in_their_order_by_every_door(yard, door, ran_last):
    steps = [FILL, RUN] if ran_last else [RUN, FILL]
    door(yard, *steps)
    held = json.loads(yard.layup("protection", "k10", "--json"))
    [craft] = held
    [box] = [one for one in craft["circuits"] if one["circuit"] == "water-box"]
    assert box["state"] == ("void" if ran_last else "proven")
    told = yard.layup("list", "k10")
    assert told.count("13 Nov, hour not told") == 2
    assert (told.index("run-on-water") > told.index("antifreeze-poured")) is ran_last
    entered = [one["act"] for one in yard.work("k10")]
    assert entered[-2:] == [step["act"] for step in steps]


def test_paper_is_read_as_it_was_written(yard):
    rows = """craft,who,when,act,circuits,oil,finding
pintail,Tom,Fri 13 Nov 2026 9:00,drains pulled,port,,
,,9:20,oil changed,starboard-pump-housing,milky,pump housing: milky; seal?
"""
    status, told = yard(rows)
    assert status == 0, told
    drained, oil = [one for one in yard.work("k5") if one["at"][:10] == "2026-11-13"][-2:]
    assert drained["act"] == "drained"
    assert drained["circuits"] == ["port-cylinder-passages", "port-exhaust-jacket", "port-hoses"]
    assert oil["at"] == "2026-11-13T15:20:00Z"  # an hour alone is of the day above
    [seen] = oil["findings"]
    assert (seen["part"], seen["words"]) == ("pump housing", "milky; seal?")


def test_a_product_of_the_shelf_need_only_be_named(yard, tmp_path):
    file = tmp_path / "yard.toml"
    if "[[shelf]]" not in file.read_text():
        shelf = '[[shelf]]\nid = "rosa"\nlabel = "Rosa 50"\nliquid = "propylene"\n'
        file.write_text(f'{file.read_text()}\n{shelf}strength = "50%"\nlot = "R7"\n')
    text = file.read_text()
    name = text.partition("[[shelf]]")[2].partition('id = "')[2].partition('"')[0]
    rows = f"craft,by,at,act,circuits,product\nk10,Ines,13 Nov 2026 9:00,ACT,hoses,{name}\n"
    status, told = yard(rows.replace("ACT", "pourd"))
    assert (status, "line 2: act: 'pourd' is no act. Did you mean" in told) == (2, True)
    assert yard(rows.replace("ACT", "pink poured"))[0] == 0
    product = yard.work("k10")[-1]["product"]
    assert (product["liquid"], product["lot"] != "") == ("propylene", True)


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/full"])
def test_a_device_without_end_is_refused_and_not_read(tmp_path, capsys, device):
    config = copied_yard(tmp_path)
    for what in ("work", "craft"):
        link = tmp_path / f"endless-{what}.toml"
        link.symlink_to(device)
        assert laidup("import", what, str(link), "--config", str(config)) == 2
        assert "it is no plain file" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "it is empty. Write a heading"),
        (b" \n\n", "it is empty. Write a heading"),
        ("craft,note\nk1,gr\u00fcn\n".encode("latin-1"), "line 2 is not UTF-8"),
        ("craft,act\n".encode("utf-16"), "line 1 is not UTF-8"),
    ],
)
@pytest.mark.parametrize("what", ["work", "craft"])
def test_a_list_without_content_or_in_another_encoding_is_named(
    tmp_path, capsys, what, content, words
):
    config = copied_yard(tmp_path)
    file = tmp_path / "list.csv"
    file.write_bytes(content)
    assert laidup("import", what, str(file), "--config", str(config)) == 2
    assert words in capsys.readouterr().err


def test_nesting_without_end_is_refused(yard):
    status, told = yard("x = " + "[" * 100_000, suffix="toml")
    assert status == 2
    assert "brackets stand inside each other deeper" in told or "it is not TOML" in told


def test_a_product_above_all_steps_goes_to_those_that_can_use_it(yard):
    text = """
by = "Ines"
at = "13 Nov 2026 10:00"
product = { name = "Pink 50", liquid = "propylene", strength = "50%" }
[[job]]
craft = "k10"
steps = [
  { act = "drained", circuits = ["hoses"], dry = true },
  { act = "antifreeze-poured", circuits = ["water-box"], quantity = "1.5L", outflow = "seen" },
]
"""
    status, told = yard(text, suffix="toml")
    assert (status, told.endswith("2 steps on 1 craft, 2 new.")) == (0, True), told
    drained, poured = yard.work("k10")[-2:]
    assert "product" not in drained
    assert poured["product"]["name"] == "Pink 50"


def test_what_is_changed_of_anothers_work_goes_where_it_can_be_used(yard):
    first = 'k10,13 Nov 2026 10:00,Ines,"{}",{},{},{}\n'
    head = "craft,when,who,act,circuits,outflow,same_as\n"
    rows = first.format("antifreeze-poured", "water-box", "seen", "")
    rows += first.format("oil-changed", "pump-housing", "", "")
    rows += "k12,13 Nov 2026 12:00,Ines,,,seen,k10\n"
    status, told = yard(head + rows)
    assert status == 0, told
    changed = {one["act"]: one for one in yard.work("k12") if one["at"] == "2026-11-13T18:00:00Z"}
    assert changed["antifreeze-poured"]["evidence"]["outflow"] == "seen"
    assert "evidence" not in changed["oil-changed"]
    lost = rows.replace(",seen,k10", ",seen,k10").replace("antifreeze-poured", "fuel-drained")
    status, told = yard(head.replace("outflow", "scale") + lost.replace("seen", "propylene"))
    assert status == 2
    assert "scale says nothing with" in told


def test_how_another_craft_stands_is_not_taken_over(yard):
    head = "craft,when,who,act,posture,same_as\n"
    rows = "k6,13 Nov 2026 10:00,Ines,stood,upright,\nk7,13 Nov 2026 11:00,Ines,stood,,k6\n"
    status, told = yard(head + rows)
    assert status == 0, told
    assert "posture" not in yard.work("k7")[-1]


def test_a_list_without_a_job_says_how_one_is_written(yard):
    status, told = yard('by = "Ines"\n', suffix="toml")
    assert status == 2
    assert "Write [[job]] with its craft and its steps." in told


SLIPS = f"""{HEADING}
k10,13 Nov 2026 10:00,Ines,drained,hoses,,,,,,,,,yes,,,
,,,antifreeze-poured,water-box,pink,propylene,fifty,"1,5 L",seen,−21 °C,propylene,13 Nov 2026,
k99,13 Nov 2026 11:00,Tom,drained,hoses,,,,,,,,,yes
k12,13 Nov 2026 11:00,Tom,drained,boiler,,,,,,,,,yes
k12,13 Nov 2026 11:30,Vera,drainned,hoses,,,,,,,,,yes
k12,13 Nov 2026 11:40,Tom,antifreeze-poured,hoses,pink,propylene,50%,1L,none,−21 °C,propylene,,
"""


def test_every_slip_of_a_list_is_told_at_once_in_the_order_of_its_lines(yard):
    status, told = yard(SLIPS)
    assert status == 2
    places = [told.index(f"line {line}: ") for line in (2, 3, 4, 5, 6, 7)]
    assert places == sorted(places)
    for words in ("17 fields", "fifty", "no craft 'k99'", "boiler", "drainned", "nothing came out"):
        assert words in told


def test_a_slip_in_the_only_row_is_named_with_its_line(yard):
    slip = f"{HEADING}\nk12,13 Nov 2026 11:00,Tom,drained,boiler,,,,,,,,,yes\n"
    assert "line 2: circuits: Killdeer (k12" in yard(slip)[1]


def test_a_row_that_stands_there_twice_is_counted_once_everywhere(yard):
    row = "k10,13 Nov 2026 10:00,Ines,drained,hoses,,,,,,,,,yes\n"
    _, told = yard(f"{HEADING}\n{row}{row}")
    assert "k10 Loon: 2 steps, 1 new" in told
    assert told.endswith("2 steps on 1 craft, 1 new.")


WITH_STABILISER = """
by = "Ines"
at = "13 Nov 2026 10:00"
product = { name = "pink", liquid = "propylene", strength = "50%", lot = "P26" }

[[job]]
craft = "k10"
steps = [
  { act = "fuel-stabilised" },
  { act = "fogged-running", product = "oil mist" },
  { act = "antifreeze-poured", circuits = "water-box", quantity = "1L", outflow = "seen" },
]

[[job]]
craft = "k12"
same_as = "k10"
"""


def test_the_antifreeze_of_a_job_is_no_product_of_its_other_steps(yard):
    status, told = yard(WITH_STABILISER, suffix="toml")
    assert status == 0, told
    for craft in ("k10", "k12"):
        products = {
            one["act"]: one.get("product", {}).get("name")
            for one in yard.work(craft)
            if one["at"] == "2026-11-13T16:00:00Z"
        }
        assert products == {
            "fuel-stabilised": None,
            "fogged-running": "oil mist",
            "antifreeze-poured": "pink",
        }


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[[job]]\ncraft = "k10"\n', "job[1]: it has no steps"),
        ('[[job]]\ncraft = "k10"\nsteps = 3\n', "job[1].steps: it is no list"),
    ],
)
def test_a_job_without_steps_says_what_to_write(yard, text, words):
    status, told = yard(text, suffix="toml")
    assert status == 2
    assert words in told


FROM_PAPER = """\
craft,when,who,act,circuits,product,liquid,strength,quantity,reading,scale,zero checked
k6,13 Nov 2026 9:00,Ines,stood upright,powerhead,,,,,,,
k10,,,run on treated fuel,,,,,,,,
k10,,,poured,water-box,pink,PG,50%,1L,-21C,PG,13 Nov
"""


def test_work_is_read_in_the_words_of_the_bench(yard):
    status, told = yard(FROM_PAPER)
    assert status == 0, told
    new = [one for one in yard.work("k10") if one["at"] == "2026-11-13T15:00:00Z"]
    assert {one["act"] for one in new} == {"fuel-run-through", "antifreeze-poured"}
    pour = next(one for one in new if one["act"] == "antifreeze-poured")
    assert (pour["product"]["liquid"], pour["evidence"]["scale"]) == ("propylene", "propylene")
    stood = next(one for one in yard.work("k6") if one["at"] == "2026-11-13T15:00:00Z")
    assert (stood["act"], stood["posture"]) == ("stood", "upright")


def test_a_name_that_two_craft_have_is_asked_for_by_id(yard, tmp_path):
    twin = (tmp_path / "twin.csv").write_text
    twin("id,name,profile,arrived,place\nk90,Teal,outboard,2026-10-20,lee-rack\n")
    config = str(tmp_path / "yard.toml")
    assert laidup("import", "craft", str(tmp_path / "twin.csv"), "--config", config) == 0
    row = "13 Nov 2026 10:00,Ines,drained,hoses,,,,,,,,,yes\n"
    status, told = yard(f"{HEADING}\nTeal,{row}")
    assert status == 2
    assert "line 2: craft: 'Teal' may be k1 or k90. Write the id." in told


def test_a_product_for_all_jobs_leaves_work_that_is_taken_over_as_it_was(yard):
    head = 'by = "Ines"\nat = "13 Nov 2026 10:00"\nproduct = "blue"\n'
    same = '[[job]]\ncraft = "k12"\nsame_as = "k10"\n'
    status, told = yard(f"{head}{same}", suffix="toml")
    assert (status, "no work on 'k10' is on record this season" in told) == (2, True)
    assert "Did you mean 'k10'" not in told
    drained = '[[job]]\ncraft = "k10"\nsteps = [{ act = "drained", circuits = "hoses" }]\n'
    status, told = yard(f"{head}{drained}{same}", suffix="toml")
    assert status == 0, told

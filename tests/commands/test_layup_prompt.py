"""The questions of the bench: only what fits act and craft, a way back, nothing lost."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.commands.layup.prompt import ask_for_entry
from monitor.commands.layup.question import Bench, ask_choice
from monitor.craft.admission import faults
from monitor.craft.asking import acts_that_fit
from monitor.craft.layup import Act, Cover, FindingKind, Liquid, Outflow
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.profile import CircuitKind
from tests.craft.scene import EVE, TWO_STROKE, ZONE, twelve
from tests.tried import tried

RECORDS = list(twelve().values())
SHELF = (ShelfProduct(id="rosa", name="Rosa 50", liquid=Liquid.PROPYLENE, strength=0.5, lot="R7"),)
NAMES = {"ines": "Ines Aldaz", "tom": "Tom Varga"}


def bench(*answers: str, craft: str | None = None, spare: bool = False):
    """Type these answers; returns the result, the questions and what else was said."""
    typed = iter(answers)
    questions: list[str] = []
    said: list[str] = []

    def answer(question: str) -> str:
        questions.append(question)
        try:
            return next(typed)
        except StopIteration:
            raise EOFError from None

    def refuse(key, form):
        record = twelve()[key]
        entry = form.to_layup_entry(key, ZONE, record.profile.circuit_ids)
        return faults(entry, record, "bench", "", EVE)

    asked = Bench(
        answer=answer, say=said.append, now=EVE.astimezone(ZONE), names=NAMES, shelf=SHELF
    )
    result = ask_for_entry(RECORDS, craft, asked, refuse)
    assert spare or next(typed, None) is None, "not every answer was asked for"
    return result, questions, said


POUR = (
    *("antifreeze-poured", "Ines", "today 14:30"),
    *("water-box", "pink", "propylene", "50%", "", "P26"),
    *("14floz", "4floz", "yes", "seen", "-5F", "propylene", "today", ""),
)


def test_a_pour_is_asked_for_step_by_step():
    (craft, form), questions, _ = bench("k2", *POUR, "", "", "yes")
    entry = form.to_layup_entry(craft, ZONE)
    assert (craft, entry.act, entry.circuits) == ("k2", Act.ANTIFREEZE_POURED, ("water-box",))
    assert (entry.by, entry.at.isoformat()) == ("ines", "2026-11-14T14:30:00-06:00")
    assert entry.evidence.outflow is Outflow.SEEN
    assert entry.again  # its water box was poured into before, with the like of it
    assert round(entry.evidence.ice_point_c, 1) == -20.6
    for strange in ("the oil", "Battery", "thermostat", "hose", "stand"):
        assert not any(strange in question for question in questions)


def test_a_bad_answer_is_asked_again_with_the_reason():
    bad = list(POUR)
    at = bad.index("50%")
    bad[at:at] = ["120%", "fifty", "80%"]
    (_, form), _, said = bench("k2", *bad, "", "", "yes")
    assert form.product.strength == 0.5
    assert any("outside what a strength can be" in line for line in said)
    assert any("dilute a concentrate first" in line for line in said)


def test_the_right_word_in_place_of_yes_or_no_is_taken():
    slip = ["antifreze-pourd", "antifreeze-poured", *POUR[1:]]
    (_, form), questions, _ = bench("k2", *slip, "", "", "yes")
    assert form.act == "antifreeze-poured"
    assert sum("What was done" in question for question in questions) == 1


def test_a_word_that_many_acts_hold_lists_none_of_them():
    (_, form), _, said = bench("k2", "n", *POUR, "", "", "yes")
    assert form.act == "antifreeze-poured"
    assert any("hold 'n': say more of it" in line for line in said)


def test_the_way_back_asks_the_question_before_again():
    answers = list(POUR)
    at = answers.index("14floz")
    answers[at:at] = ["<", "P27"]
    (_, form), _, _ = bench("k2", *answers, "", "", "yes")
    assert form.product.lot == "P27"


def test_back_at_the_end_changes_the_last_answer():
    (_, form), _, _ = bench("k2", *POUR, "", "a slip", "<", "right", "yes")
    assert form.note == "right"


def test_a_refused_entry_is_asked_only_for_what_was_wrong():
    slip = list(POUR)
    slip[slip.index("14floz")] = "14gal"
    (_, form), questions, said = bench("k2", *slip, "", "", "14floz", "yes")
    assert any("was it fl oz?" in line for line in said)
    assert sum("Which product" in question for question in questions) == 1
    assert round(form.quantity, 2) == 0.41


def test_of_a_product_of_the_shelf_nothing_more_is_asked():
    poured = (
        "antifreeze-poured",
        "Ines",
        "",
        "hoses",
        "1",
        "1L",
        "",
        "not looked",
        "",
        "",
        "",
        "yes",
    )
    (_, form), questions, said = bench("k2", *poured)
    assert (form.product.name, form.product.strength, form.product.lot) == ("Rosa 50", 0.5, "R7")
    assert any("Rosa 50, 50 % propylene, lot R7" in line for line in said)
    assert not any("Lot number" in question or "Made of" in question for question in questions)


def test_another_product_than_that_of_the_shelf_is_asked_for_its_strength():
    poured = ("antifreeze-poured", "Ines", "", "hoses", "1", "<", "blue", "propylene", "60%", "")
    rest = ("", "1L", "", "not looked", "", "", "", "yes")
    (_, form), _, _ = bench("k2", *poured, *rest)
    assert (form.product.name, form.product.strength, form.product.lot) == ("blue", 0.6, None)


def test_nothing_came_out_leaves_the_reading_unasked():
    none = [*POUR[: POUR.index("seen")], "none", "", "", "", "yes"]
    (_, form), questions, _ = bench("k2", *none)
    assert form.ice_point is None
    assert not any("Refractometer" in question for question in questions)


def test_an_ethanol_blend_is_asked_for_no_reading():
    blend = ("antifreeze-poured", "Ines", "", "hoses", "blend", "ethanol", "-50F", "", "1L", "",
             "seen", "", "", "", "yes")  # fmt: skip
    (_, form), questions, _ = bench("k2", *blend)
    assert form.product.liquid == "ethanol"
    assert not any(
        "Refractometer" in question or "Glycol in it" in question for question in questions
    )


def test_misspelt_names_and_acts_are_met_half_way():
    answers = ("pluver", "y", "shrinkwraped", "y", "Tom", "", "shrink", "", "", "yes")
    (craft, form), questions, _ = bench(*answers)
    assert (craft, form.act, form.cover) == ("k2", Act.COVER_FITTED, Cover.SHRINK_WRAP)
    assert any("Did you mean cover fitted?" in question for question in questions)


def test_an_act_of_two_meanings_is_asked_for():
    answers = ("fogged", "fogged-plug-holes", "Tom", "", "", "", "", "yes")
    (_, form), _, said = bench(*answers, craft="k2")
    assert form.act is Act.FOGGED_PLUG_HOLES
    [told] = [line for line in said if line.startswith("  Which:")]
    names = [str(row.act) for row in acts_that_fit(twelve()["k2"].profile)]
    place = names.index("fogged-running") + 1
    assert told == (
        f"  Which: {place}: fogged, the engine running; {place + 1}: fogged through the plug holes?"
    )


def test_acts_are_shown_by_work_and_taken_by_number():
    rows = acts_that_fit(twelve()["k2"].profile)
    number = next(n for n, row in enumerate(rows, start=1) if row.act is Act.BILGE_DRIED)
    (_, form), _, said = bench(str(number), "Tom", "", "", "", "yes", craft="k2")
    assert form.act is Act.BILGE_DRIED
    heads = [said.index(one) for one in ("Water out", "Antifreeze in", "Battery")]
    assert heads == sorted(heads)


def test_only_circuits_that_the_act_can_prove_are_offered():
    (_, form), _, said = bench("drained", "Tom", "", "all", "y", "", "", "", "yes", craft="k2")
    assert "water-box" not in form.circuits  # no drain empties it
    assert not any("pump-housing" in line for line in said)


def test_a_thermostat_engine_is_asked_whether_it_was_hot():
    run = ("antifreeze-run-through", "Tom", "", "all", "pink", "", "", "", "20L", "", "full colour",
           "", "yes", "water first", "", "", "", "yes")  # fmt: skip
    (_, form), questions, _ = bench(*run, craft="k8")
    assert form.engine_hot is True
    assert sum("thermostat" in question for question in questions) == 1


def test_a_finding_gets_an_id_of_its_own():
    seen = (
        "inspected",
        "Tom",
        "",
        "gearcase",
        "milky",
        "",
        "",
        "seal weeps",
        "gearcase",
        "leak",
        "",
        "yes",
    )
    (_, form), _, _ = bench(*seen, craft="k6")
    [finding] = form.findings
    assert (finding.id, finding.part, finding.words) == ("k6-gearcase", "gearcase", "seal weeps")
    assert finding.kind is FindingKind.LEAK


def test_a_finding_that_is_open_can_be_settled():
    mended = ("repaired", "Tom", "", "", "", "k7-seal", "", "yes")
    (_, form), questions, _ = bench(*mended, craft="k7")
    assert form.settles == ("k7-seal",)
    assert any("Which finding does it settle" in question for question in questions)


def test_somebody_unknown_is_refused_with_the_line_that_adds_a_helper():
    (_, form), _, said = bench("bilge-dried", "Vera", "Tom", "", "", "", "yes", craft="k2")
    assert form.by == "tom"
    assert any("one line under [helpers]" in line for line in said)


def test_q_and_no_leave_without_an_entry():
    assert bench("q")[0] is None
    assert bench("k2", "drained", "q")[0] is None
    assert bench("k2", *POUR, "", "", "no")[0] is None


@settings(max_examples=tried(30), deadline=None)
@given(
    st.lists(st.sampled_from(["", "<", "1", "2", "yes", "no", "all", "drained", "Tom", "x", "50%"]))
)
def test_no_answers_break_the_questions(answers):
    result, _, _ = bench("k8", *answers, spare=True)
    assert result is None or result[0] == "k8"


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.craft.id)
def test_every_act_of_every_craft_can_be_entered_with_its_needs_alone(record):
    for row in acts_that_fit(record.profile):
        lines: list[str] = []

        def answer(question: str, act=row.act, lines=lines) -> str:
            lines.append(question)
            replies = {
                **{"What was done": str(act), "Who did": "Tom", "Which circuits": "1"},
                **{"How does it stand": "upright", "On the hose": "", "On the": "yes"},
            }
            return next(
                (reply for words, reply in replies.items() if question.startswith(words)),
                "yes" if question.startswith("Write it") else "",
            )

        asked = Bench(answer=answer, say=lines.append, now=EVE, names=NAMES)
        result = ask_for_entry(RECORDS, record.craft.id, asked, lambda *_: [])
        assert result is not None
        assert result[1].act is row.act


@pytest.mark.parametrize("answer", ["", "no", "perhaps"])
def test_nothing_but_leaving_throws_away_what_was_entered(answer):
    result, _, said = bench("k2", *POUR, "", "", answer, "yes")
    assert result is not None
    assert answer == "perhaps" or any(
        "Not written yet" in line or "Yes or no" in line for line in said
    )


def test_leaving_at_the_end_writes_nothing():
    result, _, _ = bench("k2", *POUR, "", "", "", "q")
    assert result is None


@pytest.mark.parametrize(
    ("typed", "circuits"),
    [
        (["water-bx", "yes"], ("water-box",)),
        (["exhaust water box"], ("water-box",)),
        (["water box, hoses"], ("water-box", "hoses")),
        (["wter-box", "no", "water-box"], ("water-box",)),
        (["4 3"], ("hoses", "water-box")),
        (["boiler", "hos"], ("hoses",)),
        (["watre box, hoses", "yes"], ("water-box", "hoses")),
        (["hoses water-box"], ("hoses", "water-box")),
    ],
)
def test_misspelt_circuits_are_met_half_way(typed, circuits):
    answers = list(POUR)
    at = answers.index("water-box")
    answers[at : at + 1] = typed
    (_, form), _, _ = bench("k2", *answers, "", "", "yes", spare=True)
    assert form.circuits == circuits


@pytest.mark.parametrize(("answer", "circuits"), [("yes", ("pump-housing",)), ("no", None)])
def test_oil_is_of_the_housing_only_where_somebody_says_so(answer, circuits):
    done = ("oil-changed", "Tom", "", "", answer, "clear", "", "", "", "yes")
    (_, form), questions, _ = bench(*done, craft="k2")
    asked = [one for one in questions if "On the jet-pump bearing housing?" in one]
    assert len(asked) == 2  # Enter alone assumes nothing
    assert "the engine's oil" in asked[0]
    assert form.circuits == circuits


@pytest.mark.parametrize(
    ("act", "typed", "circuits"),
    [
        ("run-on-water", "starboard", TWO_STROKE),
        ("fogged-plug-holes", "port", TWO_STROKE),
        ("fuel-drained", "port", TWO_STROKE),
        ("antifreeze-run-through", "port", TWO_STROKE),
        ("run-on-water", "", None),
    ],
)
def test_of_two_engines_one_is_named_by_its_side(act, typed, circuits):
    result, _, said = bench(act, "Tom", "", typed, *[""] * 20, craft="k5", spare=True)
    assert result is None  # nobody said that it is to be written
    told = next(line for line in said if line.startswith(act))
    named = [f"{typed}-{name}" for name in circuits or ()]
    assert all(name in told for name in named)
    assert ("circuits: " in told) is bool(named)


def test_what_was_flushed_may_be_a_tap():
    taps = next(one.craft.id for one in RECORDS if one.profile.id == "cuddy")
    result, _, said = bench("flushed", "Tom", "", "all", *[""] * 20, craft=taps, spare=True)
    assert result is None
    profile = twelve()[taps].profile
    named = next(line for line in said if line.startswith("flushed"))
    assert all(
        one.circuit.id in named for one in profile.circuits if one.kind is CircuitKind.PLUMBING
    )


@pytest.mark.parametrize(
    ("said_as", "column", "value"),
    [("gear lube", "circuits", ("gearcase",)), ("tilted", "posture", "tilted")],
)
def test_what_the_name_of_an_act_tells_already_is_not_asked_again(said_as, column, value):
    rest = ("clear", "") if said_as == "gear lube" else ("powerhead", "")
    (_, form), questions, _ = bench(said_as, "Tom", "", *rest, "", "", "yes", craft="k6")
    assert getattr(form, column) == value
    assert not any(one.startswith(("On the gearcase", "How does it stand")) for one in questions)


def test_a_coolant_is_not_asked_whether_it_was_seen_dry():
    _, questions, _ = bench("inspected", "Tom", "", "coolant", *[""] * 9, craft="k3", spare=True)
    assert any("Refractometer" in one for one in questions)
    assert not any("seen dry" in one for one in questions)


def test_how_it_stands_is_asked_until_it_is_told_and_not_twice():
    (_, form), questions, _ = bench(
        *("stood upright", "Tom", "", "powerhead", "yes", "", "", "yes"), craft="k6"
    )
    assert (form.posture, form.dry) == ("upright", True)
    assert not any("How does it stand" in one for one in questions)
    (_, form), questions, _ = bench(
        *("stood", "Tom", "", "", "", "tilted", "", "", "yes"), craft="k6"
    )
    assert form.posture == "tilted"
    assert sum("How does it stand" in one for one in questions) == 2
    (_, form), _, _ = bench(
        *("stood upright", "<", "Tom"), *("bilge-dried", "Tom", "", "", "", "yes"), craft="k6",
        spare=True,
    )  # fmt: skip
    assert form.posture is None


def test_a_misspelt_name_that_two_craft_have_is_no_guess():
    typed = iter(["teel", "k9"])
    said: list[str] = []
    asked = Bench(answer=lambda _: next(typed), say=said.append, now=EVE, names=NAMES)
    also = [("teal", "k1"), ("teal", "k9")]
    assert ask_choice("Which?", ("k1", "k9"), asked, needed=True, also=also) == "k9"
    assert said == ["  Which: k1; k9?"]


@pytest.mark.parametrize(("liquid", "warned"), [("ethylene", True), ("propylene", False)])
def test_ethylene_for_the_taps_is_warned_of_before_it_is_written(liquid, warned):
    pumped = ("antifreeze-run-through", "Ines", "", "taps", "jug", liquid, "50%", "", "")
    rest = ("1 gallon", "", "seen", "-20 °F", liquid, "", "", "", "", "yes")
    (craft, form), _, said = bench("k11", *pumped, *rest, spare=True)
    assert (craft, form.product.liquid) == ("k11", liquid)
    assert any("is poison" in line for line in said) is warned


def test_hyphens_and_spaces_are_one_and_a_list_is_not_read_out_as_ids():
    answers = ("gone fishing", "?", "fogged plug holes", "Tom", "", "", "", "", "yes")
    (_, form), questions, said = bench(*answers, craft="k2")
    assert form.act is Act.FOGGED_PLUG_HOLES
    assert not any("Did you mean" in question for question in questions)
    assert not any("battery-equalised" in line for line in said)
    assert sum(line.startswith("Fuel") for line in said) == 2  # at first, and as asked for


def test_whoever_typed_a_time_that_cannot_be_read_did_not_mean_now():
    answers = ("fogged-plug-holes", "Tom", "11/10", "", "14 Nov 9:00", "", "", "", "yes")
    (_, form), questions, said = bench(*answers, craft="k2")
    assert form.at.hour == 9
    assert "  This one is needed." in said
    assert [one for one in questions if one.startswith("When?")][1:] == ["When? ", "When? "]


def test_a_colour_that_may_be_thin_is_asked_for_again():
    pink = [*POUR[: POUR.index("seen")], "pink", "came out", *POUR[POUR.index("seen") + 1 :]]
    (_, form), _, said = bench("k2", *pink, "", "", "yes")
    assert form.outflow == "seen"
    assert any("full colour is as strong as in the jug" in line for line in said)


def test_oil_of_a_gearcase_is_not_taken_for_the_engine_s_own():
    answers = ("gear oil changed", "oil changed", "Tom", "", "milky", "", "", "", "", "yes")
    (_, form), _, said = bench(*answers, craft="k9")
    assert any("has no gearcase on file" in line for line in said)
    assert form.circuits is None

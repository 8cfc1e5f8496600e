"""The questions of the bench: only those the act calls for, asked again until they are answered."""

from monitor.commands.layup_prompt import ask
from monitor.craft.layup import Act, Cover, Outflow
from tests.craft.scene import twelve, yard

RECORDS = list(twelve().values())


def bench(*answers: str, craft: str | None = None):
    """Type these answers; returns the result, the questions and what else was said."""
    typed = iter(answers)
    questions: list[str] = []
    said: list[str] = []

    def answer(question: str) -> str:
        questions.append(question)
        return next(typed)

    result = ask(RECORDS, craft, yard(), answer, said.append)
    assert next(typed, None) is None, "not every answer was asked for"
    return result, questions, said


POUR = (
    "Ines Aldaz",
    "2026-11-14 17:00",
    "antifreeze-poured",
    "3",
    "pink",
    "propylene",
    "50%",
    "",
    "P26",
    "14floz",
    "4floz",
    "seen",
    "-5F",
    "propylene",
    "2026-11-14",
)


def test_a_pour_is_asked_for_step_by_step():
    (craft, form), questions, _ = bench("k2", *POUR, "", "", "yes")
    entry = form.entry(craft, yard().zone)
    assert (craft, entry.act, entry.circuits) == ("k2", Act.ANTIFREEZE_POURED, ("water-box",))
    assert entry.evidence.outflow is Outflow.SEEN
    assert round(entry.evidence.ice_point_c, 1) == -20.6
    assert not any("the oil" in question or "Battery" in question for question in questions)


def test_a_bad_answer_is_asked_again_with_the_reason():
    bad = list(POUR)
    at = bad.index("50%")
    bad[at:at] = ["120%", "fifty"]
    (_, form), _, said = bench("k2", *bad, "", "", "yes")
    assert form.product.strength == 0.5
    assert any("outside what a strength can be" in line for line in said)


def test_an_open_reading_leaves_scale_and_zero_unasked():
    short = [*POUR[:12], ""]
    (_, form), questions, _ = bench("k2", *short, "", "", "yes")
    assert form.ice_point is None
    assert not any("scale" in question for question in questions)


def test_choices_may_be_shortened_and_circuits_numbered_or_all():
    drained = ("Tom Varga", "", "drained", "1, 4", "y", "bow", "", "a note", "yes")
    (_, form), _, _ = bench(*drained, craft="k2")
    assert form.circuits == ("cylinder-passages", "hoses")
    assert (form.dry, str(form.posture), form.note) == (True, "bow up", "a note")


def test_an_unclear_choice_is_asked_again():
    fogged = ("Tom Varga", "", "fogged", "fogged-plug-holes", "", "oil", "", "", "", "yes")
    (_, form), _, said = bench(*fogged, craft="k2")
    assert form.act is Act.FOGGED_PLUG_HOLES
    assert any("One of:" in line for line in said)


def test_a_craft_is_found_by_name_and_an_act_by_its_number():
    number = str(list(Act).index(Act.COVER_FITTED) + 1)
    answers = ("plover", "Tom Varga", "", number, "", "shrink", "", "", "yes")
    (craft, form), _, said = bench("Kite", *answers)
    assert (craft, form.act, form.cover) == ("k2", Act.COVER_FITTED, Cover.SHRINK_WRAP)
    assert "  No such craft." in said


def test_a_thermostat_engine_is_asked_whether_it_was_hot():
    run = (
        "Tom Varga",
        "",
        "antifreeze-run-through",
        "all",
        "",
        "20L",
        "",
        "full colour",
        "",
        "yes",
        "water first",
        "",
        "",
        "yes",
    )
    (_, form), questions, _ = bench(*run, craft="k8")
    assert form.engine_hot is True
    assert len(form.circuits) == 5
    assert sum("thermostat" in question for question in questions) == 1


def test_a_finding_gets_a_part_and_an_id():
    seen = (
        "Tom Varga",
        "",
        "inspected",
        "2",
        "",
        "",
        "milky",
        "",
        "seal weeps",
        "gearcase",
        "k7-seal-2",
        "",
        "yes",
    )
    (_, form), _, _ = bench(*seen, craft="k7")
    [finding] = form.findings
    assert (finding.id, finding.part, finding.words) == ("k7-seal-2", "gearcase", "seal weeps")


def test_q_and_no_leave_without_an_entry():
    assert bench("q")[0] is None
    assert bench("k2", "Ines Aldaz", "q")[0] is None
    assert bench("k2", *POUR, "", "", "no")[0] is None


def test_antifreeze_into_no_circuit_is_not_taken():
    (_, form), _, said = bench(
        "Ines Aldaz",
        "",
        "antifreeze-poured",
        "",
        "9",
        "5",
        "",
        "1L",
        "",
        "none",
        "",
        "",
        "",
        "yes",
        craft="k2",
    )
    assert form.circuits == ("pump-housing",)
    assert any("name at least one" in line for line in said)

"""Work sheets on paper: the plan's steps in its order, a box for what counts, cautions beside."""

import re
from dataclasses import replace

import pytest

from monitor.craft.craft_stays import stay_at
from monitor.craft.layup import FindingKind, Seen
from monitor.craft.plan.step import Ask
from monitor.phrases.plan import also_words, step_sentence
from monitor.phrases.work_sheet import sheet_words
from monitor.sheets.paper import Paper
from monitor.sheets.typeface import load_typeface
from monitor.sheets.work_sheet import WorkSheet
from monitor.sheets.work_sheet_pages import write_work_sheets
from monitor.wording import Units, Wording
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_NOTES, NOT_LIFE_SAFETY_NOTE
from tests.craft.plan.follow import plan
from tests.craft.scene import EVE, ZONE, library, record, twelve, work, yard
from tests.sheets.paper_reader import codes_of, pages_of, pictures_of, text_of

METRIC = Wording(zone=ZONE, units=Units(), now=EVE)
US = replace(METRIC, units=Units(temperature="F", volume="fl oz"))
CODE = "https://watch.kettlemoss.example/craft/"


def words_of(one, words=METRIC):
    return sheet_words(one, plan(one), stay_at(one.stays, EVE), yard(), EVE, words)


@pytest.fixture
def printed(tmp_path):
    """Prints the work on craft; tells the file and what became of it."""

    def on_paper(*craft, paper=Paper.A4, words=METRIC):
        file = tmp_path / "work.pdf"
        sheets = [(words_of(one, words), f"{CODE}{one.craft.id}") for one in craft]
        return file, write_work_sheets(file, sheets, paper, load_typeface(), "Work", words)

    return on_paper


def plain(text):
    return " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())


def letters(text):
    """Letters and digits alone: lines and columns are read in an order of poppler's own."""
    return re.sub(r"\W", "", text)


@pytest.mark.parametrize("profile", sorted(library()))
def test_every_step_of_every_plan_stands_whole_and_in_order(printed, profile):
    one = record(profile=profile)
    file, printout = printed(one)
    assert printout.shortened == ()
    said = text_of(file, as_drawn=True)  # a step's lines together, its boxes after them
    places = []
    for step in plan(one).steps:
        start = letters(plain(step_sentence(step, one.profile, METRIC)))[1:]
        places.append(letters(said).find(start, places[-1] + 1 if places else 0))
    assert -1 not in places
    assert places == sorted(places)


@pytest.mark.parametrize("profile", sorted(library()))
def test_a_box_stands_where_the_plan_asks_and_nowhere_else(profile):
    one = record(profile=profile)
    for step, shown in zip(plan(one).steps, words_of(one).steps, strict=True):
        assert bool(shown.quantity_unit) is (step.quantity_l is not None)
        assert (shown.reading_unit == "°C") is (Ask.READING in step.asks)
        assert (shown.reading_unit == "V") is (Ask.RESTED_VOLTAGE in step.asks)
        assert ("seen dry" in shown.ticks) is (Ask.DRY in step.asks)
        assert ("engine hot" in shown.ticks) is (Ask.HOT_ENGINE in step.asks)
        assert set(shown.cautions) == {CAUTION_NOTES[Caution(str(one))] for one in step.cautions}
        assert shown.also == also_words(step)


def test_cautions_stand_beside_their_acts_and_whole_at_the_end(printed):
    file, _ = printed(record())
    said = plain(text_of(file))
    run = said.index("Outdoors, run the engine")
    assert "Engines run outdoors only." in said[run : run + 400]
    last = said[said.index("Take care") :]
    assert "Carbon monoxide kills" in last
    assert "Catch antifreeze, label it" in last
    assert NOT_LIFE_SAFETY_NOTE in said


def test_each_craft_has_pages_of_its_own_and_then_what_would_also_do(printed, tmp_path):
    craft = [one for one in twelve().values() if plan(one).steps]
    file, printout = printed(*craft)
    assert pages_of(file) == [pytest.approx((210.0, 297.0), abs=0.1)] * printout.pages
    codes = [codes_of(one) for one in pictures_of(file, tmp_path, 150)]
    first = [code for page in codes for code in page]
    assert first == [f"{CODE}{one.craft.id}" for one in craft]
    assert all(len(page) <= 1 for page in codes)
    assert codes[-1] == []
    assert "probe it dry and leave it so" in plain(text_of(file)).partition("What would also do")[2]


def test_a_yard_of_gallons_reads_gallons(printed):
    file, _ = printed(record(), words=US, paper=Paper.LETTER)
    said = plain(text_of(file))
    assert "fl oz" in said
    assert "°F" in said
    assert "°C" not in said
    assert pages_of(file)[0] == pytest.approx((215.9, 279.4), abs=0.1)


def test_a_finder_s_endless_words_end_in_a_mark_and_fill_no_page(printed):
    found = Seen(id="f1", part="cover", words="torn " * 2000, kind=FindingKind.LEAK)
    one = record(work("inspected", 0, findings=(found,)))
    _, without = printed(record(work("inspected", 0)))
    file, printout = printed(one)
    assert "…" in text_of(file)
    assert printout.pages <= without.pages + 1


def test_a_record_that_cannot_be_read_starts_from_nothing_and_says_so(printed):
    file, _ = printed(replace(record(), unreadable="link 3 was changed"))
    said = plain(text_of(file))
    assert "starts from nothing" in said
    assert "link 3 was changed" in said


@pytest.mark.parametrize("name", ["שלום הים", "水手号", "<b>Gull</b> 🚤", "W" * 80])
def test_a_name_in_any_script_keeps_to_the_page(printed, tmp_path, name):
    file, _ = printed(record(name=name))
    for picture in pictures_of(file, tmp_path, 100):
        edge = 30  # pixels of 100 an inch: 7.6 mm, of 12 that are kept free
        inner = picture.copy()
        inner.paste(255, (edge, edge, picture.width - edge, picture.height - edge))
        assert sum(inner.histogram()[:128]) == 0


@pytest.mark.parametrize("profile", sorted(library()))
@pytest.mark.parametrize("height", [773.0, 724.0])  # of A4 and Letter without edges [pt]
def test_no_row_stands_below_its_page_and_none_is_lost(profile, height):
    said = words_of(record(profile=profile))
    sheet = WorkSheet(words=said, code="k1", width=527.0, height=height, face=load_typeface())
    pages = sheet.lay_out()
    numbers = [row.number for rows in pages for row in rows]
    assert numbers == list(range(1, len(said.steps) + 1))
    assert all(sum(row.height for row in rows) < height for rows in pages)

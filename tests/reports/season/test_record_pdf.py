"""The printed season record: tagged, the JSON inside, the same figures, any name set right."""

import json
import re
import subprocess
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pypdf
import pytest

from monitor.craft.canonical import canonical_bytes
from monitor.craft.layup import Act
from monitor.errors import BadValueError
from monitor.reports.season.figures import NightVerdict
from monitor.reports.season.page_blocks import Part, RecordPages, Told
from monitor.reports.season.record_pages import record_pages
from monitor.reports.season.record_pdf import printable_text, write_record_pdf
from monitor.reports.season.season_json import season_json
from monitor.wording import Units, Wording
from monitor.yard.people import names_by_id
from tests.craft.scene import library, work
from tests.real.need import need
from tests.reports.season import winter
from tests.reports.season.winter import ARRIVED, ZONE, cold_nights, figures_of, put_craft

UNTIL = ARRIVED + timedelta(days=40)
COLD = [date(2026, 11, 14), date(2026, 11, 15)]
LAST_WORDS = "whoever kept one can hold it against this record."


@pytest.fixture
def store(tmp_path):
    made = winter.open_store(tmp_path)
    yield made
    made.close()


def printed(store, units=None, paper="a4", **changes):
    """The pages of the one craft, its JSON, and its words."""
    yard = winter.yard(**changes)
    figures = figures_of(store, now=UNTIL, **changes)
    words = Wording(zone=ZONE, units=units or Units(), people=names_by_id(yard))
    data = canonical_bytes(season_json(figures, yard))
    pages = record_pages(figures, yard, library(), words)
    return pypdf.PdfReader(BytesIO(write_record_pdf(pages, data, paper))), data, figures


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


@pytest.fixture
def winter_of_teal(store):
    at = datetime(2026, 11, 2, 10, tzinfo=ZONE)
    poured = work(Act.ANTIFREEZE_POURED, 0.0, "water-box", at=at, quantity_l=0.3, by="ines")
    better = replace(poured, id="better", quantity_l=0.4, replaces=poured.id)
    put_craft(store, poured, better)
    winter.put_readings(store, ARRIVED, UNTIL, cold_nights(COLD), rh_pct=lambda _: 85.0)
    return store


def test_it_is_a_tagged_pdf_a_3a_with_its_fonts_inside(winter_of_teal):
    pdf, _, _ = printed(winter_of_teal)
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert "/StructTreeRoot" in root
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    said = root["/Metadata"].get_object().get_data().decode()
    assert "<pdfaid:part>3</pdfaid:part>" in said
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in said
    assert "<pdfuaid:part>1</pdfuaid:part>" in said
    assert "/OutputIntents" in root
    assert pdf.metadata.title == "Season record of Teal, 2026/27"
    fonts = [
        font.get_object()
        for page in pdf.pages
        for font in page["/Resources"]["/Font"].get_object().values()
    ]
    assert fonts
    for font in fonts:
        below = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        described = below["/FontDescriptor"].get_object()
        assert {"/FontFile2", "/FontFile3"} & described.keys()


def structure_of(pdf):
    """Each element of the structure tree: its type, and the element itself."""

    def walk(element):
        element = element.get_object()
        if not isinstance(element, pypdf.generic.DictionaryObject):
            return
        if "/S" in element:
            yield str(element["/S"]), element
        below = element.get("/K", [])
        for one in below if isinstance(below, list) else [below]:
            yield from walk(one)

    return list(walk(pdf.trailer["/Root"]["/StructTreeRoot"]))


def test_headings_tables_and_charts_are_tagged_and_each_chart_is_told_in_words(winter_of_teal):
    found = structure_of(printed(winter_of_teal)[0])
    types = [name for name, _ in found]
    assert types.count("/H1") == 1
    assert types.count("/H2") == 10
    assert types.count("/Table") >= 5
    assert types.count("/TH") >= types.count("/Table") * 2
    charts = [element for name, element in found if name == "/Figure"]
    assert len(charts) == 2
    for chart in charts:
        assert len(chart["/Alt"].split()) > 8


def test_the_json_inside_is_the_record_byte_for_byte(winter_of_teal):
    pdf, data, _ = printed(winter_of_teal)
    [(name, [inside])] = pdf.attachments.items()
    assert (name, inside) == ("season-record.json", data)
    [attached] = pdf.trailer["/Root"]["/AF"]
    assert attached.get_object()["/AFRelationship"] == "/Data"
    assert json.loads(inside)["craft"]["name"] == "Teal"


def test_what_is_printed_is_what_the_json_says(winter_of_teal):
    pdf, data, figures = printed(winter_of_teal)
    said, text = json.loads(data), text_of(pdf)
    for night in said["nights"]:
        evening = date.fromisoformat(night["evening"])
        day = f"{evening.day} {evening:%b %Y}"
        assert (f"{day} " in text) or night["verdict"] == "held"
    passed = [one for one in said["nights"] if one["verdict"] == NightVerdict.PASSED]
    assert f"{len(said['nights'])} nights: {len(passed)} colder than it could stand" in text
    [air] = said["air"]
    assert f"{air['low_c']:.1f} °C".replace("-", "−") in text
    assert f"{air['below_0c_h']:.1f} h" in text
    assert "quantity: 0.30 L → 0.40 L" in text
    assert said["record"]["last_hash"][:16] in text
    assert figures.craft.name in text
    assert "guarantee" not in text.lower()


def test_it_is_read_in_the_readers_units_and_on_the_readers_paper(winter_of_teal):
    pdf, _, _ = printed(winter_of_teal, Units(temperature="F", volume="fl oz"), "letter")
    text = text_of(pdf)
    assert "23.0 °F" in text  # -5 °C
    assert "°C" not in text
    assert [round(float(one)) for one in pdf.pages[0].mediabox[2:]] == [612, 792]
    with pytest.raises(BadValueError, match="one of a4, letter"):
        printed(winter_of_teal, paper="a5")


@pytest.mark.parametrize(
    "name",
    ["שיבולת", "السنونو", "<script>alert(1)</script>", "#import \"x\"", "$x^2$", "Zoë & Søn",
     "A" * 300, "\u202eevil\u202c"],
)  # fmt: skip
def test_any_name_is_set_as_the_text_that_it_is(store, name):
    put_craft(store, name=name)
    pdf, data, _ = printed(store)
    assert 3 <= len(pdf.pages) <= 8
    assert json.loads(data)["craft"]["name"] == name
    assert "\u202e" not in text_of(pdf)
    if name.isascii() and len(name) < 80:
        assert name in text_of(pdf)


def test_a_picture_that_no_font_has_is_told_by_its_name_and_another_sign_by_its_code(store):
    # U+1F6A4 is SPEEDBOAT in the Unicode Character Database.
    put_craft(store, name="Ibis 🚤 水")
    text = text_of(printed(store)[0])
    assert "Ibis ‹speedboat› ‹U+6C34›" in text
    assert printable_text("Ibis\ufe0f é ش") == "Ibis é ش"


def test_without_any_reading_it_says_so_and_is_a_whole_record(store):
    put_craft(store)
    pdf, _, _ = printed(store)
    text = text_of(pdf)
    assert "Nobody knows how cold they were" in text
    assert "not read" in text
    assert 3 <= len(pdf.pages) <= 8


@pytest.mark.parametrize("count", range(0, 40, 4))
def test_nobody_signs_a_page_that_says_nothing_of_the_record(store, count):
    """However long a record is, the last words of it stand on the page with the signatures."""
    put_craft(store, *(work(Act.INSPECTED, n / 10.0, at=ARRIVED, by="ines") for n in range(count)))
    pdf, _, _ = printed(store)
    pages = [" ".join(page.extract_text().split()) for page in pdf.pages]
    [signed] = [page for page in pages if "On handing over" in page]
    before, _, after = signed.partition("On handing over")
    assert before.rstrip().endswith(LAST_WORDS)
    assert "Owner, on receiving the craft" in after


def test_a_long_record_keeps_to_eight_pages_and_says_what_it_leaves_out(store):
    entries = [
        work(Act.INSPECTED, n / 10.0, at=ARRIVED, by="ines", note=f"look {n}") for n in range(150)
    ]
    put_craft(store, *entries)
    winter.put_readings(store, ARRIVED, UNTIL, lambda _: -6.0, step=timedelta(hours=1))
    pdf, data, _ = printed(store)
    assert len(pdf.pages) <= 8
    assert "90 more stand in the JSON inside" in text_of(pdf)
    assert len(json.loads(data)["work"]) == 150


def test_a_name_without_a_gap_stays_in_its_column_and_on_its_page(tmp_path):
    """60 of the widest letters; the words beside them must not be written over."""
    name = "W" * 60
    pages = RecordPages(
        title=f"Record of {name}",
        yard=name,
        made=datetime(2026, 12, 1, tzinfo=UTC),
        facts=[("Craft", name)],
        parts=[
            Part(
                title="Craft",
                blocks=[
                    Told(
                        title="t",
                        heads=("a", "b"),
                        rows=[(name, "dry land")],
                        shares=(1, 4),
                    )
                ],
            )
        ],
        signatures=[],
        foot="",
    )
    (tmp_path / "t.pdf").write_bytes(write_record_pdf(pages, b"{}", "a4"))
    boxes = subprocess.run(
        [need("pdftotext", "poppler-utils"), "-bbox", str(tmp_path / "t.pdf"), "-"],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    found = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)".*>(.*)</word>', boxes)
    words = [(float(x), float(y), float(ends), word) for x, y, ends, word in found]
    assert max(ends for _, _, ends, _ in words) <= (210.0 - 20.0) / 25.4 * 72.0 + 0.1  # its margin
    [(beside, row, _, _)] = [one for one in words if one[3] == "dry"]
    in_column = [ends for _, y, ends, word in words if "W" in word and row - 1.0 <= y < row + 40.0]
    assert in_column
    assert max(in_column) <= beside
